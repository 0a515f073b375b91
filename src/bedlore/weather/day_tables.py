"""Hourly weather from a table of days: lows and highs become hours, the rest is estimated."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Protocol

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import message, say
from bedlore.weather.air import rh_from_dew_point
from bedlore.weather.columns import Table
from bedlore.weather.diurnal import hourly_from_daily
from bedlore.weather.files import RawColumns, finished_series
from bedlore.weather.gaps import runs
from bedlore.weather.normals import solar_longitude_deg
from bedlore.weather.series import FloatArray, WeatherSeries
from bedlore.weather.sun import Spot, ghi_from_range, solar_clock

DEFAULT_WIND_M_S = 2.0  # FAO-56 ch. 4: world mean at 2 m where no wind is known
NO_WIND_NOTE = message("Wind is not given: 2 m/s is used.")
NO_SUN_NOTE = message(
    "Sunshine is not given: it is estimated from the daily range of temperature."
)
NO_HUMIDITY_NOTE = message("Humidity is not given: the dew point is taken as the day's low.")
_LONGEST_GAP_DAYS = 3


class LocalPlace(Spot, Protocol):
    """Where a table was written: a spot and the name of its time zone (IANA)."""

    @property
    def time_zone(self) -> str: ...


def series_from_days(table: Table, place: LocalPlace, where: str) -> WeatherSeries:
    """The table's days as hours of local solar time.

    Raises :class:`KeeperError` for a missing low or high column, lows above highs, and gaps of
    more than three days.
    """
    low_column, high_column = table.low_c, table.high_c
    if low_column is None or high_column is None:
        raise KeeperError(say("a table of days needs a low and a high column."), where=where,
                          fix=say('Name them "low_c" and "high_c" (or degF).'))
    _refuse_low_above_high(table, low_column, high_column, where)
    grid = _DayGrid(table, where)
    low, high = (grid.lay(column, say("temperature")) for column in (low_column, high_column))

    longitude = solar_longitude_deg(place.longitude_deg, place.time_zone)
    midnight = datetime(grid.first.year, grid.first.month, grid.first.day, tzinfo=UTC)
    # The first whole UTC hour of the first solar day.
    start = midnight + timedelta(hours=int(np.ceil(-longitude / 15.0)))
    clock = solar_clock(start, 24 * grid.count, longitude)
    day = (clock.days - np.datetime64(grid.first, "D")).astype(np.int64)
    day = np.clip(day, 0, grid.count - 1)  # the nights at both ends need a neighbour
    hourly = hourly_from_daily(low[None, day], high[None, day], clock, place.latitude_deg)[0]
    of_hour = day[clock.day_index]

    if table.rh_frac is not None:
        rh = grid.lay(table.rh_frac, say("humidity"))[of_hour]
    elif table.dew_c is not None:
        rh = rh_from_dew_point(hourly, grid.lay(table.dew_c, say("dew point"))[of_hour])
    else:
        rh = rh_from_dew_point(hourly, low[of_hour])
        grid.notes.append(say(NO_HUMIDITY_NOTE))
    if table.wind_m_s is not None:
        wind = grid.lay(table.wind_m_s, say("wind"))[of_hour]
    else:
        wind = np.full(len(hourly), DEFAULT_WIND_M_S)
        grid.notes.append(say(NO_WIND_NOTE))
    ghi = ghi_from_range(place.latitude_deg, place.altitude_m, clock, (high - low)[None, day])[0]
    grid.notes.append(say(NO_SUN_NOTE))
    columns = RawColumns(hourly, rh, wind, ghi)
    series = finished_series(start, columns, f"table of days {Path(where).name}", where)
    return replace(series, notes=(*table.notes, *grid.notes, *series.notes))


class _DayGrid:
    """Every day from the first row's to the last row's, and notes on what was filled."""

    def __init__(self, table: Table, where: str) -> None:
        dates: list[date] = [moment.date() for moment in table.times]
        self.first = min(dates)
        self.count = (max(dates) - self.first).days + 1
        self.notes: list[str] = []
        self._index = np.array([(day - self.first).days for day in dates])
        self._where = where
        if len(set(dates)) < len(dates):
            self.notes.append(say("Some days are there twice; the last of each was used."))

    def lay(self, values: FloatArray, name: str) -> FloatArray:
        """Values by day [days]; gaps of up to three days are filled by straight lines."""
        daily = np.full(self.count, np.nan)
        daily[self._index] = values
        missing = np.isnan(daily)
        for begin, stop in runs(missing):
            if stop - begin > _LONGEST_GAP_DAYS:
                day = self.first + timedelta(days=begin)
                raise KeeperError(
                    say("{name} is missing for {stop} days from {day}.", name=name,
                        stop=stop - begin, day=str(day)),
                    where=self._where,
                    fix=say("Gaps over three days are not filled; cut the table or add the"
                            " days."),
                )
        if missing.any():
            there = np.flatnonzero(~missing)
            daily = np.interp(np.arange(self.count), there, daily[there])
            note = say("{name}: {sum} missing days filled by straight lines.", name=name,
                       sum=int(missing.sum()))
            if note not in self.notes:
                self.notes.append(note)
        return daily


def _refuse_low_above_high(
    table: Table, low_c: FloatArray, high_c: FloatArray, where: str
) -> None:
    wrong = np.flatnonzero(low_c > high_c)
    if len(wrong):
        day = table.times[int(wrong[0])].date()
        raise KeeperError(say("on {day} the low is above the high.", day=str(day)), where=where,
                          fix=say("Swap the two values or the column names."))
