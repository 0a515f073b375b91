"""Typical meteorological years in the TMY3 layout.

Wilcox & Marion 2008, NREL/TP-581-43156: one header line (station, name, state, hours from UTC,
latitude, longitude, altitude), one line of column names, then 8760 hours stamped at their end in
local standard time, 01:00 to 24:00. -9900 marks what is missing.
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

_COLUMNS = {
    "temp_c": "Dry-bulb (C)",
    "rh_frac": "RHum (%)",
    "wind_m_s": "Wspd (m/s)",
    "ghi_w_m2": "GHI (W/m^2)",
}
_PERCENT = 0.01
_HOURS = 8760
_MISSING_FROM = 9000.0


def read_tmy3(path: Path, year: int = DEFAULT_YEAR) -> StationYear:
    """The typical year of a TMY3 file, laid into ``year``.

    Temperature [degC], humidity [0..1] and wind [m/s] at the stamp, sunshine [W/m2] over the hour
    before it. Raises :class:`KeeperError` when the file is no complete TMY3 year.
    """
    rows = read_rows(path)
    if len(rows) < 2 or len(rows[0]) < 7:
        raise _not_tmy3(path, say("its first line does not name a station."))
    names = [name.strip() for name in rows[1]]
    absent = [label for label in _COLUMNS.values() if label not in names]
    if absent:
        raise _not_tmy3(path, say("column {name} is missing.", name=absent[0]))
    body = [row for row in rows[2:] if any(field.strip() for field in row)]
    if len(body) != _HOURS:
        raise _not_tmy3(path, say("it has {hours} hours instead of {wanted}.", hours=len(body),
                                  wanted=_HOURS))  # fmt: skip
    offset_h, latitude, longitude, altitude = _station(rows[0], path)
    _check_order(body, names, path)

    def column(label: str, factor: float = 1.0) -> FloatArray:
        index = names.index(label)
        values = np.array([number_at(row, index, _MISSING_FROM) for row in body])
        return year_of_hours(values * factor, year)

    columns = RawColumns(
        temp_c=column(_COLUMNS["temp_c"]),
        rh_frac=column(_COLUMNS["rh_frac"], _PERCENT),
        wind_m_s=column(_COLUMNS["wind_m_s"]),
        ghi_w_m2=column(_COLUMNS["ghi_w_m2"]),
    )
    name = rows[0][1].strip().title()
    first = datetime(year, 1, 1, 1, tzinfo=local_standard(offset_h))
    series = finished_series(first, columns, f"TMY3 typical year, {name}", str(path))
    return StationYear(series, name, latitude, longitude, altitude)


def _station(header: list[str], path: Path) -> tuple[float, float, float, float]:
    try:
        offset_h, latitude, longitude, altitude = (float(field) for field in header[3:7])
    except ValueError:
        reason = say("its first line has no numbers for the place.")
        raise _not_tmy3(path, reason) from None
    if not is_place(latitude, longitude, offset_h):
        raise _not_tmy3(path, say("its first line names no place on earth."))
    return offset_h, latitude, longitude, altitude


def _check_order(body: list[list[str]], names: list[str], path: Path) -> None:
    """Hours must run 1..24 over and over, or every later hour would be shifted unseen."""
    column = names.index("Time (HH:MM)") if "Time (HH:MM)" in names else 1
    for index, row in enumerate(body):
        try:
            hour = int(row[column].split(":")[0])
        except (ValueError, IndexError):
            hour = -1
        if hour % 24 != (index + 1) % 24:
            raise _not_tmy3(path, say("line {number} is out of order.", number=index + 3))


def _not_tmy3(path: Path, reason: str) -> KeeperError:
    return KeeperError(say("this is no complete TMY3 file: {reason}", reason=reason),
                       where=str(path),
                       fix=say("Download it again, or give the weather as CSV."))
