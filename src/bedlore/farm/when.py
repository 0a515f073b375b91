"""When something happened, as keepers write it: to the minute, the day, or "evening".

Local times are read with the farm's time zone. When clocks go back, a local time occurs twice:
the first is taken. When they go forward, a local time may not exist: it is moved on by the hour
that was skipped. Both get an error of at least an hour.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from bedlore.errors import KeeperError
from bedlore.say import say

# Middle of the time of day and half its length [h]; assumed.
TIMES_OF_DAY: dict[str, tuple[int, float]] = {
    "morning": (8, 3.0), "midday": (12, 2.0), "noon": (12, 2.0), "afternoon": (15, 3.0),
    "evening": (19, 3.0), "night": (22, 4.0),
}
DAY_ERROR_H = 12.0
CLOCK_CHANGE_ERROR_H = 1.0

_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T\s]+(.*))?", re.DOTALL)
_MONTH = re.compile(r"(\d{4})-(\d{1,2})")
_FIX = say('Write it like "2025-01-11 07:30", "2025-01-11" or "2025-01-11 evening".')


@dataclass(frozen=True)
class When:
    """``at`` (UTC), give or take ``error_h`` [h]; ``remark`` is a sentence, or empty."""

    at: dt.datetime
    error_h: float = 0.0
    remark: str = ""


def comes_twice(moment: dt.datetime, zone: ZoneInfo) -> bool:
    """Whether the local time ``moment`` (naive) comes twice, as the clocks go back."""
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    exists = first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) == moment
    return exists and first.utcoffset() != second.utcoffset()


def parse_when(value: object, zone: ZoneInfo) -> When:
    """The moment ``value`` names.

    Accepts datetimes and dates, ``2025-01-11 07:30`` (local time of ``zone``), the same with an
    offset or ``Z``, ``2025-01-11`` (noon, give or take 12 h), ``2025-01-11 evening`` and
    ``2025-01`` (the middle of the month). Raises :class:`KeeperError` with a sentence.
    """
    try:
        if isinstance(value, dt.datetime):
            return _at_clock(value, zone)
        if isinstance(value, dt.date):
            return _within_day(dt.datetime(value.year, value.month, value.day), 12, DAY_ERROR_H,
                               zone)
        return _parse_text(str(value).strip(), zone)
    except (ValueError, OverflowError):
        raise KeeperError(say("{value} is not a time that exists.",
                              value=repr(str(value)[:40])), fix=_FIX) from None


def _parse_text(text: str, zone: ZoneInfo) -> When:
    month = _MONTH.fullmatch(text)
    if month:
        year, number = int(month.group(1)), int(month.group(2))
        days = calendar.monthrange(year, number)[1]
        middle = dt.datetime(year, number, 1) + dt.timedelta(days=days / 2)
        return _within_day(middle, 0, days * 12.0, zone)
    parts = _DAY.fullmatch(text)
    if parts is None:
        raise KeeperError(say("{text} is not understood as a time.", text=repr(text[:40])),
                          fix=_FIX)  # fmt: skip
    day = dt.datetime(int(parts.group(1)), int(parts.group(2)), int(parts.group(3)))
    rest = (parts.group(4) or "").strip()
    if not rest:
        return _within_day(day, 12, DAY_ERROR_H, zone)
    if rest.lower() in TIMES_OF_DAY:
        hour, error_h = TIMES_OF_DAY[rest.lower()]
        return _within_day(day, hour, error_h, zone)
    clock = re.sub(r"\s+(?=[+-Zz])", "", rest).replace("z", "Z")
    clock = re.sub(r"^(\d):", r"0\1:", clock)
    return _at_clock(dt.datetime.fromisoformat(f"{day:%Y-%m-%d}T{clock}".replace(",", ".")), zone)


def _within_day(day: dt.datetime, hour: int, error_h: float, zone: ZoneInfo) -> When:
    local = (day + dt.timedelta(hours=hour)).replace(tzinfo=zone)
    return When(local.astimezone(dt.UTC), error_h)


def _at_clock(moment: dt.datetime, zone: ZoneInfo) -> When:
    if moment.tzinfo is not None:
        return When(moment.astimezone(dt.UTC))
    first = moment.replace(tzinfo=zone, fold=0)
    second = moment.replace(tzinfo=zone, fold=1)
    at = first.astimezone(dt.UTC)
    if first.utcoffset() == second.utcoffset():
        return When(at)
    shown = f"{moment:%Y-%m-%d %H:%M}"
    if comes_twice(moment, zone):
        remark = (say("{shown} occurred twice, as the clocks went back. The first was taken;"
                      " write {isoformat} if it was the second.", shown=shown,
                      isoformat=second.isoformat(timespec="minutes")))
    else:
        moved = at.astimezone(zone)
        remark = (say("{shown} did not exist, as the clocks went forward. It was taken as"
                      " {moved}.", shown=shown, moved=f"{moved:%H:%M}"))
    return When(at, CLOCK_CHANGE_ERROR_H, remark)
