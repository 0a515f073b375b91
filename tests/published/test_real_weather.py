"""Recorded weather drives a fed bed: bounds on every cell, and an audit of the whole run.

Greensboro, North Carolina: TMY3 (Wilcox & Marion 2008, NREL/TP-581-43156), file shipped with
pvlib. Seattle 2012-2015: daily table shipped with vega_datasets. The whole spans run in
tests/prove/test_real_weather_whole.py.
"""

from __future__ import annotations

import pytest

from bedlore.weather.read import read_weather
from tests.property.real_weather import drive
from tests.weather_files import SEATTLE, greensboro_tmy3, seattle_daily


@pytest.mark.parametrize("which", ["greensboro", "seattle"])
def test_ten_weeks_of_real_weather(which: str) -> None:
    path = greensboro_tmy3() if which == "greensboro" else seattle_daily()
    weather = read_weather(path, SEATTLE, "degC")
    weather = weather.slice(weather.start, weather.hours()[24 * 70])
    run = drive(weather)
    assert run.within_bounds(), run
    assert max(run.imbalance.values()) < 1e-9, run.imbalance
    assert run.warmest_cell_c > run.coldest_cell_c + 5.0
