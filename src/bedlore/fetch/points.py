"""Forecast points at any spacing, made into gap-free hours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from bedlore.fetch.client import ServiceError
from bedlore.say import say
from bedlore.weather.air import rh_from_dew_point
from bedlore.weather.diurnal import daily_low_high
from bedlore.weather.series import FloatArray, WeatherSeries
from bedlore.weather.sun import (
    Spot,
    extraterrestrial_hourly_w_m2,
    ghi_from_range,
    solar_clock,
)

_LONGEST_STEP_H = 12.0
_DEFAULT_WIND_M_S = 2.0
_COLDEST_C, _HOTTEST_C = -90.0, 60.0


@dataclass(frozen=True)
class ForecastPoint:
    """Weather foreseen for one time; None where the service says nothing."""

    at: datetime
    temp_c: float
    rh_frac: float | None = None
    wind_m_s: float | None = None
    cloud_frac: float | None = None


def series_from_points(
    points: Sequence[ForecastPoint], spot: Spot, source: str
) -> WeatherSeries:
    """Whole hours between the points, straight from one to the next.

    The series ends before the first step of more than twelve hours. Humidity that is not given
    follows from the lowest temperature, sunshine from the clouds (Kasten & Czeplak 1980, from
    memory) or the daily range. Raises :class:`ServiceError` when fewer than two points are left.
    """
    joined = _joined(sorted(points, key=lambda point: point.at))
    seconds = np.array([point.at.timestamp() for point in joined])
    first = np.ceil(seconds[0] / 3600.0) * 3600.0
    hours = np.arange(first, seconds[-1] + 1.0, 3600.0)
    if len(hours) < 2:
        raise ServiceError(say("The forecast holds fewer than two hours."))
    start = datetime.fromtimestamp(first, UTC)
    notes = []
    if np.diff(seconds).max() > 3600.0:
        notes.append(say("Later hours of the forecast lie on straight lines between its steps."))

    def column(pick: Callable[[ForecastPoint], float | None]) -> FloatArray | None:
        values = np.array([_or_nan(pick(point)) for point in joined])
        known = np.isfinite(values)
        if not known.any():
            return None
        return np.asarray(np.interp(hours, seconds[known], values[known]))

    temp = column(lambda point: point.temp_c)
    assert temp is not None
    clock = solar_clock(start, len(hours), spot.longitude_deg)
    low, high = daily_low_high(temp, clock, least_hours=1)
    rh = column(lambda point: point.rh_frac)
    if rh is None:
        rh = rh_from_dew_point(temp, low[clock.day_index])
        notes.append(say("Humidity is not in the forecast: the dew point is taken as the day's"
                         " low."))
    wind = column(lambda point: point.wind_m_s)
    cloud = column(lambda point: point.cloud_frac)
    if cloud is None:
        span = np.where(np.isfinite(high - low), high - low, 0.0)[None]
        ghi = ghi_from_range(spot.latitude_deg, spot.altitude_m, clock, span)[0]
    else:
        day = clock.day_of_year[clock.day_index]
        clear = (0.75 + 2e-5 * max(spot.altitude_m, 0.0)) * extraterrestrial_hourly_w_m2(
            spot.latitude_deg, day, clock.hour - 0.5)
        ghi = clear * (1.0 - 0.75 * np.clip(cloud, 0.0, 1.0) ** 3.4)
    return WeatherSeries(
        start=start,
        temp_c=temp,
        rh_frac=np.clip(rh, 0.02, 1.0),
        wind_m_s=np.full(len(hours), _DEFAULT_WIND_M_S) if wind is None else np.maximum(wind, 0),
        ghi_w_m2=ghi,
        source=source,
        notes=tuple(notes),
    )


def _joined(points: Sequence[ForecastPoint]) -> list[ForecastPoint]:
    """Points up to the first long step, one for each time, all of possible temperature."""
    kept: list[ForecastPoint] = []
    for point in points:
        if not _COLDEST_C <= point.temp_c <= _HOTTEST_C:
            raise ServiceError(say("The forecast says {temp_c} degC, which cannot be.",
                                   temp_c=f"{point.temp_c:.0f}"))
        if kept and point.at == kept[-1].at:
            continue
        if kept and point.at - kept[-1].at > timedelta(hours=_LONGEST_STEP_H):
            break
        kept.append(point)
    if len(kept) < 2:
        raise ServiceError(say("The forecast holds fewer than two hours."))
    return kept


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
