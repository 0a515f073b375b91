"""Smooth day-of-year climate from monthly normals.

A curve of two harmonics through the monthly means, then corrected until the mean of every month
is the normal again (mean-preserving interpolation: Epstein 1991, Rymes & Myers 2001; from
memory). Months are those of a 365-day year.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from bedlore.errors import Fault, FaultList
from bedlore.say import say
from bedlore.weather.series import FloatArray
from bedlore.weather.sun import Spot

MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_OF_DAY = np.repeat(np.arange(12), MONTH_DAYS)
_MID_MONTH = np.cumsum(MONTH_DAYS) - MONTH_DAYS / 2.0
_DEFAULT_WIND_M_S = 2.0  # FAO-56 ch. 4: world mean at 2 m where no wind is known
# Spread of daily temperatures where none is given: share of the summer-winter range in the
# coldest month and half of it in the warmest (assumed; Greensboro and Sand Point TMY3 files
# give 0.27 and 0.34 in winter, 0.10 and 0.16 in summer).
_WINTER_SD_SHARE = 0.25
_LEAST_SD_K = 1.5


class MonthlyNormals(Protocol):
    """Twelve values a month for a place, January first; the farm file's normals are one."""

    @property
    def daily_low_c(self) -> Sequence[float]: ...
    @property
    def daily_high_c(self) -> Sequence[float]: ...
    @property
    def rh_frac(self) -> Sequence[float]: ...
    @property
    def wind_m_s(self) -> Sequence[float] | None: ...
    @property
    def sd_low_k(self) -> Sequence[float] | None: ...
    @property
    def sd_high_k(self) -> Sequence[float] | None: ...


class Place(Spot, Protocol):
    """A site with its normals; the farm file's site is one."""

    @property
    def time_zone(self) -> str: ...
    @property
    def normals(self) -> MonthlyNormals: ...


@dataclass(frozen=True)
class Persistence:
    """How one day's departure from the normal carries over to the next.

    ``low_high`` correlation of the departures of low and high on one day; ``lag_mean`` and
    ``lag_range`` lag-1 correlation of their (standardised) sum and difference; ``lean`` how much
    more tomorrow's low follows today's high than the reverse. None for ``low_high`` derives it
    from the daily range.
    """

    # Seattle 2012-2015 daily data (vega_datasets): 0.755, 0.495, 0.072.
    lag_mean: float = 0.755
    lag_range: float = 0.495
    lean: float = 0.072
    low_high: float | None = None


@dataclass(frozen=True)
class Climate:
    """Normals of a place, ready for the generator.

    Arrays have shape [12]: ``low_c``, ``high_c`` [degC], ``rh_frac`` [0..1], ``wind_m_s``,
    ``sd_low_k``, ``sd_high_k`` [K] (spread of single days about the normal over many years).
    ``anomaly_sd_k`` is the spread of whole months, ``warming_k`` is added to every temperature,
    ``skew`` bends the winter departures (negative: long cold tail). ``slimness`` [12] bends the day
    between low and high so that the mean of the hours is right; 1 where only lows and highs are
    known.
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    low_c: FloatArray
    high_c: FloatArray
    rh_frac: FloatArray
    wind_m_s: FloatArray
    sd_low_k: FloatArray
    sd_high_k: FloatArray
    persistence: Persistence = Persistence()
    anomaly_sd_k: float = 0.7
    warming_k: float = 0.0
    skew: float = 0.0
    slimness: FloatArray = field(default_factory=lambda: np.ones(12))

    @cached_property
    def low_curve_c(self) -> FloatArray:
        """Mean low of each day of year, shape [365]."""
        return daily_curve(self.low_c) + self.warming_k

    @cached_property
    def high_curve_c(self) -> FloatArray:
        """Mean high of each day of year, shape [365]; always above the low."""
        return np.maximum(daily_curve(self.high_c) + self.warming_k, self.low_curve_c + 0.5)

    @cached_property
    def sd_low_curve_k(self) -> FloatArray:
        """Spread of the low, shape [365]."""
        return np.maximum(daily_curve(self.sd_low_k), 0.3)

    @cached_property
    def sd_high_curve_k(self) -> FloatArray:
        """Spread of the high, shape [365]."""
        return np.maximum(daily_curve(self.sd_high_k), 0.3)

    @cached_property
    def slimness_curve(self) -> FloatArray:
        """Bend of the day between low and high, shape [365]."""
        return np.maximum(daily_curve(self.slimness), 0.2)

    @cached_property
    def low_high_correlation(self) -> float:
        """Correlation of the departures of low and high on one day.

        Where it is not given, it is what keeps the spread of the daily range at 0.38 of its
        mean (Seattle 2012-2015), so that lows seldom overtake highs.
        """
        if self.persistence.low_high is not None:
            return self.persistence.low_high
        range_sd = 0.38 * float(np.mean(self.high_c - self.low_c))
        low, high = float(np.mean(self.sd_low_k)), float(np.mean(self.sd_high_k))
        return float(np.clip((low**2 + high**2 - range_sd**2) / (2 * low * high), 0.3, 0.97))


def climate_of(place: Place) -> Climate:
    """The climate of a farm's site; spreads and wind that are not given are estimated.

    Raises :class:`FaultList` when a list has not twelve values or a high lies below its low.
    """
    normals = place.normals
    _check(normals)
    low = np.asarray(normals.daily_low_c, dtype=float)
    high = np.asarray(normals.daily_high_c, dtype=float)
    guess = default_sd_k((low + high) / 2)
    wind = normals.wind_m_s
    return Climate(
        latitude_deg=place.latitude_deg,
        longitude_deg=solar_longitude_deg(place.longitude_deg, place.time_zone),
        altitude_m=place.altitude_m,
        low_c=low,
        high_c=high,
        rh_frac=np.asarray(normals.rh_frac, dtype=float),
        wind_m_s=np.full(12, _DEFAULT_WIND_M_S) if wind is None else np.asarray(wind, float),
        sd_low_k=guess if normals.sd_low_k is None else np.asarray(normals.sd_low_k, float),
        sd_high_k=guess if normals.sd_high_k is None else np.asarray(normals.sd_high_k, float),
    )


def solar_longitude_deg(longitude_deg: float, time_zone: str) -> float:
    """The longitude, or the time zone's own meridian where the longitude cannot be right.

    A farm file without a longitude says 0; clock time then tells when it is noon. No zone strays
    more than 3 hours from the sun.
    """
    january = datetime(2025, 1, 1, tzinfo=UTC).astimezone(ZoneInfo(time_zone))
    july = datetime(2025, 7, 1, tzinfo=UTC).astimezone(ZoneInfo(time_zone))
    offsets = [moment.utcoffset() for moment in (january, july)]
    standard_h = min(offset.total_seconds() / 3600 for offset in offsets if offset is not None)
    astray = abs((longitude_deg - 15 * standard_h + 180) % 360 - 180)
    return 15 * standard_h if astray > 45 else longitude_deg


def default_sd_k(mean_c: FloatArray) -> FloatArray:
    """Spread of daily temperature [K] by month, from the monthly means [12] alone (assumed)."""
    span = float(mean_c.max() - mean_c.min())
    if span < 1e-9:
        return np.full(12, _LEAST_SD_K)
    winterness = (mean_c.max() - mean_c) / span
    share = _WINTER_SD_SHARE * (0.5 + 0.5 * winterness)
    return np.asarray(np.maximum(share * span, _LEAST_SD_K))


def daily_curve(monthly: FloatArray, tolerance: float = 0.01) -> FloatArray:
    """Mean-preserving curve [365] through twelve monthly means [12]; any unit.

    The mean over the days of each month equals the input within ``tolerance``.
    """
    monthly = np.asarray(monthly, dtype=float)
    angle = 2 * np.pi * (np.arange(365) + 0.5)[:, None] / 365.0
    waves = np.hstack([np.ones_like(angle)] + [
        wave(order * angle) for order in (1, 2) for wave in (np.cos, np.sin)
    ])
    design = _month_means(waves)
    curve = np.asarray(waves @ np.linalg.lstsq(design, monthly, rcond=None)[0])
    for _ in range(200):
        missing = monthly - _month_means(curve)
        if np.abs(missing).max() <= tolerance:
            break
        curve += _between_months(missing)
    return curve


def month_means(daily: FloatArray) -> FloatArray:
    """Mean of each month [12] of a curve [365]."""
    return _month_means(np.asarray(daily, dtype=float))


def _month_means(daily: FloatArray) -> FloatArray:
    edges = np.concatenate([[0], np.cumsum(MONTH_DAYS)[:-1]])
    sums = np.add.reduceat(daily, edges, axis=0)
    return np.asarray((sums.T / MONTH_DAYS).T)


def _between_months(monthly: FloatArray) -> FloatArray:
    return np.asarray(np.interp(np.arange(365) + 0.5, _MID_MONTH, monthly, period=365.0))


def _check(normals: MonthlyNormals) -> None:
    faults = []
    for name in ("daily_low_c", "daily_high_c", "rh_frac", "wind_m_s", "sd_low_k", "sd_high_k"):
        values = getattr(normals, name)
        if values is not None and len(values) != 12:
            sentence = say("has {count} values; give twelve, January first.", count=len(values))
            faults.append(Fault(f"site.normals.{name}", sentence))
    if not faults:
        pairs = zip(normals.daily_low_c, normals.daily_high_c, strict=True)
        for month, (low, high) in enumerate(pairs, start=1):
            if high < low:
                sentence = say("month {month}: the high {high} lies below the low {low}.",
                               month=month, high=float(high), low=float(low))  # fmt: skip
                faults.append(Fault("site.normals.daily_high_c", sentence))
    if faults:
        raise FaultList(faults)
