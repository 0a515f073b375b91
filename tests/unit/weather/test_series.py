from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from bedlore.errors import KeeperError
from bedlore.weather.series import WeatherSeries, whole_utc_hour

START = datetime(2026, 1, 10, 6, tzinfo=UTC)


def series(hours: int, start: datetime = START, temp_c: float = 1.0) -> WeatherSeries:
    ones = np.ones(hours)
    return WeatherSeries(start, temp_c * ones + np.arange(hours), 0.5 * ones, ones, ones, "made up")


def test_hours_and_end():
    made = series(3)
    assert len(made) == 3
    assert made.hours() == [START, START + timedelta(hours=1), START + timedelta(hours=2)]
    assert made.end == START + timedelta(hours=3)


def test_slice_is_cut_to_what_there_is():
    made = series(10).slice(START + timedelta(hours=2), START + timedelta(days=9))
    assert made.start == START + timedelta(hours=2)
    assert made.temp_c.tolist() == list(np.arange(3.0, 11.0))
    assert len(series(10).slice(START - timedelta(days=2), START - timedelta(days=1))) == 0


def test_other_time_zones_become_utc():
    zone = timezone(timedelta(hours=5))
    assert series(1, datetime(2026, 1, 10, 11, tzinfo=zone)).start == START
    assert whole_utc_hour(datetime(2026, 1, 10, 11, 59, tzinfo=zone)) == START


@pytest.mark.parametrize(
    "start", [datetime(2026, 1, 1), datetime(2026, 1, 1, 0, 30, tzinfo=UTC)]
)
def test_naive_and_broken_hours_are_refused(start):
    with pytest.raises(ValueError, match=r"time zone|whole hour"):
        series(2, start)


def test_holes_and_uneven_columns_are_refused():
    ones = np.ones(3)
    with pytest.raises(ValueError, match="not finite"):
        WeatherSeries(START, np.array([1, np.nan, 2]), ones, ones, ones, "x")
    with pytest.raises(ValueError, match="shape"):
        WeatherSeries(START, ones, np.ones(2), ones, ones, "x")


def test_later_weather_wins_and_gaps_are_refused():
    joined = series(5).then(series(4, START + timedelta(hours=3), temp_c=100.0))
    assert joined.temp_c.tolist() == [1, 2, 3, 100, 101, 102, 103]
    with pytest.raises(KeeperError, match="2 hours are missing"):
        series(5).then(series(4, START + timedelta(hours=7)))


def test_ensemble_after_a_shared_past():
    future = series(4, START + timedelta(hours=3), temp_c=50.0).as_ensemble(2)
    whole = future.after(series(5))
    assert whole.start == START
    assert whole.temp_c.tolist() == [[1, 2, 3, 50, 51, 52, 53]] * 2
    assert whole.member(1).temp_c.tolist() == whole.temp_c[1].tolist()
    assert whole.slice(START + timedelta(hours=3), whole.end).temp_c.shape == (2, 4)
    with pytest.raises(KeeperError, match="does not reach"):
        future.after(series(2))
