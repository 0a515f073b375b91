"""Movement of worms between neighbouring zones.

Along each link worms move toward the better zone at a rate set by how brisk they are and by the
difference in quality, and flee a hostile zone faster. A slow share of the juveniles and adults
keeps its own, slower rate. Cocoons stay. Every transfer is taken from one zone and given to the
other, so numbers and masses are conserved to rounding.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.jit import model
from bedlore.bed.layout import Floats, Herd, Parameters
from bedlore.bed.worm_responses import clip01, growth_at, growth_law, pace_response

LN_2 = 0.6931471805599453
HOSTILE_QUALITY = 0.25  # below this the best cells of a zone are worth fleeing
COLD_END_C = 4.0  # no movement between zones is claimed below 10 degC: it fades out to here
COLD_START_C = 10.0
LEAST_APPEAL = 0.05  # between two worthless zones differences mean little


@model
def zone_pace(p: Parameters, temp_c: float) -> float:
    """Return the pace of moving between zones against that at 20 degC; fades out below 10."""
    fade = clip01((temp_c - COLD_END_C) / (COLD_START_C - COLD_END_C))
    if fade == 0.0:
        return 0.0
    law = growth_law(p)
    pace = pace_response(p, temp_c, growth_at(law, temp_c))
    return fade * pace / max(growth_at(law, 20.0), 0.1)


@model
def tempting(p: Parameters, food_kg: float, area_m2: float) -> float:
    """Return how much ``food_kg`` of edible feed on ``area_m2`` tempts worms next door, 0..1."""
    food_g = 10.0 * food_kg  # g per 0.01 m2, times the area
    return food_g / (food_g + p["worm_tempt_food_g"] * area_m2)


@model
def zone_appeal(
    p: Parameters, meal: tuple[float, float], quality: float, area_m2: float
) -> tuple[float, float]:
    """Return appeal and threat of a zone, 0..1 each.

    ``meal`` is what `forage` found there, ``quality`` that of its best cells, as
    `spread_over_cells` returns it. Appeal is quality times food: a zone without food keeps
    ``worm_hunger_share`` of it.
    """
    within_reach, food_quality = meal
    # Worms smell out the richer side long after either would fill them.
    food = food_quality * tempting(p, within_reach * food_quality, area_m2)
    hungry = p["worm_hunger_share"]
    appeal = quality * (hungry + (1.0 - hungry) * food)
    return appeal, clip01(1.0 - quality / HOSTILE_QUALITY)


@model
def pull(p: Parameters, better_by: float) -> float:
    """Return the share of the full rate at which worms move to a zone ``better_by`` in appeal.

    Smooth from 0 to 1; a little above 0 between equal zones, so that worms mix.
    """
    x = clip01(0.2 + 0.8 * better_by / p["worm_move_contrast"])
    smooth = x * x * (3.0 - 2.0 * x)
    return p["worm_move_random"] + (1.0 - p["worm_move_random"]) * smooth


@model
def shift_share(herd: Herd, a: int, b: int, young: float, fast: float, slow: float) -> None:
    """Move shares 0..1 of the hatchlings, and of the fast and slow others, from zone a to b."""
    n = young * herd.hatchling_n[a]
    kg = young * herd.hatchling_kg[a]
    herd.hatchling_n[a] -= n
    herd.hatchling_n[b] += n
    herd.hatchling_kg[a] -= kg
    herd.hatchling_kg[b] += kg

    here = herd.juvenile_n[a]
    if here > 0.0:
        slow_n = slow * herd.juvenile_slow_n[a]
        n = slow_n + fast * max(here - herd.juvenile_slow_n[a], 0.0)
        kg = n / here * herd.juvenile_kg[a]
        herd.juvenile_n[a] -= n
        herd.juvenile_n[b] += n
        herd.juvenile_kg[a] -= kg
        herd.juvenile_kg[b] += kg
        herd.juvenile_slow_n[a] -= slow_n
        herd.juvenile_slow_n[b] += slow_n

    here = herd.adult_n[a]
    if here > 0.0:
        slow_n = slow * herd.adult_slow_n[a]
        n = slow_n + fast * max(here - herd.adult_slow_n[a], 0.0)
        kg = n / here * herd.adult_kg[a]
        age = n / here * herd.adult_age_d[a]
        herd.adult_n[a] -= n
        herd.adult_n[b] += n
        herd.adult_kg[a] -= kg
        herd.adult_kg[b] += kg
        herd.adult_slow_n[a] -= slow_n
        herd.adult_slow_n[b] += slow_n
        herd.adult_age_d[a] -= age
        herd.adult_age_d[b] += age


@model
def move_along(
    p: Parameters,
    herd: Herd,
    a: int,
    b: int,
    better_by: float,
    fear: float,
    pace: float,
    dt_d: float,
) -> None:
    """Move worms from zone a to b in ``dt_d`` days; ``fear`` 0..1 is how much
    more threat there is here."""
    drive = pace * pull(p, better_by) * LN_2
    flee = pace * fear * p["worm_flee_rate"]
    fast = drive / p["worm_move_fast_d"] + flee
    slow = drive / p["worm_move_slow_d"] + flee
    young = p["worm_move_young"] * fast
    shift_share(
        herd,
        a,
        b,
        young * dt_d / (1.0 + young * dt_d),
        fast * dt_d / (1.0 + fast * dt_d),
        slow * dt_d / (1.0 + slow * dt_d),
    )


@model
def move_between_zones(
    p: Parameters,
    herd: Herd,
    links: NDArray[np.int64],
    appeal: Floats,
    threat: Floats,
    pace: Floats,
    dt_h: float,
) -> None:
    """Move worms along ``links`` [L, 2] of neighbouring zones for ``dt_h`` hours, in place.

    ``appeal``, ``threat`` [Z] are from `zone_appeal`, ``pace`` [Z] from `zone_pace`.
    """
    dt_d = dt_h / 24.0
    for k in range(links.shape[0]):
        a = links[k, 0]
        b = links[k, 1]
        better = (appeal[b] - appeal[a]) / max(appeal[a], appeal[b], LEAST_APPEAL)
        fear_a = max(threat[a] - threat[b], 0.0)
        fear_b = max(threat[b] - threat[a], 0.0)
        move_along(p, herd, a, b, better, fear_a, pace[a], dt_d)
        move_along(p, herd, b, a, -better, fear_b, pace[b], dt_d)
