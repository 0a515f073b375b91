"""A year of Greensboro and four of Seattle drive a bed; figures filed in benchmarks/results.md."""

from __future__ import annotations

import pytest

from bedlore.weather.read import read_weather
from benchmarks.filing import file_section, table
from tests.property.real_weather import drive
from tests.weather_files import SEATTLE, greensboro_tmy3, seattle_daily


@pytest.mark.parametrize("which", ["Greensboro TMY3", "Seattle 2012-2015"])
def test_the_whole_span(which: str) -> None:
    path = greensboro_tmy3() if which.startswith("Greensboro") else seattle_daily()
    weather = read_weather(path, SEATTLE, "degC")
    run = drive(weather, members=4)
    assert run.within_bounds(), run
    worst = max(run.imbalance.values())
    assert worst < 1e-9, run.imbalance
    rows = [
        ("hours", len(weather)),
        ("coldest and hottest air [degC]", f"{run.coldest_air_c:.1f}, {run.warmest_air_c:.1f}"),
        ("coldest and warmest cell [degC]", f"{run.coldest_cell_c:.1f}, {run.warmest_cell_c:.1f}"),
        ("largest relative imbalance", f"{worst:.1e}"),
        ("worms at the end [kg]", f"{run.worms_kg:.2f}"),
    ]
    file_section(f"Real weather: {which}", table(("figure", "value"), rows))
