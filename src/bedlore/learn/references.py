"""Simple forecasts that an outlook has to beat, each dressed with its own fitted spread.

Only readings before the outlook was made are used. The air is that of the weather record, which
favours the references: the outlook had to make do with a forecast.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.say import message
from bedlore.weather.series import WeatherSeries

Floats = NDArray[np.float64]
REFERENCES = {
    "persistence": message("the last reading and no change"),
    "climatology": message("the usual for the season in this bed"),
    "air": message("air temperature plus a constant"),
    "shed_lag": message("a straight line through the last day's air"),
}
_FEWEST = 4
_LEAST_SD_K = 0.3
_WINDOW_D = 45  # of the calendar, either side


@dataclass(frozen=True)
class Past:
    """Readings of one zone, in order of time."""

    at: tuple[dt.datetime, ...]
    temp_c: tuple[float, ...]


@dataclass(frozen=True)
class Record:
    """All readings by bed and zone, and the air they were taken in."""

    zones: dict[tuple[str, str], Past]
    air: WeatherSeries

    def before(self, bed_id: str, zone_id: str, when: dt.datetime) -> Past:
        """Readings of a zone before ``when``."""
        whole = self.zones.get((bed_id, zone_id), Past((), ()))
        kept = [(t, v) for t, v in zip(whole.at, whole.temp_c, strict=True) if t < when]
        return Past(tuple(t for t, _ in kept), tuple(v for _, v in kept))

    def air_c(self, when: dt.datetime, hours: int) -> float | None:
        """Mean air of the ``hours`` up to ``when``; None outside the record."""
        last = int((when - self.air.start) / dt.timedelta(hours=1)) + 1
        first = last - hours
        if first < 0 or last > len(self.air):
            return None
        return float(self.air.temp_c[first:last].mean())


def refer(name: str, record: Record, bed_id: str, zone_id: str, made_at: dt.datetime,
          seen_at: dt.datetime) -> tuple[float, float] | None:  # fmt: skip
    """Mean and standard deviation [degC, K] of a reference for ``seen_at``, as known at
    ``made_at``; None when it has nothing to go by."""
    past = record.before(bed_id, zone_id, made_at)
    if len(past.at) < _FEWEST:
        return None
    match name:
        case "persistence":
            return _persistence(past, seen_at)
        case "climatology":
            return _climatology(past, seen_at)
        case "air" | "shed_lag":
            return _by_air(record, past, seen_at, slope=name == "shed_lag")
        case _:
            raise ValueError(f"there is no reference {name!r}")


def _persistence(past: Past, seen_at: dt.datetime) -> tuple[float, float]:
    """The last reading; its error grows with the square root of the days, as in this bed."""
    days = np.array([t.timestamp() for t in past.at]) / 86400.0
    temp = np.array(past.temp_c)
    steps = np.maximum(np.diff(days), 0.05)
    per_root_day = float(np.sqrt(np.mean(np.diff(temp) ** 2 / np.maximum(steps, 0.5))))
    ahead = (seen_at - past.at[-1]) / dt.timedelta(days=1)
    most = max(float(temp.std()) * 1.4, 1.0)
    return float(temp[-1]), float(np.clip(per_root_day * np.sqrt(ahead), _LEAST_SD_K, most))


def _climatology(past: Past, seen_at: dt.datetime) -> tuple[float, float] | None:
    """Readings of the same weeks of the year; without any, of the last weeks."""
    day = seen_at.timetuple().tm_yday
    apart = [abs((t.timetuple().tm_yday - day + 182) % 365 - 182) for t in past.at]
    near = [v for v, d in zip(past.temp_c, apart, strict=True) if d <= _WINDOW_D]
    if len(near) < _FEWEST:
        return None
    return float(np.mean(near)), max(float(np.std(near, ddof=1)), _LEAST_SD_K)


def _by_air(record: Record, past: Past, seen_at: dt.datetime, *,
            slope: bool) -> tuple[float, float] | None:  # fmt: skip
    """Bed against the mean air of a day before, by least squares."""
    hours = 24
    pairs = [(record.air_c(t, hours), v) for t, v in zip(past.at, past.temp_c, strict=True)]
    known = [(a, v) for a, v in pairs if a is not None]
    there = record.air_c(seen_at, hours)
    if len(known) < _FEWEST or there is None:
        return None
    air, temp = np.array([a for a, _ in known]), np.array([v for _, v in known])
    b = 1.0
    if slope and air.std() > 0.5:
        b = float(np.cov(air, temp)[0, 1] / air.var(ddof=1))
    a = float((temp - b * air).mean())
    left = temp - a - b * air
    freedom = max(len(known) - 1 - slope, 1)
    sd = float(np.sqrt(np.sum(left**2) / freedom + 0.1))
    return a + b * there, max(sd, _LEAST_SD_K)
