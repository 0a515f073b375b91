"""Lows and highs the keeper types for the coming days, and what is known today.

``Known`` is what a forecast starts from: the last outdoor reading, typed days, or the hourly
forecast of a weather service. How wrong typed days are grows from day to day (assumed: sd 1.5 K
on the first day, 4 K on the seventh), and is never more than the spread of the climate itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.say import say
from bedlore.units import parse_quantity
from bedlore.weather.series import FloatArray, WeatherSeries

COLDEST_C, HOTTEST_C = -70.0, 60.0  # the records on land are -68 (north) and 57 degC
_FIRST_SD_K, _LATER_SD_K, _LATER_DAY = 1.5, 4.0, 7
_EXAMPLE = say('Write "2026-01-12: -7 degC to 2 degC".')
_LINE = re.compile(r"^\s*(\d{4}-\d{2}-\d{2})\s*[:;, ]\s*(.+?)\s*(?:/|;|,| to )\s*(.+?)\s*$")


@dataclass(frozen=True)
class TypedDay:
    """Low and high [degC] expected for a local date; either may be left out (None)."""

    day: date
    low_c: float | None
    high_c: float | None


@dataclass(frozen=True)
class Reading:
    """An outdoor temperature [degC] at a time (aware); ``error_k`` is its sd [K]."""

    at: datetime
    temp_c: float
    error_k: float = 0.5


@dataclass(frozen=True)
class Known:
    """What the generator is held to: any of a reading, typed days, a service's forecast.

    Where typed days and the forecast meet, the typed day wins: the keeper wrote it on purpose.
    """

    reading: Reading | None = None
    typed: tuple[TypedDay, ...] = ()
    forecast: WeatherSeries | None = None


def typed_error_sd_k(days_ahead: float) -> float:
    """Error sd [K] of a typed low or high ``days_ahead`` days from now (0 = today)."""
    growth = (_LATER_SD_K - _FIRST_SD_K) / (_LATER_DAY - 1)
    return max(_FIRST_SD_K + growth * (days_ahead - 1.0), _FIRST_SD_K)


def forecast_error_sd_k(hours_ahead: FloatArray) -> FloatArray:
    """Error sd [K] of a service's hourly temperature: 0.7 K now, then as typed days; [hours]."""
    days = np.asarray(hours_ahead, dtype=float) / 24.0
    growth = (_LATER_SD_K - _FIRST_SD_K) / (_LATER_DAY - 1)
    early = 0.7 + (_FIRST_SD_K - 0.7) * days
    return np.asarray(np.where(days < 1.0, early, _FIRST_SD_K + growth * (days - 1.0)))


def parse_typed_days(lines: Iterable[str]) -> tuple[TypedDay, ...]:
    """Typed days from lines such as ``2026-01-12: 19 degF to 35 degF``, in order of date.

    ``-`` or ``?`` stands for a value that is not known. Raises :class:`FaultList` naming every
    line that cannot be used.
    """
    days: dict[date, TypedDay] = {}
    faults = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            typed = _parse_line(line)
        except KeeperError as error:
            faults.append(Fault(f"typed day {number}", error.said))
            continue
        if typed.day in days:
            faults.append(Fault(f"typed day {number}", say("{day} is there twice.",
                                                           day=str(typed.day))))
        days[typed.day] = typed
    if faults:
        raise FaultList(faults)
    return tuple(days[day] for day in sorted(days))


def check_typed_days(days: Iterable[TypedDay]) -> None:
    """Raise :class:`FaultList` for lows above highs and temperatures no place on land has."""
    faults = []
    for typed in days:
        path = f"typed day {typed.day}"
        for value in (typed.low_c, typed.high_c):
            if value is not None and not COLDEST_C <= value <= HOTTEST_C:
                sentence = say("{temp_c} degC is no outdoor temperature; is it degF?",
                               temp_c=f"{value:.0f}")  # fmt: skip
                faults.append(Fault(path, sentence))
        if typed.low_c is not None and typed.high_c is not None and typed.low_c > typed.high_c:
            faults.append(Fault(path, say("the low is above the high; swap them.")))
    if faults:
        raise FaultList(faults)


def _parse_line(line: str) -> TypedDay:
    match = _LINE.match(line)
    if match is None:
        raise KeeperError(say("{strip} is not understood.", strip=repr(line.strip()[:40])),
                          fix=_EXAMPLE)  # fmt: skip
    try:
        day = date.fromisoformat(match.group(1))
    except ValueError:
        raise KeeperError(say("{value} is no date.", value=match.group(1)), fix=_EXAMPLE) from None
    low, high = (_parse_temperature(text) for text in match.groups()[1:])
    typed = TypedDay(day, low, high)
    try:
        check_typed_days([typed])
    except FaultList as faulty:
        raise KeeperError(faulty.faults[0].sentence) from None
    return typed


def _parse_temperature(text: str) -> float | None:
    return None if text in ("-", "?") else parse_quantity(text, "temperature")
