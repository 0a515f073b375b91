"""Times as keepers write them; daylight-saving rules of the IANA tz database."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from bedlore.errors import KeeperError
from bedlore.farm.when import parse_when

ZURICH = ZoneInfo("Europe/Zurich")


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "at", "error_h"),
    [
        ("2025-01-11 07:30", utc(2025, 1, 11, 6, 30), 0),
        ("2025-07-11T07:30", utc(2025, 7, 11, 5, 30), 0),
        ("2025-01-11 7:30", utc(2025, 1, 11, 6, 30), 0),
        ("2025-01-11T07:30:15Z", utc(2025, 1, 11, 7, 30, 15), 0),
        ("2025-01-11 07:30 +02:00", utc(2025, 1, 11, 5, 30), 0),
        ("2025-01-11", utc(2025, 1, 11, 11), 12),
        ("2025-1-11 evening", utc(2025, 1, 11, 18), 3),
        ("2025-01", utc(2025, 1, 16, 11), 15.5 * 24),
    ],
)
def test_understood(text: str, at: dt.datetime, error_h: float) -> None:
    when = parse_when(text, ZURICH)
    assert (when.at, when.error_h, when.remark) == (at, error_h, "")


def test_an_hour_that_occurs_twice_is_taken_as_the_first() -> None:
    when = parse_when("2025-10-26 02:30", ZURICH)  # clocks go back at 03:00 summer time
    assert when.at == utc(2025, 10, 26, 0, 30)
    assert when.error_h == 1.0
    assert "2025-10-26T02:30+01:00" in when.remark
    second = parse_when("2025-10-26T02:30+01:00", ZURICH)
    assert second.at == utc(2025, 10, 26, 1, 30)
    assert second.remark == ""


def test_an_hour_that_does_not_exist_is_moved_on() -> None:
    when = parse_when("2025-03-30 02:30", ZURICH)  # clocks go forward at 02:00
    assert when.at == utc(2025, 3, 30, 1, 30)
    assert "03:30" in when.remark
    assert when.error_h == 1.0


def test_dates_and_datetimes_too() -> None:
    assert parse_when(dt.date(2025, 1, 11), ZURICH).error_h == 12
    assert parse_when(dt.datetime(2025, 1, 11, 7, 30), ZURICH).at == utc(2025, 1, 11, 6, 30)


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "11.1.2025", "1/11/2025", "2025-13-01", "2025-02-30", "2025-01-11 25:00",
     "9999-12-31 23:00-12:00", "2025-01-11 07:3O", "0000-01-01", "2025-01-11 07:30+99:00"],
)
def test_what_is_no_time_is_said(text: str) -> None:
    with pytest.raises(KeeperError):
        parse_when(text, ZURICH)
