"""Weather years in the EPW layout.

The open layout of building simulation (Crawley, Hand & Lawrie 1999): eight header lines, the
first ``LOCATION`` with city, region, country, source, station, latitude, longitude, hours from
UTC and altitude; then one line an hour, stamped 1..24 at its end in local standard time. Data
columns used: 6 dry bulb [degC], 8 relative humidity [%], 13 global horizontal [Wh/m2], 21 wind
[m/s]; from 99.9, 999, 9999 and 999 on they are missing.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.weather.files import (
    DEFAULT_YEAR,
    RawColumns,
    StationYear,
    finished_series,
    is_place,
    local_standard,
    number_at,
    read_rows,
    year_of_hours,
)
from bedlore.weather.series import FloatArray

_HEADER_LINES = 8
_HOUR_COLUMN, _TEMP, _RH, _GHI, _WIND = 3, 6, 8, 13, 21
_MISSING = {_TEMP: 99.9, _RH: 999.0, _GHI: 9999.0, _WIND: 999.0}
_HOURS, _LEAP_HOURS = 8760, 8784


def read_epw(path: Path, year: int = DEFAULT_YEAR) -> StationYear:
    """The year of an EPW file, laid into ``year``; units and stamps as in WeatherSeries.

    A file of a leap year keeps its 29 February only when ``year`` is one too. Raises
    :class:`KeeperError` when the file is no complete hourly EPW year.
    """
    rows = read_rows(path)
    if not rows or rows[0][:1] != ["LOCATION"] or len(rows[0]) < 10:
        raise _not_epw(path, say("it does not begin with a LOCATION line."))
    body = [row for row in rows[_HEADER_LINES:] if len(row) > _WIND]
    if len(body) not in (_HOURS, _LEAP_HOURS):
        raise _not_epw(path, say("it has {hours} hours instead of {wanted}.", hours=len(body),
                                 wanted=_HOURS))  # fmt: skip
    _check_order(body, path)
    offset_h, latitude, longitude, altitude = _station(rows[0], path)
    body = [row for row in body if (int(row[1]), int(row[2])) != (2, 29)]

    def column(index: int, factor: float = 1.0) -> FloatArray:
        values = np.array([number_at(row, index, _MISSING[index]) for row in body])
        return year_of_hours(values * factor, year)

    columns = RawColumns(column(_TEMP), column(_RH, 0.01), column(_WIND), column(_GHI))
    name = rows[0][1].strip()
    first = datetime(year, 1, 1, 1, tzinfo=local_standard(offset_h))
    series = finished_series(first, columns, f"EPW weather year, {name}", str(path))
    return StationYear(series, name, latitude, longitude, altitude)


def _station(header: list[str], path: Path) -> tuple[float, float, float, float]:
    try:
        latitude, longitude, offset_h, altitude = (float(field) for field in header[6:10])
    except ValueError:
        reason = say("its LOCATION line has no numbers for the place.")
        raise _not_epw(path, reason) from None
    if not is_place(latitude, longitude, offset_h):
        raise _not_epw(path, say("its LOCATION line names no place on earth."))
    return offset_h, latitude, longitude, altitude


def _check_order(body: list[list[str]], path: Path) -> None:
    for index, row in enumerate(body):
        try:
            month, day, hour = (int(row[column]) for column in (1, 2, _HOUR_COLUMN))
        except ValueError:
            month, day, hour = 0, 0, -1
        if hour != index % 24 + 1 or not (1 <= month <= 12 and 1 <= day <= 31):
            number = index + _HEADER_LINES + 1
            raise _not_epw(path, say("line {number} is out of order.", number=number))


def _not_epw(path: Path, reason: str) -> KeeperError:
    return KeeperError(say("this is no complete EPW file: {reason}", reason=reason),
                       where=str(path),
                       fix=say("Download it again, or give the weather as CSV."))
