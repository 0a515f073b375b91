"""Reading weather files: what every reader shares, and choosing the reader.

Missing values are filled or refused as in :mod:`bedlore.weather.gaps`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.weather.gaps import fill_hourly
from bedlore.weather.series import FloatArray, WeatherSeries, whole_utc_hour

LARGEST_BYTES = 64 * 2**20  # 150 years of hours; anything larger is no weather file
DEFAULT_YEAR = 2023  # for typical years, which belong to no year; not a leap year


@dataclass(frozen=True)
class StationYear:
    """An hourly year of one station, and where the station stands."""

    series: WeatherSeries
    name: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float


@dataclass(frozen=True)
class RawColumns:
    """Columns of hourly values with NaN where missing; all [T], units of WeatherSeries."""

    temp_c: FloatArray
    rh_frac: FloatArray
    wind_m_s: FloatArray
    ghi_w_m2: FloatArray


def read_lines(path: Path) -> list[str]:
    """The lines of a text file; raises :class:`KeeperError` when it cannot be one."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise KeeperError(say("the file is too large for a weather file."), where=str(path),
                              fix=say("Cut it to the years you need (64 MB at most)."))
        raw = path.read_bytes()
    except OSError as error:
        raise KeeperError(say("the file cannot be read ({reason}).",
                              reason=error.strerror or str(error)), where=str(path),
                          fix=say("Check the name and that you may read it.")) from None
    try:
        lines = raw.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        # Station names of older files are Latin-1; every byte is a letter there.
        lines = raw.decode("latin-1").splitlines()
    if b"\0" in raw[:4096] or not any(line.strip() for line in lines):
        raise KeeperError(say("the file is empty or no text."), where=str(path),
                          fix=say("Give a TMY3, EPW or CSV weather file."))
    return lines


def read_rows(path: Path, delimiter: str = ",") -> list[list[str]]:
    """The rows of a delimited text file; raises :class:`KeeperError` when it cannot be one."""
    try:
        return list(csv.reader(read_lines(path), delimiter=delimiter))
    except csv.Error:
        raise KeeperError(say("the file is no table of text."), where=str(path),
                          fix=say("Give a TMY3, EPW or CSV weather file.")) from None


def finished_series(
    first_stamp: datetime, columns: RawColumns, source: str, where: str
) -> WeatherSeries:
    """A series from raw columns whose first value belongs to ``first_stamp`` (aware).

    Stamps that are no whole hour in UTC (zones such as +5:30) move to the hour before, noted.
    """
    start = whole_utc_hour(first_stamp)
    notes: list[str] = []
    if start != first_stamp:
        minutes = int((first_stamp - start) / timedelta(minutes=1))
        notes.append(say("Hours moved {minutes} minutes earlier to whole hours in UTC.",
                         minutes=minutes))
    parts = {}
    names = (("temp_c", say("temperature")), ("rh_frac", say("humidity")),
             ("wind_m_s", say("wind")), ("ghi_w_m2", say("sunshine")))
    for field, word in names:
        parts[field], more = fill_hourly(getattr(columns, field), word, start, where)
        notes += more
    parts["rh_frac"] = np.clip(parts["rh_frac"], 0.0, 1.0)
    parts["wind_m_s"] = np.maximum(parts["wind_m_s"], 0.0)
    parts["ghi_w_m2"] = np.maximum(parts["ghi_w_m2"], 0.0)
    return WeatherSeries(start=start, source=source, notes=tuple(notes), **parts)


def year_of_hours(values: FloatArray, year: int) -> FloatArray:
    """8760 hours laid into ``year``: in a leap year 28 February is there twice."""
    if not is_leap(year):
        return values
    end_of_28 = (31 + 28) * 24
    return np.concatenate([values[:end_of_28], values[end_of_28 - 24:]])


def is_leap(year: int) -> bool:
    """Whether ``year`` has a 29 February (Gregorian)."""
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def is_place(latitude_deg: float, longitude_deg: float, offset_h: float) -> bool:
    """Whether a station's header names a place on earth and a time zone that exists."""
    return abs(offset_h) <= 14 and abs(latitude_deg) <= 90 and abs(longitude_deg) <= 180


def local_standard(offset_h: float) -> timezone:
    """The fixed time zone ``offset_h`` hours east of UTC."""
    return timezone(timedelta(hours=offset_h))


def number_at(fields: list[str], column: int, missing_from: float) -> float:
    """The number in a column, NaN where it is blank or at least ``missing_from`` in size."""
    try:
        value = float(fields[column])
    except (ValueError, IndexError):
        return float("nan")
    return float("nan") if abs(value) >= missing_from else value
