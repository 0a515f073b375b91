"""Columns of a weather table: what each header means, in which unit, as SI numbers."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.say import say, say_many
from bedlore.units import fahrenheit_to_celsius
from bedlore.weather.files import read_lines, read_rows
from bedlore.weather.series import FloatArray

TemperatureUnit = Literal["degC", "degF"]
COLDEST_C, HOTTEST_C = -90.0, 60.0
_MOST_FAULTS = 20
_FIRST_YEAR, _LAST_YEAR = 1850, 2150

_WORDS = {
    "time": {"time", "datetime", "timestamp", "date time", "time hour", "date", "day", "when",
             "utc", "time utc", "datetime utc", "time local"},
    "temp_c": {"temp", "temperature", "air temp", "temp air", "air temperature", "dry bulb",
               "outdoor", "outdoor temp", "t"},
    "low_c": {"low", "min", "tmin", "minimum", "temp min", "min temp", "temp low", "low temp",
              "daily low"},
    "high_c": {"high", "max", "tmax", "maximum", "temp max", "max temp", "temp high",
               "high temp", "daily high"},
    "dew_c": {"dew", "dew point", "dewpoint", "temp dew", "dewp"},
    "rh_frac": {"rh", "humidity", "humid", "relative humidity", "rel humidity"},
    "wind_m_s": {"wind", "wind speed", "windspeed", "wspd"},
    "ghi_w_m2": {"ghi", "solar", "sun", "global radiation", "radiation"},
}
_TEMPERATURES = {"temp_c", "low_c", "high_c", "dew_c"}
_CELSIUS = {"c", "degc", "°c", "celsius", "deg c"}
_FAHRENHEIT = {"f", "degf", "°f", "fahrenheit", "deg f"}
_WIND_TO_M_S = {"m s": 1.0, "ms": 1.0, "km h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6,
                "mph": 0.44704, "kn": 1852 / 3600, "knots": 1852 / 3600}
_SHARES = {"frac": 1.0, "fraction": 1.0, "pct": 0.01, "percent": 0.01, "%": 0.01}
_UNITS = _CELSIUS | _FAHRENHEIT | set(_WIND_TO_M_S) | set(_SHARES) | {"w m2", "wm2"}
_MISSING = {"", "na", "nan", "null", "none", "-", "--", "m", "-9999", "-9999.0", "-99.9"}


@dataclass(frozen=True)
class Table:
    """A read table: ``times`` (naive is local clock time) and columns [rows], NaN = missing.

    ``daily`` tells that the times are dates alone.
    """

    times: list[datetime]
    daily: bool
    notes: tuple[str, ...]
    temp_c: FloatArray | None = None
    low_c: FloatArray | None = None
    high_c: FloatArray | None = None
    dew_c: FloatArray | None = None
    rh_frac: FloatArray | None = None
    wind_m_s: FloatArray | None = None
    ghi_w_m2: FloatArray | None = None


@dataclass(frozen=True)
class _Column:
    index: int
    header: str
    role: str
    unit: str


def read_columns(path: Path, assume_unit: TemperatureUnit | None) -> Table:
    """Read and convert a weather table.

    Raises :class:`KeeperError` for headers that cannot be used and :class:`FaultList` with the
    line of every value that is no number or no possible temperature.
    """
    delimiter = _delimiter(read_lines(path)[0])
    rows = [row for row in read_rows(path, delimiter) if any(row)]
    columns, notes = _understood(rows[0], assume_unit, str(path))
    body = rows[1:]
    if not body:
        raise KeeperError(say("there is a header but no row."), where=str(path),
                          fix=say("Give at least one day of weather."))
    faults: list[Fault] = []
    times, daily = _times(body, columns, str(path), faults)
    values = {
        column.role: _numbers(body, column, str(path), faults)
        for column in columns if column.role != "time"
    }
    if faults:
        raise FaultList(_shortened(faults, str(path)))
    return Table(times=times, daily=daily, notes=tuple(notes), **values)


def _delimiter(header: str) -> str:
    return max(",;\t", key=header.count)


def _understood(
    header: list[str], assume_unit: TemperatureUnit | None, where: str
) -> tuple[list[_Column], list[str]]:
    columns: list[_Column] = []
    notes: list[str] = []
    unknown: list[str] = []
    for index, text in enumerate(header):
        role, unit = _role_and_unit(text)
        if role is None:
            unknown.append(text.strip())
            continue
        if any(column.role == role for column in columns):
            notes.append(say("Column {strip} is a second one of its kind and is not used.",
                             strip=repr(text.strip())))
            continue
        columns.append(_Column(index, text.strip(), role, unit))
    roles = {column.role for column in columns}
    if "time" not in roles:
        raise KeeperError(say("no column holds the time."), where=where,
                          fix=say('Name it "time" (or "date" for one row a day).'))
    if not roles & {"temp_c", "low_c", "high_c"}:
        raise KeeperError(say("no column holds temperatures."), where=where,
                          fix=say('Name it "temp_c" or "temp_degF", or "low_c" and "high_c".'))
    for position, column in enumerate(columns):
        if column.role in _TEMPERATURES and not column.unit:
            if assume_unit is None:
                raise KeeperError(
                    say("column {header} does not say degC or degF.",
                        header=repr(column.header)), where=where,
                    fix=say('Name it "{header}_degC" or "{header}_degF".',
                            header=column.header))
            columns[position] = _Column(column.index, column.header, column.role,
                                        assume_unit.lower())
            notes.append(say("Column {header} is taken as {assume_unit}, as you said.",
                             header=repr(column.header), assume_unit=assume_unit))
    if unknown:
        notes.append(say("Columns not used: {unknown}.", unknown=", ".join(unknown)))
    return columns, notes


def _role_and_unit(header: str) -> tuple[str | None, str]:
    """What a header means; its unit is in brackets or the last word, such as ``temp_degF``."""
    text = header.strip().lower()
    bracket = re.search(r"[\[(]\s*([^\])]*?)\s*[\])]", text)
    unit = ""
    if bracket:
        unit = re.sub(r"[/_.]", " ", bracket.group(1)).strip()
        text = text[:bracket.start()] + text[bracket.end():]
    words = re.sub(r"[\s_\-/.]+", " ", text.replace("%", " % ")).strip()
    candidates = [(words, unit)]
    parts = words.split(" ")
    for size in (1, 2):
        tail = " ".join(parts[-size:])
        if len(parts) > size and tail in _UNITS:
            candidates.append((" ".join(parts[:-size]), tail))
    for name, found_unit in candidates:
        for role, names in _WORDS.items():
            if name in names:
                return role, found_unit
    return None, ""


def _times(
    body: list[list[str]], columns: list[_Column], where: str, faults: list[Fault]
) -> tuple[list[datetime], bool]:
    index = next(column.index for column in columns if column.role == "time")
    has_range = {"low_c", "high_c"} & {column.role for column in columns}
    hourly = any(column.role == "temp_c" for column in columns)
    times, dates_only = [], True
    for line, row in enumerate(body, start=2):
        text = row[index].strip().replace("/", "-") if index < len(row) else ""
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            sentence = say("{text} is no time; write 2026-01-31 or 2026-01-31T14:00.",
                           text=repr(text[:30]))
            faults.append(Fault(f"{where} line {line}", sentence))
            moment = datetime(1970, 1, 1)
        if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
            sentence = say("the year {year} cannot be.", year=moment.year)
            faults.append(Fault(f"{where} line {line}", sentence))
        dates_only = dates_only and len(text) <= 10
        times.append(moment)
    daily = bool(has_range) and (dates_only or not hourly)
    if dates_only and not daily:
        sentence = say("its rows have a date but no hour; give low and high by day.")
        faults.append(Fault(where, sentence))
    return times, daily


def _numbers(
    body: list[list[str]], column: _Column, where: str, faults: list[Fault]
) -> FloatArray:
    convert = _conversion(column, body)
    values = np.full(len(body), np.nan)
    for row_index, row in enumerate(body):
        text = row[column.index].strip() if column.index < len(row) else ""
        if text.lower() in _MISSING:
            continue
        path = f"{where} line {row_index + 2}, {column.header}"
        try:
            value = convert(float(text.replace(",", ".")))
        except ValueError:
            faults.append(Fault(path, say("{text} is no number; leave it empty if missing.",
                                          text=repr(text[:30]))))
            continue
        sentence = _impossible(column.role, value, text)
        if sentence:
            faults.append(Fault(path, sentence))
        values[row_index] = value
    return values


def _conversion(column: _Column, body: list[list[str]]) -> Callable[[float], float]:
    if column.role in _TEMPERATURES:
        return fahrenheit_to_celsius if column.unit in _FAHRENHEIT else float
    if column.role == "wind_m_s":
        factor = _WIND_TO_M_S.get(column.unit, 1.0)
    elif column.role == "rh_frac":
        factor = _SHARES.get(column.unit, 0.01 if _looks_like_percent(column, body) else 1.0)
    else:
        factor = 1.0
    return lambda value: value * factor


def _looks_like_percent(column: _Column, body: list[list[str]]) -> bool:
    for row in body:
        try:
            if float(row[column.index].replace(",", ".")) > 1.5:
                return True
        except (ValueError, IndexError):
            continue
    return False


def _impossible(role: str, value: float, text: str) -> str:
    """Why a value, written as ``text``, cannot be; empty when it can."""
    if not np.isfinite(value):
        return say("{text} is no finite number.", text=text)
    if role in _TEMPERATURES and not COLDEST_C <= value <= HOTTEST_C:
        return say("{text} is no outdoor temperature; check the unit in the header (degC or"
                   " degF).", text=text)  # fmt: skip
    if role == "rh_frac" and not 0.0 <= value <= 1.1:
        return say("{text} is no humidity between 0 and 100 %.", text=text)
    if role == "wind_m_s" and not 0.0 <= value <= 115.0:
        return say("{text} is no wind speed.", text=text)
    return ""


def _shortened(faults: list[Fault], where: str) -> list[Fault]:
    if len(faults) <= _MOST_FAULTS:
        return faults
    rest = len(faults) - _MOST_FAULTS
    more = say_many("and {count} more fault of this kind.", "and {count} more faults of this kind.",
                    rest)  # fmt: skip
    return [*faults[:_MOST_FAULTS], Fault(where, more)]
