"""Sun at a place: local solar time, length of day, radiation on a level surface.

Equations of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) ch. 3: declination,
sunset hour angle, extraterrestrial and clear-sky radiation, and the Hargreaves-Samani estimate
from the daily temperature range (coefficients from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedlore.weather.series import FloatArray

SOLAR_CONSTANT_W_M2 = 1367.0
# Hargreaves-Samani coefficient, between 0.16 (inland) and 0.19 (coast); FAO-56 eq. 50.
HARGREAVES_PER_SQRT_K = 0.17
_EPOCH = date(1970, 1, 1)


class Spot(Protocol):
    """A place on earth: north and east are positive; the farm file's site is one."""

    @property
    def latitude_deg(self) -> float: ...
    @property
    def longitude_deg(self) -> float: ...
    @property
    def altitude_m(self) -> float: ...


@dataclass(frozen=True)
class SolarClock:
    """Hours of a series in local mean solar time, which knows no clock changes.

    ``days`` are consecutive dates from the day before the first hour to the day after the last;
    ``day_index`` [T] points into them and ``hour`` [T] is the solar hour of day [0, 24).
    """

    days: NDArray[np.datetime64]
    day_index: NDArray[np.int64]
    hour: FloatArray

    @property
    def day_of_year(self) -> NDArray[np.int64]:
        """Day of year of ``days``, 0..364; 29 February counts as the 28th."""
        return day_of_year(self.days)


def solar_clock(start: datetime, hours: int, longitude_deg: float) -> SolarClock:
    """The solar clock of ``hours`` hours from ``start`` (aware) at ``longitude_deg`` east."""
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    first = (start - epoch) / timedelta(hours=1) + longitude_deg / 15.0
    local = first + np.arange(hours)
    day = np.floor(local / 24.0).astype(np.int64)
    first_day = int(day[0]) - 1 if hours else int(first // 24) - 1
    last_day = int(day[-1]) + 1 if hours else first_day + 2
    days = np.datetime64(_EPOCH, "D") + np.arange(first_day, last_day + 1)
    return SolarClock(days=days, day_index=day - first_day, hour=local - 24.0 * day)


def day_of_year(days: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Day of year 0..364 of each date; 29 February counts as 28 February."""
    years = days.astype("datetime64[Y]")
    day = (days - years.astype("datetime64[D]")).astype(np.int64)
    number = years.astype(np.int64) + 1970
    leap = (number % 4 == 0) & ((number % 100 != 0) | (number % 400 == 0))
    return np.asarray(day - (leap & (day >= 59)))


def declination_rad(day: ArrayLike) -> FloatArray:
    """Solar declination [rad] on day of year ``day`` (0 = 1 January); FAO-56 eq. 24."""
    return np.asarray(0.409 * np.sin(2 * np.pi * (np.asarray(day) + 1) / 365.0 - 1.39))


def sunset_hour_angle_rad(latitude_deg: float, day: ArrayLike) -> FloatArray:
    """Hour angle of sunset [0..pi rad]; 0 in polar night and pi in polar day."""
    cosine = -np.tan(np.radians(latitude_deg)) * np.tan(declination_rad(day))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def day_length_h(latitude_deg: float, day: ArrayLike) -> FloatArray:
    """Hours between sunrise and sunset, 0..24; same shape as ``day``."""
    return np.asarray(24.0 / np.pi * sunset_hour_angle_rad(latitude_deg, day))


def extraterrestrial_hourly_w_m2(
    latitude_deg: float, day: ArrayLike, hour: ArrayLike
) -> FloatArray:
    """Radiation above the air on a level surface [W/m2] at solar ``hour`` of ``day``."""
    declination = declination_rad(day)
    latitude = np.radians(latitude_deg)
    hour_angle = np.pi / 12.0 * (np.asarray(hour, dtype=float) - 12.0)
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(
        declination
    ) * np.cos(hour_angle)
    distance = 1 + 0.033 * np.cos(2 * np.pi * (np.asarray(day) + 1) / 365.0)
    return np.asarray(SOLAR_CONSTANT_W_M2 * distance * np.maximum(sine, 0.0))


def ghi_from_range(
    latitude_deg: float, altitude_m: float, clock: SolarClock, range_k: FloatArray
) -> FloatArray:
    """Global radiation [W/m2], shape [M, T], from the daily range ``range_k`` [M, days].

    Hargreaves-Samani transmissivity, never above the clear sky of FAO-56 eq. 37. The value of a
    stamp belongs to the hour before it.
    """
    day = clock.day_of_year[clock.day_index]
    above = extraterrestrial_hourly_w_m2(latitude_deg, day, clock.hour - 0.5)
    clear = 0.75 + 2e-5 * max(altitude_m, 0.0)
    share = np.minimum(HARGREAVES_PER_SQRT_K * np.sqrt(np.maximum(range_k, 0.0)), clear)
    return np.asarray(share[:, clock.day_index] * above)
