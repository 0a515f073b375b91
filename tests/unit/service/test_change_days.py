"""Days of 23 and 25 hours: none is left out and none is told twice.

Clock changes by the tz database (Python's zoneinfo): Europe/Vienna 2026-03-29 01:00 UTC and
2026-10-25 01:00 UTC; America/New_York 2026-03-08 07:00 UTC and 2026-11-01 06:00 UTC.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from bedlore.farm.when import comes_twice, parse_when
from bedlore.service.phrases import clock_words, days_of, moment_words

CHANGES = [
    ("Europe/Vienna", dt.date(2026, 3, 29), 23), ("Europe/Vienna", dt.date(2026, 10, 25), 25),
    ("America/New_York", dt.date(2026, 3, 8), 23), ("America/New_York", dt.date(2026, 11, 1), 25),
]  # fmt: skip


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_the_day_is_as_long_as_it_is(zone: str, day: dt.date, hours: int) -> None:
    def midnight(date: dt.date) -> dt.datetime:
        return dt.datetime.combine(date, dt.time(), ZoneInfo(zone)).astimezone(dt.UTC)

    length = midnight(day + dt.timedelta(days=1)) - midnight(day)
    assert length == dt.timedelta(hours=hours)


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
@pytest.mark.parametrize("hour", range(24))
def test_each_day_of_a_fortnight_is_told_once(
    zone: str, day: dt.date, hours: int, hour: int
) -> None:
    before = day - dt.timedelta(days=2)
    now = dt.datetime.combine(before, dt.time(hour), ZoneInfo(zone)).astimezone(dt.UTC)
    ends = [(now + dt.timedelta(days=k + 1)).isoformat() for k in range(14)]
    assert days_of(ends, zone) == [before + dt.timedelta(days=k + 1) for k in range(14)]


def test_steps_of_some_hours_go_by_the_clock() -> None:
    start = dt.datetime(2026, 10, 24, 18, tzinfo=dt.UTC)  # 20:00 in Vienna
    ends = [(start + dt.timedelta(hours=3 * k)).isoformat() for k in (1, 2, 3)]
    assert [day.day for day in days_of(ends, "Europe/Vienna")] == [24, 25, 25]


@pytest.mark.parametrize(
    ("zone", "twice", "first_utc"),
    [("Europe/Vienna", "2026-10-25 02:30", dt.datetime(2026, 10, 25, 0, 30, tzinfo=dt.UTC)),
     ("America/New_York", "2026-11-01 01:30", dt.datetime(2026, 11, 1, 5, 30, tzinfo=dt.UTC))],
)  # fmt: skip
def test_the_hour_that_comes_twice(zone: str, twice: str, first_utc: dt.datetime) -> None:
    clock = ZoneInfo(zone)
    assert comes_twice(dt.datetime.fromisoformat(twice), clock)
    assert parse_when(twice, clock).at == first_utc
    second = first_utc + dt.timedelta(hours=1)
    shown = [clock_words(at.astimezone(clock)) for at in (first_utc, second)]
    time = twice[-5:]
    assert shown == [f"{time} before the clocks went back", f"{time} after the clocks went back"]
    # What is shown with its offset is read back as the same moment.
    assert parse_when(second.astimezone(clock).isoformat(), clock).at == second


@pytest.mark.parametrize(
    ("zone", "skipped", "taken_utc"),
    [("Europe/Vienna", "2026-03-29 02:30", dt.datetime(2026, 3, 29, 1, 30, tzinfo=dt.UTC)),
     ("America/New_York", "2026-03-08 02:30", dt.datetime(2026, 3, 8, 7, 30, tzinfo=dt.UTC))],
)  # fmt: skip
def test_the_hour_that_does_not_come(zone: str, skipped: str, taken_utc: dt.datetime) -> None:
    clock = ZoneInfo(zone)
    assert not comes_twice(dt.datetime.fromisoformat(skipped), clock)
    when = parse_when(skipped, clock)
    assert when.at == taken_utc
    assert "03:30" in when.remark


def test_other_hours_are_plain() -> None:
    noon = dt.datetime(2026, 10, 25, 12, tzinfo=ZoneInfo("Europe/Vienna"))
    assert clock_words(noon) == "12:00"
    assert moment_words(noon) == "Sunday 25 October 2026, 12:00"
