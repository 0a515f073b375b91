"""Weather of the invented valley: the generator with an open seed, and cold spells as inputs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from bedlore.farm.site import Site
from bedlore.weather.generator import generate
from bedlore.weather.normals import climate_of
from bedlore.weather.series import FloatArray, WeatherSeries
from bedlore.weather.typed import typed_error_sd_k

SEED = 4860
FIRST_DAY = dt.date(2024, 8, 8)  # the notebook begins before the first bed
LAST_DAY = dt.date(2026, 2, 28)  # yesterday, for the demo's now
DAYS_AHEAD = 6
_BEYOND_D = 16


@dataclass(frozen=True)
class Spell:
    """Days on which the lowest hour comes down (or the highest up) to ``extreme_c``."""

    first: dt.date
    last: dt.date
    extreme_c: float
    hot: bool = False


SPELLS = (
    Spell(dt.date(2025, 1, 10), dt.date(2025, 1, 18), -19.0),
    Spell(dt.date(2025, 7, 9), dt.date(2025, 7, 14), 30.5, hot=True),
    Spell(dt.date(2026, 1, 9), dt.date(2026, 1, 19), -16.5),
    Spell(dt.date(2026, 2, 25), dt.date(2026, 3, 4), -10.5),
)
_EDGE_D = 2.0  # a spell comes and goes over this


def outdoor(site: Site) -> WeatherSeries:
    """Hourly weather at the mill from the first day of the notebook to a fortnight after now."""
    zone = site.zone_info()
    start = dt.datetime.combine(FIRST_DAY, dt.time(0), zone)
    days = (LAST_DAY - FIRST_DAY).days + 1 + _BEYOND_D
    drawn = generate(climate_of(site), start, 24 * days, 1, SEED).member(0)
    temp_c = drawn.temp_c.copy()
    for spell in SPELLS:
        temp_c += _shift(drawn.start, temp_c, spell, zone)
    return replace(drawn, temp_c=temp_c, source="invented")


def _shift(start: dt.datetime, temp_c: FloatArray, spell: Spell, zone: ZoneInfo) -> FloatArray:
    """What is added to each hour so that the spell's core just reaches its extreme."""
    first = dt.datetime.combine(spell.first, dt.time(0), zone)
    last = dt.datetime.combine(spell.last + dt.timedelta(days=1), dt.time(0), zone)
    hour = np.arange(len(temp_c), dtype=float)
    begin, end = ((moment - start) / dt.timedelta(hours=1) for moment in (first, last))
    rise = np.clip((hour - begin) / (24 * _EDGE_D), 0.0, 1.0)
    fall = np.clip((end - hour) / (24 * _EDGE_D), 0.0, 1.0)
    weight = np.minimum(rise, fall)
    core = temp_c[weight >= 0.75]
    extreme = core.max() if spell.hot else core.min()
    return np.asarray(weight * (spell.extreme_c - extreme))


def daily(series: WeatherSeries, zone: ZoneInfo) -> dict[dt.date, tuple[float, float]]:
    """Low and high [degC] of each local day, as the village station writes them."""
    days: dict[dt.date, list[float]] = {}
    for moment, temp in zip(series.hours(), series.temp_c, strict=True):
        days.setdefault(moment.astimezone(zone).date(), []).append(float(temp))
    return {day: (round(min(temps), 1), round(max(temps), 1)) for day, temps in days.items()}


def notebook(days: dict[dt.date, tuple[float, float]], last: dt.date = LAST_DAY) -> str:
    """``weather.csv``: one line a day up to ``last``."""
    lines = ["date,low_degC,high_degC"]
    lines += [f"{day},{low},{high}" for day, (low, high) in days.items() if day <= last]
    return "\n".join(lines) + "\n"


def days_ahead(days: dict[dt.date, tuple[float, float]], today: dt.date) -> str:
    """``days-ahead.txt``: what the radio says of the coming days, wrong as forecasts are."""
    rng = np.random.default_rng([SEED, today.toordinal()])
    lines, miss = [], 0.0
    for ahead in range(DAYS_AHEAD):
        day = today + dt.timedelta(days=ahead)
        miss = 0.7 * miss + 0.7 * typed_error_sd_k(ahead) * rng.standard_normal()
        low, high = (round(value + miss) for value in days[day])
        lines.append(f"{day}: {low} degC to {max(high, low + 1)} degC")
    return "\n".join(lines) + "\n"
