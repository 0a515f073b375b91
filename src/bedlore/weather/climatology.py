"""Normals of a place from its hourly or daily weather, for the farm file and the generator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.weather.diurnal import daily_low_high, hourly_from_daily
from bedlore.weather.normals import MONTH_OF_DAY, Climate, Persistence, daily_curve
from bedlore.weather.series import FloatArray, WeatherSeries
from bedlore.weather.sun import Spot, day_of_year, solar_clock

_LEAST_DAYS_A_MONTH = 20
_SKEW_TRUST = 1.0


@dataclass(frozen=True)
class DailyRecord:
    """Lows and highs of whole days in a row: ``days`` and two arrays [days], degC."""

    days: np.ndarray
    low_c: FloatArray
    high_c: FloatArray

    @property
    def month(self) -> np.ndarray:
        """Month 0..11 of each day."""
        return np.asarray(MONTH_OF_DAY[day_of_year(self.days)])


def daily_record(series: WeatherSeries, longitude_deg: float) -> DailyRecord:
    """Lows and highs of the whole solar days of ``series``."""
    clock = solar_clock(series.start, len(series), longitude_deg)
    low, high = daily_low_high(series.temp_c, clock)
    whole = np.isfinite(low)
    return DailyRecord(clock.days[whole], low[whole], high[whole])


def climate_from_series(series: WeatherSeries, spot: Spot) -> Climate:
    """Normals, spreads and persistence found in ``series`` (at least one whole year).

    Spreads are those about the long-run normal: within one year the month's own mean takes part
    of the spread away, and that part is put back from the persistence. Raises
    :class:`KeeperError` when a month is hardly there.
    """
    record = daily_record(series, spot.longitude_deg)
    counts = np.bincount(record.month, minlength=12)
    if counts.min() < _LEAST_DAYS_A_MONTH:
        raise KeeperError(
            say("month {month} has only {days} days in {source}.", month=int(counts.argmin()) + 1,
                days=int(counts.min()), source=series.source),
            fix=say("Normals need at least one whole year."),
        )
    low, high = _by_month(record.low_c, record.month), _by_month(record.high_c, record.month)
    curves = np.stack([daily_curve(low), daily_curve(high)])
    days = np.stack([record.low_c, record.high_c])
    sd = np.stack([_spread_k(*pair, record.month) for pair in zip(days, curves, strict=True)])
    scaled = (days - curves[:, day_of_year(record.days)]) / sd[:, record.month]
    years = max(len(record.days) / 365.25, 1.0)
    persistence = _persistence(scaled, years)
    lost = _share_lost_to_month_mean(persistence.lag_mean) / years
    hours_month = MONTH_OF_DAY[_day_of_hours(series, spot)]
    return Climate(
        latitude_deg=spot.latitude_deg,
        longitude_deg=spot.longitude_deg,
        altitude_m=spot.altitude_m,
        low_c=low,
        high_c=high,
        rh_frac=_by_month(series.rh_frac, hours_month),
        wind_m_s=_by_month(series.wind_m_s, hours_month),
        sd_low_k=sd[0] / np.sqrt(1 - lost),
        sd_high_k=sd[1] / np.sqrt(1 - lost),
        persistence=persistence,
        slimness=_slimness(series, spot),
        skew=_winter_skew(scaled, record.month, (low + high) / 2),
    )


def _day_of_hours(series: WeatherSeries, spot: Spot) -> np.ndarray:
    clock = solar_clock(series.start, len(series), spot.longitude_deg)
    return np.asarray(clock.day_of_year[clock.day_index])


def _by_month(values: FloatArray, month: np.ndarray) -> FloatArray:
    sums = np.bincount(month, weights=values, minlength=12)
    return np.asarray(sums / np.bincount(month, minlength=12))


def _slimness(series: WeatherSeries, spot: Spot) -> FloatArray:
    """The bend of the day [12] with which lows and highs give the month's mean of the hours."""
    clock = solar_clock(series.start, len(series), spot.longitude_deg)
    low, high = daily_low_high(series.temp_c, clock)
    days, whole = np.arange(len(low)), np.isfinite(low)
    low = np.interp(days, days[whole], low[whole])[None]
    high = np.interp(days, days[whole], high[whole])[None]
    month = MONTH_OF_DAY[clock.day_of_year[clock.day_index]]
    target = _by_month(series.temp_c, month)
    least, most = np.full(12, 0.4), np.full(12, 2.5)
    for _ in range(20):
        middle = (least + most) / 2
        slim = middle[MONTH_OF_DAY[clock.day_of_year]]
        hourly = hourly_from_daily(low, high, clock, spot.latitude_deg, slimness=slim)[0]
        too_warm = _by_month(hourly, month) > target
        least, most = np.where(too_warm, middle, least), np.where(too_warm, most, middle)
    return np.asarray((least + most) / 2)


def _spread_k(values: FloatArray, curve: FloatArray, month: np.ndarray) -> FloatArray:
    """Spread of days [12] without what the climb of the mean curve within a month makes of it.

    Taken about the month's mean, because a typical year is spliced from months of different
    years and follows no smooth curve.
    """
    about_mean = _by_month((values - _by_month(values, month)[month]) ** 2, month)
    climb = _by_month((curve - _by_month(curve, MONTH_OF_DAY)[MONTH_OF_DAY]) ** 2, MONTH_OF_DAY)
    return np.asarray(np.sqrt(np.maximum(about_mean - climb, 0.25 * about_mean)))


def _winter_skew(scaled: FloatArray, month: np.ndarray, mean_c: FloatArray) -> float:
    """Skewness of the departures in the three coldest months, drawn half-way to none."""
    winter = np.isin(month, np.argsort(mean_c)[:3])
    values = scaled[:, winter] - scaled[:, winter].mean(axis=1, keepdims=True)
    skewness = np.mean(values**3, axis=1) / np.mean(values**2, axis=1) ** 1.5
    return float(np.clip(skewness.mean() * _SKEW_TRUST, -1.0, 0.5))


def _persistence(scaled: FloatArray, years: float) -> Persistence:
    """Lag-one structure of the scaled departures [2, days]."""
    scaled = scaled / scaled.std(axis=1, keepdims=True)
    rho = float(np.clip(np.mean(scaled[0] * scaled[1]), -0.5, 0.97))
    cross = scaled[:, 1:] @ scaled[:, :-1].T / (scaled.shape[1] - 1)
    return Persistence(
        lag_mean=_lag_one(scaled[0] + scaled[1], years),
        lag_range=_lag_one(scaled[0] - scaled[1], years),
        lean=float((cross[0, 1] - cross[1, 0]) / 2),
        low_high=rho,
    )


def _lag_one(values: FloatArray, years: float) -> float:
    """Lag-one correlation; what the months' own means took away from it is put back."""
    centred = values - values.mean()
    found = float(np.clip(centred[1:] @ centred[:-1] / (centred @ centred), -0.5, 0.95))
    lost = _share_lost_to_month_mean(max(found, 0.0)) / years
    return min(found * (1 - lost) + lost, 0.95)


def _share_lost_to_month_mean(lag: float, days: int = 30) -> float:
    """Variance of the mean of ``days`` days of an AR(1), as a share of one day's variance."""
    steps = np.arange(1, days)
    return float((1 + 2 * np.sum((1 - steps / days) * lag**steps)) / days)
