"""Plain weather tables: CSV with one row an hour or one row a day.

The header names each column and its temperature unit: ``time, temp_c, rh_pct`` or ``date,
low_degF, high_degF``. Times without an offset are local clock time of the farm's time zone, clock
changes included. Daily rows become hours by :mod:`bedlore.weather.diurnal`. What the table does
not give is estimated and noted: humidity from the day's low (dew point near the low, FAO-56
ch. 3), sunshine from the daily range, wind 2 m/s.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import say, say_many
from bedlore.weather.air import rh_from_dew_point
from bedlore.weather.columns import Table, TemperatureUnit, read_columns
from bedlore.weather.day_tables import (
    DEFAULT_WIND_M_S,
    NO_HUMIDITY_NOTE,
    NO_SUN_NOTE,
    NO_WIND_NOTE,
    LocalPlace,
    series_from_days,
)
from bedlore.weather.diurnal import daily_low_high
from bedlore.weather.files import RawColumns, finished_series
from bedlore.weather.normals import solar_longitude_deg
from bedlore.weather.series import FloatArray, WeatherSeries
from bedlore.weather.sun import SolarClock, ghi_from_range, solar_clock

_WIDEST_STEP_S = 7200.0  # rows further apart than this leave the hours between them unknown


def read_table(
    path: Path, place: LocalPlace, assume_unit: TemperatureUnit | None = None
) -> WeatherSeries:
    """Hourly weather from a daily or hourly CSV file.

    ``assume_unit`` is for headers that do not name the unit; without it such a file is refused.
    Gaps up to three days are filled and noted. Raises :class:`KeeperError` otherwise.
    """
    table = read_columns(path, assume_unit)
    if table.daily:
        return series_from_days(table, place, str(path))
    return _from_hours(table, place, str(path))


def _from_hours(table: Table, place: LocalPlace, where: str) -> WeatherSeries:
    stamps, notes = _in_utc(table.times, place.time_zone)
    seconds = np.array([stamp.timestamp() for stamp in stamps])
    order = np.argsort(seconds, kind="stable")
    if np.any(np.diff(seconds) < 0):
        notes.append(say("Rows were out of order and have been sorted."))
    last_of_each = np.append(np.diff(seconds[order]) > 0, True)
    if not last_of_each.all():
        count = int((~last_of_each).sum())
        notes.append(say_many("One row repeats a time; the last was used.",
                              "{count} rows repeat a time; the last of each was used.", count))
    order = order[last_of_each]
    first = np.ceil(seconds[order[0]] / 3600) * 3600
    whole = np.arange(first, seconds[order[-1]] + 1, 3600.0)
    if len(whole) < 2:
        raise KeeperError(say("fewer than two hours are there."), where=where,
                          fix=say("Give at least one day of weather."))

    def at_hours(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else _onto(whole, seconds[order], values[order])

    start = datetime.fromtimestamp(first, UTC)
    temp = at_hours(table.temp_c)
    if temp is None:
        raise KeeperError(say("there is no temperature column."), where=where,
                          fix=say('Name one "temp_c" or "temp_degF".'))
    longitude = solar_longitude_deg(place.longitude_deg, place.time_zone)
    clock = solar_clock(start, len(whole), longitude)
    low, high = _known_low_high(temp, clock)
    rh = at_hours(table.rh_frac)
    if rh is None:
        dew = at_hours(table.dew_c)
        rh = rh_from_dew_point(temp, low[clock.day_index] if dew is None else dew)
        if dew is None:
            notes.append(say(NO_HUMIDITY_NOTE))
    wind = at_hours(table.wind_m_s)
    if wind is None:
        wind = np.full(len(whole), DEFAULT_WIND_M_S)
        notes.append(say(NO_WIND_NOTE))
    ghi = at_hours(table.ghi_w_m2)
    if ghi is None:
        span = (high - low)[None]
        ghi = ghi_from_range(place.latitude_deg, place.altitude_m, clock, span)[0]
        notes.append(say(NO_SUN_NOTE))
    columns = RawColumns(temp_c=temp, rh_frac=rh, wind_m_s=wind, ghi_w_m2=ghi)
    series = finished_series(start, columns, f"table {Path(where).name}", where)
    return replace(series, notes=(*table.notes, *notes, *series.notes))


def _in_utc(times: list[datetime], time_zone: str) -> tuple[list[datetime], list[str]]:
    """Aware times; naive ones are clock time of ``time_zone``, repeated autumn hours in order."""
    zone = ZoneInfo(time_zone)
    stamps: list[datetime] = []
    notes: list[str] = []
    skipped = 0
    seen: set[datetime] = set()
    for moment in times:
        if moment.tzinfo is not None:
            stamps.append(moment.astimezone(UTC))
            continue
        # The second time the clock shows an hour of the autumn change it is the later one.
        fold = 1 if moment in seen else 0
        seen.add(moment)
        local = moment.replace(tzinfo=zone, fold=fold)
        stamp = local.astimezone(UTC)
        skipped += stamp.astimezone(zone).replace(tzinfo=None) != moment
        stamps.append(stamp)
    if skipped:
        notes.append(say("{skipped} times fall into the hour the clock skips in spring.",
                         skipped=skipped))
    return stamps, notes


def _onto(whole_s: FloatArray, seconds: FloatArray, values: FloatArray) -> FloatArray:
    """Values at whole hours, straight between rows; NaN where the rows around are far away."""
    known = np.isfinite(values)
    if not known.any():
        return np.full(len(whole_s), np.nan)
    at, value = seconds[known], values[known]
    out = np.interp(whole_s, at, value, left=np.nan, right=np.nan)
    right = np.clip(np.searchsorted(at, whole_s), 0, len(at) - 1)
    left = np.maximum(right - 1, 0)
    exact = at[right] == whole_s
    out[~exact & (at[right] - at[left] > _WIDEST_STEP_S)] = np.nan
    return out


def _known_low_high(temp_c: FloatArray, clock: SolarClock) -> tuple[FloatArray, FloatArray]:
    """Lows and highs of the known hours, shape [days]; days without any follow their neighbour."""
    known = np.isfinite(temp_c)
    part = SolarClock(clock.days, clock.day_index[known], clock.hour[known])
    low, high = daily_low_high(temp_c[known], part, least_hours=1)
    days = np.arange(len(low))
    there = np.isfinite(low)
    return np.interp(days, days[there], low[there]), np.interp(days, days[there], high[there])
