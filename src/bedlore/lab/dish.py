"""A dish of worms at a set temperature and moisture, as in life-history experiments.

One well-mixed layer goes hour by hour through the worm functions of the bed. Feed has a fast and
a slow carbon pool; it falls by what worms digest and by microbes at a stated rate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.jit import model
from bedlore.bed.layout import Floats, Herd, Parameters, Surroundings, new_herd, new_surroundings
from bedlore.bed.worms import FLOW_SIZE, HATCHED_N, LAID_N, worm_hour
from bedlore.errors import KeeperError
from bedlore.facts.parameters_worms import WORM_PARAMETERS

REFERENCE_DRY_FRAC = 0.20  # edible feed is counted as feed of 20 % dry matter, 45 % of it carbon
DECAY_Q10 = 2.0
Stage = Literal["hatchling", "juvenile", "adult"]


@dataclass(frozen=True)
class Feed:
    """A material: dry share of wet mass, quality 0..1, and how it decays.

    ``edible_share`` of the dry matter can be eaten at all, ``fast_share`` of that is fresh and
    goes at ``fast_per_day``, the rest at ``slow_per_day`` (1/d, both at 20 degC).
    """

    dry_frac: float
    quality: float
    edible_share: float = 0.6
    fast_share: float = 0.5
    fast_per_day: float = 0.10
    slow_per_day: float = 0.002


@dataclass(frozen=True)
class Meal:
    """``wet_g`` of ``feed`` given at the start of ``day``; ``renew`` takes the old feed out."""

    day: int
    feed: Feed
    wet_g: float
    renew: bool = False


@dataclass(frozen=True)
class DishResult:
    """What a dish did: one value a day, day 0 first. Numbers are of the whole dish."""

    day: NDArray[np.int64]
    mean_mass_g: Floats  # live worms, all stages; nan when none live
    cocoons: Floats  # laid so far
    hatched: Floats  # hatchlings born so far
    n_cocoon: Floats
    n_hatchling: Floats
    n_juvenile: Floats
    n_adult: Floats
    food_g: Floats  # edible feed left, wet equivalent
    food_response: Floats  # 0..1, of the food as worms taste it


@model
def dish_hour(
    p: Parameters,
    herd: Herd,
    around: Surroundings,
    area_m2: float,
    pools_kg: Floats,
    quality: Floats,
    rate_per_h: Floats,
    eaten_kg: Floats,
    flow: Floats,
) -> None:
    """Live one hour in a dish of feeds ``pools_kg`` [F, 2] (fast, slow) of ``quality`` [F]."""
    food = worth = 0.0
    for f in range(len(quality)):
        tasted = pools_kg[f, 0] + p["worm_slow_food_taste"] * pools_kg[f, 1]
        food += tasted
        worth += tasted * quality[f]
    around.food_kg[0] = food
    around.food_quality[0] = worth / food if food > 0.0 else 1.0
    worm_hour(p, herd, 0, around, area_m2, 1.0, eaten_kg, flow)
    taken = p["worm_digested_share"] * eaten_kg[0] / food if food > 0.0 else 0.0
    for f in range(len(quality)):
        pools_kg[f, 0] *= (1.0 - taken) * (1.0 - rate_per_h[f, 0])
        pools_kg[f, 1] *= (1.0 - taken * p["worm_slow_food_taste"]) * (1.0 - rate_per_h[f, 1])


@model
def dish_day(
    p: Parameters,
    herd: Herd,
    around: Surroundings,
    area_m2: float,
    pools_kg: Floats,
    quality: Floats,
    rate_per_h: Floats,
    eaten_kg: Floats,
    flow: Floats,
) -> None:
    """Live 24 hours in a dish."""
    for _ in range(24):
        dish_hour(p, herd, around, area_m2, pools_kg, quality, rate_per_h, eaten_kg, flow)


def worm_defaults(params: Mapping[str, float] | None = None) -> dict[str, float]:
    """Return the worm parameters at their defaults, changed by ``params``."""
    values = {parameter.name: parameter.default for parameter in WORM_PARAMETERS}
    for name, value in (params or {}).items():
        if name not in values:
            raise KeeperError(f"There is no worm parameter {name}.", fix="See `bedlore params`.")
        values[name] = value
    return values


def dish(
    area_m2: float,
    days: int,
    temp_c: float | Sequence[float],
    moisture_frac: float | Sequence[float],
    worms_n: float,
    mass_g: float,
    meals: Sequence[Meal],
    *,
    stage: Stage = "hatchling",
    take_cocoons: bool = True,
    adults_out_day: int | None = None,
    params: Mapping[str, float] | None = None,
) -> DishResult:
    """Keep ``worms_n`` worms of ``mass_g`` each in a dish for ``days`` days.

    ``temp_c`` and ``moisture_frac`` (wet basis) are constant or one value a day. With
    ``take_cocoons`` the cocoons are counted and taken out every day; on ``adults_out_day`` the
    adults are taken out. Raises KeeperError for a dish without area or worms, or a series
    shorter than the run.
    """
    if area_m2 <= 0 or worms_n <= 0 or mass_g <= 0:
        raise KeeperError("A dish needs an area, worms and their mass above zero.")
    temps = _daily(temp_c, days, "temperature")
    moistures = _daily(moisture_frac, days, "moisture")
    p = worm_defaults(params)
    herd = _founders(p, stage, worms_n, mass_g)
    around = new_surroundings(1)
    around.oxygen_factor[:] = around.reach[:] = 1.0
    around.thickness_m[:] = 0.05
    feeds = list(dict.fromkeys(meal.feed for meal in meals))
    pools_kg = np.zeros((len(feeds), 2))
    quality = np.array([feed.quality for feed in feeds])
    rates = np.array([[feed.fast_per_day, feed.slow_per_day] for feed in feeds]).reshape(-1, 2)
    eaten_kg, flow = np.zeros(1), np.zeros(FLOW_SIZE)
    rows = []
    for day in range(days + 1):
        if day == adults_out_day:
            for adults in (herd.adult_n, herd.adult_kg, herd.adult_slow_n, herd.adult_age_d):
                adults[:] = 0.0
        for meal in meals:
            if meal.day == day:
                _serve(meal, feeds.index(meal.feed), pools_kg)
        rows.append(_row(p, herd, pools_kg, area_m2, flow))
        if day == days:
            break
        around.temp_c[:], around.moisture_frac[:] = temps[day], moistures[day]
        rate_per_h = rates * DECAY_Q10 ** ((temps[day] - 20.0) / 10.0) / 24.0
        dish_day(p, herd, around, area_m2, pools_kg, quality, rate_per_h, eaten_kg, flow)
        if take_cocoons:
            herd.cocoon_n[:] = 0.0
    return DishResult(np.arange(days + 1), *np.array(rows).T)


def _daily(value: float | Sequence[float], days: int, what: str) -> Floats:
    series = (
        np.broadcast_to(np.asarray(value, dtype=float), (days,))
        if np.ndim(value) == 0
        else (np.asarray(value, dtype=float))
    )
    if len(series) < days:
        raise KeeperError(f"The {what} series has {len(series)} days, the run {days}.")
    return series


def _founders(p: Parameters, stage: Stage, worms_n: float, mass_g: float) -> Herd:
    herd = new_herd(1, 1)
    kg = worms_n * mass_g / 1000.0
    if stage == "hatchling":
        herd.hatchling_n[0], herd.hatchling_kg[0] = worms_n, kg
    elif stage == "juvenile":
        herd.juvenile_n[0], herd.juvenile_kg[0] = worms_n, kg
    else:
        herd.adult_n[0], herd.adult_kg[0] = worms_n, kg
        herd.adult_age_d[0] = worms_n * 2.0 * p["worm_first_cocoon_d"]
    return herd


def _serve(meal: Meal, feed: int, pools_kg: Floats) -> None:
    if meal.renew:
        pools_kg[:] = 0.0
    edible = meal.wet_g / 1000.0 * meal.feed.dry_frac / REFERENCE_DRY_FRAC * meal.feed.edible_share
    pools_kg[feed, 0] += edible * meal.feed.fast_share
    pools_kg[feed, 1] += edible * (1.0 - meal.feed.fast_share)


def _row(
    p: Parameters, herd: Herd, pools_kg: Floats, area_m2: float, flow: Floats
) -> tuple[float, ...]:
    worms = float(herd.hatchling_n[0] + herd.juvenile_n[0] + herd.adult_n[0])
    kg = float(herd.hatchling_kg[0] + herd.juvenile_kg[0] + herd.adult_kg[0])
    tasted = float(pools_kg[:, 0].sum() + p["worm_slow_food_taste"] * pools_kg[:, 1].sum())
    food_g = 10.0 * tasted / area_m2
    return (
        1000.0 * kg / worms if worms > 0 else float("nan"),
        float(flow[LAID_N]),
        float(flow[HATCHED_N]),
        float(herd.cocoon_n.sum()),
        float(herd.hatchling_n[0]),
        float(herd.juvenile_n[0]),
        float(herd.adult_n[0]),
        1000.0 * float(pools_kg.sum()),
        food_g / (food_g + p["worm_half_food_g"]),
    )
