"""Daily lows and highs about the normals.

Bivariate autoregression of Richardson 1981 (Water Resour. Res. 17:182-190, residual equations
as printed in a watershed model's theory text): standardised departures ``x[t] = A x[t-1] + B
e[t]`` with ``A = M1 M0^-1`` and ``B B' = M0 - A M1'``. Whole months depart too, and the winter
may be skewed. Readings and typed days pull the departures; the autoregression then lets go of
them at its own pace, which is the blend into climate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bedlore.weather.diurnal import hourly_from_daily
from bedlore.weather.normals import Climate
from bedlore.weather.series import FloatArray
from bedlore.weather.sun import SolarClock
from bedlore.weather.typed import TypedDay, typed_error_sd_k

_ERROR_LAG = 0.7  # typed days are wrong together (assumed)
_WITHIN_DAY_SD_K = 1.2  # a reading's own departure from the day's curve (assumed)
_LEAST_RANGE_K = 0.5


@dataclass(frozen=True)
class HourReading:
    """A reading at hour ``index`` of the clock: ``temp_c`` [M], the device's error drawn for each
    member."""

    index: int
    temp_c: FloatArray


@dataclass(frozen=True)
class Pull:
    """What the departures are held to, by index into the clock's days.

    ``today`` is the day the forecast is made, ``reading`` the last thermometer reading.
    """

    today: int
    typed: Mapping[int, TypedDay]
    reading: HourReading | None = None


def persistence_matrices(climate: Climate) -> tuple[FloatArray, FloatArray, FloatArray]:
    """``A``, ``B`` and ``M0``, each [2, 2], for the standardised departures of (low, high)."""
    rho = climate.low_high_correlation
    lags = climate.persistence
    same = lags.lag_mean * (1 + rho) / 2 + lags.lag_range * (1 - rho) / 2
    cross = lags.lag_mean * (1 + rho) / 2 - lags.lag_range * (1 - rho) / 2
    # The lean shrinks with the range's share of the variance, or BB' would be no covariance.
    lean = lags.lean * min((1 - rho) / 0.47, 1.0)
    m0 = np.array([[1.0, rho], [rho, 1.0]])
    m1 = np.array([[same, cross + lean], [cross - lean, same]])
    a = m1 @ np.linalg.inv(m0)
    values, vectors = np.linalg.eigh(m0 - a @ m1.T)
    return a, vectors * np.sqrt(np.maximum(values, 0.0)), m0


class DailyModel:
    """Lows and highs of one climate over the days of one clock, for ``members`` members."""

    def __init__(
        self, climate: Climate, clock: SolarClock, members: int, rng: np.random.Generator
    ) -> None:
        self._climate, self._clock, self._members = climate, clock, members
        self._a, self._b, self._m0 = persistence_matrices(climate)
        day = clock.day_of_year
        anomaly = _month_anomaly_k(climate.anomaly_sd_k, clock, members, rng)
        # Means [M, days, 2] and spreads [days, 2], low first.
        curves = np.stack([climate.low_curve_c[day], climate.high_curve_c[day]], axis=-1)
        self._mean_c = curves + anomaly[:, :, None]
        self._climate_sd_k = np.stack(
            [climate.sd_low_curve_k[day], climate.sd_high_curve_k[day]], axis=-1
        )
        left = self._climate_sd_k**2 - climate.anomaly_sd_k**2
        self._sd_k = np.sqrt(np.maximum(left, (0.5 * self._climate_sd_k) ** 2))
        self._skew = climate.skew * _winterness(climate)[day]

    @property
    def spread_k(self) -> FloatArray:
        """The climate's own spread of daily temperature [K], shape [days]."""
        return np.asarray(self._climate_sd_k.mean(axis=1))

    def simulate(
        self, pull: Pull, rng: np.random.Generator, error_rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Lows and highs [degC], each [M, days]; highs stay at least 0.5 K above lows."""
        out = np.empty_like(self._mean_c)
        state = rng.standard_normal((self._members, 2)) @ np.linalg.cholesky(self._m0).T
        errors = self._correlated(error_rng)
        within_day = error_rng.standard_normal(self._members) * _WITHIN_DAY_SD_K
        for day in range(len(self._clock.days)):
            if day:
                state = state @ self._a.T + rng.standard_normal((self._members, 2)) @ self._b.T
                errors = _ERROR_LAG * errors + np.sqrt(
                    1 - _ERROR_LAG**2) * self._correlated(error_rng)
            if pull.reading and day == self._clock.day_index[pull.reading.index]:
                state = self._towards_reading(state, day, pull.reading, within_day)
            if day in pull.typed:
                state = self._at_typed(state, day, pull, errors)
            departure = skewed(state, float(self._skew[day]))
            out[:, day] = self._mean_c[:, day] + self._sd_k[day] * departure
        middle = out.mean(axis=2)
        half = np.maximum(out[:, :, 1] - out[:, :, 0], _LEAST_RANGE_K) / 2
        return middle - half, middle + half

    def _correlated(self, rng: np.random.Generator) -> FloatArray:
        draws = rng.standard_normal((self._members, 2))
        return np.asarray(draws @ np.linalg.cholesky(self._m0).T)

    def _towards_reading(
        self, state: FloatArray, day: int, reading: HourReading, within_day: FloatArray
    ) -> FloatArray:
        """Condition the day's normal departures on one hour's temperature (Matheron's rule)."""
        share = self._share_of_high(reading.index)
        weights = np.array([1 - share, share])
        gain_row = weights * self._sd_k[day]
        variance = gain_row @ self._m0 @ gain_row + _WITHIN_DAY_SD_K**2
        simulated = self._mean_c[:, day] @ weights + state @ gain_row + within_day
        miss = reading.temp_c - simulated
        return np.asarray(state + miss[:, None] * (self._m0 @ gain_row / variance))

    def _share_of_high(self, hour_index: int) -> float:
        """How far between low (0) and high (1) the mean curve stands at that hour."""
        days = len(self._clock.days)
        curve = hourly_from_daily(
            np.zeros((1, days)), np.ones((1, days)), self._clock, self._climate.latitude_deg
        )
        return float(np.clip(curve[0, hour_index], 0.0, 1.0))

    def _at_typed(
        self, state: FloatArray, day: int, pull: Pull, errors: FloatArray
    ) -> FloatArray:
        typed = pull.typed[day]
        moved = state.copy()
        expected = typed_error_sd_k(day - pull.today)
        for column, value in enumerate((typed.low_c, typed.high_c)):
            if value is None:
                continue
            error_sd = min(expected, float(self._climate_sd_k[day, column]))
            target = value + error_sd * errors[:, column] - self._mean_c[:, day, column]
            moved[:, column] = unskewed(target / self._sd_k[day, column], float(self._skew[day]))
        rho = self._m0[0, 1]
        if typed.low_c is None:
            moved[:, 0] += rho * (moved[:, 1] - state[:, 1])
        if typed.high_c is None:
            moved[:, 1] += rho * (moved[:, 0] - state[:, 0])
        return moved


def skewed(normal: FloatArray, skew: float) -> FloatArray:
    """Values of mean 0, variance 1 and the given skewness from standard normal ones.

    A shifted lognormal (mirrored for negative skew), so the order of values is kept.
    """
    if skew == 0.0:
        return normal
    sign, k, scale = _lognormal(skew)
    return np.asarray(sign * (np.exp(k * sign * normal) - np.exp(k * k / 2)) / scale)


def unskewed(value: FloatArray, skew: float) -> FloatArray:
    """Inverse of :func:`skewed`; values beyond its bounded tail come back as -6 or 6."""
    if skew == 0.0:
        return value
    sign, k, scale = _lognormal(skew)
    inside = np.maximum(sign * value * scale + np.exp(k * k / 2), np.exp(-6 * k))
    return np.asarray(np.clip(sign * np.log(inside) / k, -6.0, 6.0))


def _lognormal(skew: float) -> tuple[float, float, float]:
    """Sign, log-sd and sd of the lognormal with that skewness (closed-form cubic)."""
    size = abs(skew)
    inner = 1 + size * size / 2
    root = size * np.sqrt(1 + size * size / 4)
    w = float(np.cbrt(inner + root) + np.cbrt(inner - root) - 1)
    return (1.0 if skew > 0 else -1.0), float(np.sqrt(np.log(w))), float(np.sqrt(w * (w - 1)))


def _winterness(climate: Climate) -> FloatArray:
    """1 on the coldest day of the mean year, 0 on the warmest; shape [365]."""
    mean = (climate.low_curve_c + climate.high_curve_c) / 2
    return np.asarray((mean.max() - mean) / max(float(np.ptp(mean)), 1e-9))


def _month_anomaly_k(
    sd_k: float, clock: SolarClock, members: int, rng: np.random.Generator
) -> FloatArray:
    """Departure of whole months, straight between month mid-points; shape [M, days]."""
    month = clock.days.astype("datetime64[M]").astype(np.int64)
    first, count = int(month[0]) - 1, int(month[-1] - month[0]) + 3
    draws = rng.standard_normal((count, members)) * sd_k
    middle = (np.datetime64(0, "M") + first + np.arange(count)).astype("datetime64[D]")
    day_number = clock.days.astype(np.int64)
    place = np.interp(day_number, middle.astype(np.int64) + 14, np.arange(count))
    left = np.minimum(place.astype(np.int64), count - 2)
    weight = (place - left)[:, None]
    # Interpolation between independent months would shrink the spread half-way between them.
    level = np.sqrt((1 - weight) ** 2 + weight**2)
    return np.asarray((((1 - weight) * draws[left] + weight * draws[left + 1]) / level).T)
