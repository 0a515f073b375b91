"""Hourly temperature from lows and highs against hours of open TMY3 files.

Parton & Logan 1981 with the coefficient sets of the TrenchR manual. The root mean squares were
worked out apart from this code for hours in local standard time, each taken at its middle.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from bedlore.weather.diurnal import AIR_150_CM, PartonLogan, daily_low_high, hourly_from_daily
from bedlore.weather.sun import SolarClock, day_length_h, solar_clock
from bedlore.weather.tmy3 import read_tmy3
from tests.weather_files import greensboro_tmy3, sand_point_tmy3

SETS = {"a": AIR_150_CM, "b": PartonLogan(2.0, 2.5, 0.5), "c": PartonLogan(1.5, 4.0, 1.0)}


def rmse_in_standard_time(path, shape: PartonLogan) -> float:
    station = read_tmy3(path)
    hours = np.arange(8760)
    days = np.datetime64("2022-12-31") + np.arange(367)
    clock = SolarClock(days, hours // 24 + 1, hours % 24 + 0.5)
    temp = station.series.temp_c
    low, high = daily_low_high(temp, clock)
    low[[0, -1]], high[[0, -1]] = low[[1, -2]], high[[1, -2]]
    found = hourly_from_daily(low[None], high[None], clock, station.latitude_deg, shape)[0]
    return float(np.sqrt(np.mean((found - temp) ** 2)))


@pytest.mark.parametrize(
    ("path", "name", "expected_k"),
    [
        (greensboro_tmy3(), "a", 1.76),
        (greensboro_tmy3(), "b", 1.79),
        (greensboro_tmy3(), "c", 2.14),
        (sand_point_tmy3(), "a", 1.16),
        (sand_point_tmy3(), "b", 1.14),
        (sand_point_tmy3(), "c", 1.27),
    ],
    ids=lambda value: getattr(value, "stem", str(value)),
)
def test_hourly_error(path, name, expected_k):
    assert rmse_in_standard_time(path, SETS[name]) == pytest.approx(expected_k, abs=0.025)


@pytest.mark.parametrize("latitude", [-89.0, -67.0, 0.0, 67.0, 78.0, 90.0])
def test_polar_day_and_night_stay_within_low_and_high(latitude):
    clock = solar_clock(datetime(2026, 1, 1, tzinfo=UTC), 8760, 15.0)
    low = np.full((1, len(clock.days)), -3.0)
    hourly = hourly_from_daily(low, low + 8.0, clock, latitude)
    assert np.isfinite(hourly).all()
    assert hourly.min() >= -3.0 - 1e-9
    assert hourly.max() <= 5.0 + 1e-9


def test_day_length():
    # FAO-56 example 8: 3 September, 20 degrees south: 11.7 h.
    assert float(day_length_h(-20.0, 245)) == pytest.approx(11.7, abs=0.05)
    assert float(day_length_h(80.0, 171)) == 24.0
    assert float(day_length_h(80.0, 354)) == 0.0
