"""Weather as plain data: a summary of a file, and the coming days with their spread."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from bedlore.errors import KeeperError
from bedlore.farm.site import MONTHS, Site
from bedlore.weather.climatology import climate_from_series, daily_record
from bedlore.weather.generator import generate
from bedlore.weather.normals import climate_of
from bedlore.weather.series import WeatherSeries
from bedlore.weather.sun import Spot
from bedlore.weather.typed import Known

AHEAD_MEMBERS = 200
AHEAD_SEED = 2024
_BAND = (0.05, 0.5, 0.95)


def summary_account(series: WeatherSeries, spot: Spot, name: str) -> dict[str, Any]:
    """What ``bedlore weather read --json`` prints. ``normals`` is None for less than a year."""
    return {
        "name": name,
        "latitude_deg": spot.latitude_deg,
        "longitude_deg": spot.longitude_deg,
        "altitude_m": spot.altitude_m,
        "start": series.start.isoformat(),
        "end": series.end.isoformat(),
        "hours": len(series),
        "temp_mean_c": _r(series.temp_c.mean()),
        "temp_low_c": _r(series.temp_c.min()),
        "temp_high_c": _r(series.temp_c.max()),
        "rh_mean_frac": _r(series.rh_frac.mean()),
        "wind_mean_m_s": _r(series.wind_m_s.mean()),
        "months": _months(series, spot),
        "normals": _normals(series, spot),
        "notes": list(series.notes),
    }


def _months(series: WeatherSeries, spot: Spot) -> list[dict[str, Any]]:
    record = daily_record(series, spot.longitude_deg)
    found = []
    for month in np.unique(record.month):
        mine = record.month == month
        found.append({
            "month": MONTHS[month], "days": int(mine.sum()),
            "daily_low_c": _r(record.low_c[mine].mean()),
            "daily_high_c": _r(record.high_c[mine].mean()),
        })  # fmt: skip
    return found


def _normals(series: WeatherSeries, spot: Spot) -> dict[str, list[float]] | None:
    """Twelve values each, ready for ``[site.normals]`` of a farm file."""
    try:
        climate = climate_from_series(series, spot)
    except KeeperError:
        return None
    named = {
        "daily_low_c": climate.low_c, "daily_high_c": climate.high_c, "rh_frac": climate.rh_frac,
        "wind_m_s": climate.wind_m_s, "sd_low_k": climate.sd_low_k, "sd_high_k": climate.sd_high_k,
    }  # fmt: skip
    return {name: [round(float(v), 2) for v in values] for name, values in named.items()}


def ahead_account(site: Site, known: Known, notes: tuple[str, ...], now: dt.datetime,
                  days: int) -> dict[str, Any]:  # fmt: skip
    """What ``bedlore weather ahead --json`` prints: lows and highs of the coming days, each with
    the 5, 50 and 95 % quantile over the drawn futures."""
    climate = climate_of(site)
    zone = site.zone_info()
    first = now.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    start = now.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
    future = generate(climate, start, (days + 1) * 24, AHEAD_MEMBERS, AHEAD_SEED, known)
    told = []
    for ahead in range(days):
        begin = (first + dt.timedelta(days=ahead)).replace(tzinfo=zone)
        part = future.slice(begin, begin + dt.timedelta(days=1))
        if len(part) < LEAST_HOURS:
            continue
        told.append({
            "day": begin.date().isoformat(),
            "low_c": [_r(q) for q in np.quantile(part.temp_c.min(axis=1), _BAND)],
            "high_c": [_r(q) for q in np.quantile(part.temp_c.max(axis=1), _BAND)],
        })  # fmt: skip
    return {"source": future.source, "made_at": start.isoformat(), "members": AHEAD_MEMBERS,
            "days": told, "notes": list(dict.fromkeys([*notes, *future.notes]))}


LEAST_HOURS = 12  # of today, what is left must tell something of its low and high


def _r(value: float | np.floating[Any]) -> float:
    return round(float(value), 2)
