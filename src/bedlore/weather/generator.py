"""Stochastic weather from monthly normals, so that everything works without a network.

Days come from :mod:`bedlore.weather.daily`, hours from :mod:`bedlore.weather.diurnal` plus an
autoregressive residual that stays inside the day's low and high. Humidity, wind and sun are
simple companions of the temperature, good enough for evaporation and building air.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from bedlore.say import joined, say, say_many
from bedlore.weather.air import saturation_pa
from bedlore.weather.daily import DailyModel, HourReading, Pull
from bedlore.weather.diurnal import daily_low_high, freedom, hourly_from_daily
from bedlore.weather.normals import Climate, daily_curve
from bedlore.weather.series import FloatArray, WeatherEnsemble, whole_utc_hour
from bedlore.weather.sun import SolarClock, ghi_from_range, solar_clock
from bedlore.weather.typed import (
    Known,
    Reading,
    TypedDay,
    check_typed_days,
    forecast_error_sd_k,
)

_HOURLY_SD_K, _HOURLY_LAG = 1.4, 0.9  # residual about the day's curve (assumed)
_READING_FADES_H = 6.0  # how long a reading's departure within the day lasts (assumed)
_FORECAST_FADES_H = 24.0  # how long members remember where a forecast left them (assumed)
_FORECAST_ERROR_LAG_H = 24.0
_RH_SD, _RH_LAG = 0.10, 0.6  # daily humidity about its normal (assumed)
_WIND_LOG_SD, _WIND_LAG = 0.45, 0.5  # daily wind about its normal, log scale (assumed)
_WIND_SWING = 0.3  # afternoon over mean wind, less one (assumed)
_OLDEST_READING_H = 24 * 7
_SOFT_EDGE_H = 3


@dataclass(frozen=True)
class _Span:
    """The hours worked on: some before the first one wanted when the reading is older."""

    first: datetime
    lead_h: int
    clock: SolarClock


def generate(
    climate: Climate,
    start: datetime,
    hours: int,
    members: int,
    seed: int,
    condition_on: Known | None = None,
) -> WeatherEnsemble:
    """``members`` equally likely futures of ``hours`` hours from ``start`` (aware).

    The same ``seed`` gives the same members, and a longer horizon only adds hours at the end.
    ``condition_on`` holds them to the last reading (not older than a week), typed days or a
    service's forecast. Raises ``ValueError`` for fewer than one hour or member and
    :class:`bedlore.errors.FaultList` for typed days that cannot be.
    """
    if hours < 1 or members < 1:
        raise ValueError("the generator needs at least one hour and one member")
    known = condition_on or Known()
    check_typed_days(known.typed)
    span = _span(climate, start, hours, known.reading)
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(8)]

    reading = _hour_reading(span, known.reading, members, streams[6])
    pull = Pull(
        today=int(span.clock.day_index[span.lead_h]),
        typed=_typed_by_day(known, climate, span.clock),
        reading=reading,
    )
    model = DailyModel(climate, span.clock, members, streams[0])
    low, high = model.simulate(pull, streams[1], streams[2])
    temp = _hourly_temperature(climate, span.clock, low, high, streams[3])
    if reading is not None:
        temp = _through_reading(temp, reading)
    ensemble = WeatherEnsemble(
        start=span.first - timedelta(hours=span.lead_h),
        temp_c=temp,
        rh_frac=_humidity(climate, span.clock, temp, streams[4]),
        wind_m_s=_wind(climate, span.clock, members, streams[5]),
        ghi_w_m2=ghi_from_range(climate.latitude_deg, climate.altitude_m, span.clock, high - low),
        source=_source(known),
    ).slice(span.first, span.first + timedelta(hours=hours))
    wanted = _without_lead(span)
    return _along_forecast(ensemble, known, wanted, model.spread_k[wanted.day_index], streams[7])


def _without_lead(span: _Span) -> SolarClock:
    clock = span.clock
    return SolarClock(clock.days, clock.day_index[span.lead_h:], clock.hour[span.lead_h:])


def ar1(rng: np.random.Generator, members: int, steps: int, lag: float) -> FloatArray:
    """Stationary first-order autoregression of unit variance, shape [members, steps]."""
    draws = rng.standard_normal((steps, members))
    draws[1:] *= np.sqrt(1.0 - lag * lag)
    for step in range(1, steps):
        draws[step] += lag * draws[step - 1]
    return np.asarray(draws.T)


def _span(climate: Climate, start: datetime, hours: int, reading: Reading | None) -> _Span:
    first = whole_utc_hour(start)
    lead = 0
    if reading is not None:
        ago = (first - whole_utc_hour(reading.at)) // timedelta(hours=1)
        lead = ago if 0 < ago <= _OLDEST_READING_H else 0
    begin = first - timedelta(hours=lead)
    return _Span(first, lead, solar_clock(begin, hours + lead, climate.longitude_deg))


def _hour_reading(
    span: _Span, reading: Reading | None, members: int, rng: np.random.Generator
) -> HourReading | None:
    """The reading on the clock of ``span``, or None when it is not there or too old."""
    if reading is None:
        return None
    begin = span.first - timedelta(hours=span.lead_h)
    index = (whole_utc_hour(reading.at) - begin) // timedelta(hours=1)
    if not 0 <= index < len(span.clock.hour):
        return None
    return HourReading(index, reading.temp_c + reading.error_k * rng.standard_normal(members))


def _typed_by_day(known: Known, climate: Climate, clock: SolarClock) -> dict[int, TypedDay]:
    """Typed and forecast days by their index in ``clock.days``."""
    found: dict[int, TypedDay] = {}
    if known.forecast is not None:
        ahead = solar_clock(known.forecast.start, len(known.forecast), climate.longitude_deg)
        low, high = daily_low_high(known.forecast.temp_c, ahead)
        for day, low_c, high_c in zip(ahead.days, low, high, strict=True):
            if np.isfinite(low_c):
                typed = TypedDay(_as_date(day), float(low_c), float(high_c))
                found[_day_index(clock, typed.day)] = typed
    for typed in known.typed:
        found[_day_index(clock, typed.day)] = typed
    return found


def _day_index(clock: SolarClock, day: date) -> int:
    return int((np.datetime64(day, "D") - clock.days[0]).astype(np.int64))


def _as_date(day: np.datetime64) -> date:
    return date(1970, 1, 1) + timedelta(days=int(day.astype("datetime64[D]").astype(np.int64)))


def _hourly_temperature(
    climate: Climate,
    clock: SolarClock,
    low_c: FloatArray,
    high_c: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Curve of the day plus a residual; each day's low and high stay what they are."""
    temp = hourly_from_daily(
        low_c, high_c, clock, climate.latitude_deg,
        slimness=climate.slimness_curve[clock.day_of_year],
    )
    free = _HOURLY_SD_K * freedom(clock, climate.latitude_deg)
    temp += free * ar1(rng, low_c.shape[0], len(clock.hour), _HOURLY_LAG)
    # An evening may already fall below today's low towards tomorrow's.
    floor = low_c[:, clock.day_index]
    evening = clock.hour >= 12.0
    tomorrow = low_c[:, np.minimum(clock.day_index + 1, low_c.shape[1] - 1)]
    floor = np.where(evening, np.minimum(floor, tomorrow), floor)
    return np.clip(temp, floor, high_c[:, clock.day_index])


def _through_reading(temp_c: FloatArray, reading: HourReading) -> FloatArray:
    away = np.abs(np.arange(temp_c.shape[1]) - reading.index)
    miss = reading.temp_c - temp_c[:, reading.index]
    return np.asarray(temp_c + miss[:, None] * np.exp(-away / _READING_FADES_H))


def _along_forecast(
    ensemble: WeatherEnsemble,
    known: Known,
    clock: SolarClock,
    spread_k: FloatArray,
    rng: np.random.Generator,
) -> WeatherEnsemble:
    """Members follow the forecast with a growing error, then return to their own way.

    ``spread_k`` [T] is the climate's own spread: an error wider than that would make the
    forecast worse than none. Days the keeper typed stay as they are.
    """
    forecast = known.forecast
    if forecast is None:
        return ensemble
    part = forecast.slice(ensemble.start, ensemble.end)
    if len(part) == 0:
        return ensemble
    begin = int((part.start - ensemble.start) / timedelta(hours=1))
    span = slice(begin, begin + len(part))
    ahead_h = (part.start - forecast.start) / timedelta(hours=1) + np.arange(float(len(part)))
    error_sd = np.minimum(forecast_error_sd_k(ahead_h), spread_k[span])
    lag = float(np.exp(-1.0 / _FORECAST_ERROR_LAG_H))
    follow = part.temp_c + error_sd * ar1(rng, ensemble.members, len(part), lag)
    weight = _forecast_weight(known, clock, span)

    temp = ensemble.temp_c.copy()
    miss = follow - temp[:, span]
    temp[:, span] += weight * miss
    after = np.arange(temp.shape[1] - span.stop)
    temp[:, span.stop:] += (weight[-1] * miss[:, -1:]) * np.exp(-(after + 1) / _FORECAST_FADES_H)
    others = {}
    for name in ("rh_frac", "wind_m_s", "ghi_w_m2"):
        values = getattr(ensemble, name).copy()
        values[:, span] += weight * (getattr(part, name) - values[:, span])
        others[name] = values
    return replace(ensemble, temp_c=temp, notes=forecast.notes, **others)


def _forecast_weight(known: Known, clock: SolarClock, span: slice) -> FloatArray:
    """1 where the forecast rules, 0 on typed days, with soft edges of some hours; [hours]."""
    typed = np.array([_day_index(clock, day.day) for day in known.typed], dtype=np.int64)
    rules = (~np.isin(clock.day_index[span], typed)).astype(float)
    padded = np.pad(rules, _SOFT_EDGE_H, mode="edge")
    window = np.ones(2 * _SOFT_EDGE_H + 1) / (2 * _SOFT_EDGE_H + 1)
    return np.convolve(padded, window, mode="valid")


def _humidity(
    climate: Climate, clock: SolarClock, temp_c: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Relative humidity [0..1]: a day's vapour pressure stays, its saturation follows the hour."""
    members, days = temp_c.shape[0], len(clock.days)
    normal = daily_curve(climate.rh_frac)[clock.day_of_year]
    target = np.clip(normal + _RH_SD * ar1(rng, members, days, _RH_LAG), 0.05, 1.0)
    dryness = 1.0 / saturation_pa(temp_c)
    counts = np.maximum(np.bincount(clock.day_index, minlength=days), 1)
    sums = np.zeros((members, days))
    edges = np.flatnonzero(np.diff(clock.day_index, prepend=-1))
    sums[:, clock.day_index[edges]] = np.add.reduceat(dryness, edges, axis=1)
    vapour = target * counts / np.where(sums > 0, sums, 1.0)
    return np.clip(vapour[:, clock.day_index] * dryness, 0.02, 1.0)


def _wind(
    climate: Climate, clock: SolarClock, members: int, rng: np.random.Generator
) -> FloatArray:
    normal = np.maximum(daily_curve(climate.wind_m_s)[clock.day_of_year], 0.1)
    wave = _WIND_LOG_SD * ar1(rng, members, len(clock.days), _WIND_LAG)
    daily = normal * np.exp(wave - _WIND_LOG_SD**2 / 2)
    swing = 1.0 + _WIND_SWING * np.cos(2 * np.pi * (clock.hour - 14.0) / 24.0)
    return np.asarray(daily[:, clock.day_index] * swing)


def _source(known: Known) -> str:
    parts: list[str] = [say("generated from monthly normals")]
    if known.reading is not None:
        parts.append(say("starting at the last reading"))
    if known.typed:
        parts.append(say_many("{count} typed day", "{count} typed days", len(known.typed)))
    if known.forecast is not None:
        parts.append(say(known.forecast.source))
    return joined(parts)
