"""Hourly temperatures from daily lows and highs.

Parton & Logan 1981 (Agric. Meteorol. 23:205-216): a sine from the low at dawn over the high to
sunset, then exponential decay to the next low. The coefficients are those of air at 150 cm as
printed in the manual of the open-source R package TrenchR.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bedlore.weather.series import FloatArray
from bedlore.weather.sun import SolarClock, day_length_h

# Polar day and night leave no sunset to hang the curve on: the day is kept inside this range.
_SHORTEST_DAY_H, _LONGEST_DAY_H = 3.0, 21.0
_TIED_H = 3.0  # an hour this far from low and high is fully free of the curve (assumed)


@dataclass(frozen=True)
class PartonLogan:
    """Shape of the day: the high comes ``lag_max_h`` after mid-day (shifted by ``lag_min_h``),
    ``decay`` sets how fast the night cools, and the low comes ``lag_min_h`` after sunrise."""

    lag_max_h: float = 1.86
    decay: float = 2.20
    lag_min_h: float = -0.17


AIR_150_CM = PartonLogan()


@dataclass(frozen=True)
class _Times:
    """Dawn (hour of the low), dusk and length of each day of a clock, in solar hours [days]."""

    dawn: FloatArray
    dusk: FloatArray
    length: FloatArray


def _times(clock: SolarClock, latitude_deg: float, shape: PartonLogan) -> _Times:
    length = np.clip(
        day_length_h(latitude_deg, clock.day_of_year), _SHORTEST_DAY_H, _LONGEST_DAY_H
    )
    return _Times(12.0 - length / 2 + shape.lag_min_h, 12.0 + length / 2, length)


def hourly_from_daily(
    low_c: FloatArray,
    high_c: FloatArray,
    clock: SolarClock,
    latitude_deg: float,
    shape: PartonLogan = AIR_150_CM,
    slimness: FloatArray | float = 1.0,
) -> FloatArray:
    """Hourly temperature [degC], shape [M, T], from ``low_c`` and ``high_c`` [M, days].

    ``clock`` belongs to the hours wanted; its ``days`` are the second axis of the inputs. Hours
    before dawn fall from yesterday's sunset to today's low, hours after sunset fall towards
    tomorrow's low. ``slimness`` [days] bends the curve between low and high without moving
    either: above 1 the day is warm for fewer hours, below 1 for more.
    """
    day, hour = clock.day_index, clock.hour
    times = _times(clock, latitude_deg, shape)
    slim = np.broadcast_to(np.asarray(slimness, dtype=float), times.length.shape)
    before_dawn = hour < times.dawn[day]
    after_dusk = hour > times.dusk[day]

    since_low = np.clip(hour - times.dawn[day], 0.0, None)
    wave = np.sin(np.pi * since_low / (times.length[day] + 2 * shape.lag_max_h))
    by_day = low_c[:, day] + (high_c - low_c)[:, day] * np.maximum(wave, 0.0) ** slim[day]

    wave_dusk = np.sin(
        np.pi * (times.length - shape.lag_min_h) / (times.length + 2 * shape.lag_max_h)
    )
    at_dusk = low_c + (high_c - low_c) * np.maximum(wave_dusk, 0.0) ** slim
    evening = np.where(before_dawn, day - 1, day)
    since_dusk = np.where(before_dawn, hour + 24.0, hour) - times.dusk[evening]
    night = 24.0 - times.length[evening]
    next_low = low_c[:, np.minimum(evening + 1, low_c.shape[1] - 1)]
    fall = np.exp(-shape.decay * since_dusk / night)
    by_night = next_low + (at_dusk[:, evening] - next_low) * fall
    return np.asarray(np.where(before_dawn | after_dusk, by_night, by_day))


def freedom(
    clock: SolarClock, latitude_deg: float, shape: PartonLogan = AIR_150_CM
) -> FloatArray:
    """How free an hour is to leave the curve, [T]: 0 at the hours of low and high, 1 far off."""
    times = _times(clock, latitude_deg, shape)
    low_hour = times.dawn[clock.day_index]
    high_hour = low_hour + times.length[clock.day_index] / 2 + shape.lag_max_h
    away = np.minimum(np.abs(clock.hour - low_hour), np.abs(clock.hour - high_hour))
    return np.asarray(np.clip((away - 0.5) / _TIED_H, 0.0, 1.0))


def daily_low_high(
    temp_c: FloatArray, clock: SolarClock, least_hours: int = 20
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest of each day, shapes [days]; NaN where fewer than ``least_hours`` known.

    ``temp_c`` has shape [T].
    """
    count = np.bincount(clock.day_index, minlength=len(clock.days))
    low = np.full(len(clock.days), np.inf)
    high = np.full(len(clock.days), -np.inf)
    np.minimum.at(low, clock.day_index, temp_c)
    np.maximum.at(high, clock.day_index, temp_c)
    short = count < least_hours
    low[short] = np.nan
    high[short] = np.nan
    return low, high
