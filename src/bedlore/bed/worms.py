"""The life of the worms of one zone: growth, intake, maturity, laying, hatching and death.

Called every hour for every zone, first `sense_cells`, then `spread_over_cells`, then
`live_one_hour`; `worm_hour` does the three. Growth follows d(m^1/3)/dt = phi q h (alpha f -
kappa m^1/3), whose two terms are what the worm builds and what it burns, so that mass closes:
the change of live mass, cocoons included, is assimilated - respired - dead.
"""

from __future__ import annotations

import numpy as np

from bedlore.bed.incubation import advance_cocoons, incubation_warmth
from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Floats, Herd, Parameters, Surroundings
from bedlore.bed.spread import sense_cells, spread_over_cells
from bedlore.bed.worm_responses import (
    cardinal_at,
    clip01,
    cocoon_hazard,
    food_response,
    gone,
    half_food,
    laying_age,
    laying_law,
    worm_hazard,
)

# Places in the flow of one zone; every figure adds to what is there.
INGESTED_KG = 0  # wet-equivalent feed eaten
ASSIMILATED_KG = 1  # live mass built, cocoons included
RESPIRED_KG = 2  # live mass burnt
DEAD_KG = 3  # live mass of corpses and failed cocoons
LAID_N = 4
HATCHED_N = 5  # hatchlings born
DIED_HATCHLING_N = 6
DIED_JUVENILE_N = 7
DIED_ADULT_N = 8
COCOON_LOST_N = 9  # cocoons that died or failed
COCOON_OPENED_N = 10  # cocoons that gave hatchlings
GREW_N = 11  # hatchlings that became juveniles
MATURED_N = 12  # juveniles that became adults
FLOW_SIZE = 13

FEW = 1e-9  # fewer worms than this are written off as dead
EMPTY_QUALITY_KG = 1e-9
STARVING_HATCHLING = 0.6  # of the mass at hatching


@model
def worm_climate(
    p: Parameters, where: Floats, zone: int, around: Surroundings
) -> tuple[float, float, float]:
    """Return growth and laying responses 0..1 and hazard 1/d, averaged over where worms live."""
    growth = lay = hazard = 0.0
    laying = laying_law(p)
    for c in range(where.shape[1]):
        share = where[zone, c]
        if share < 1e-4:
            continue
        temp_c = around.temp_c[c]
        at_ease = share * around.comfort[c]
        growth += at_ease * around.pace[c]
        lay += at_ease * cardinal_at(laying, temp_c)
        hazard += share * worm_hazard(
            p,
            temp_c,
            around.moisture_frac[c],
            around.ammonia_mg_g[c],
            around.oxygen_factor[c],
        )
    return growth, lay, hazard


@model
def cocoon_climate(
    p: Parameters, lying: Floats, zone: int, temp_c: Floats
) -> tuple[float, float, float]:
    """Return incubation K d/d, hazard 1/d and the share of cocoons not too hot to hatch."""
    warm = hazard = cool = 0.0
    for c in range(lying.shape[1]):
        share = lying[zone, c]
        if share < 1e-4:
            continue
        warm += share * incubation_warmth(p, temp_c[c])
        hazard += share * cocoon_hazard(p, temp_c[c])
        if temp_c[c] < p["worm_hatch_tmax_c"]:
            cool += share
    return warm, hazard, min(cool, 1.0)


@model
def forage(around: Surroundings) -> tuple[float, float]:
    """Return the feed within reach (kg, counted by comfort) and its mean quality 0..1."""
    food = 0.0
    worth = 0.0
    for c in range(len(around.food_kg)):
        here = around.food_kg[c] * around.comfort[c]
        food += here
        worth += here * around.food_quality[c]
    # With nothing to eat only upkeep is left, and it goes at full speed.
    return food, (worth + EMPTY_QUALITY_KG) / (food + EMPTY_QUALITY_KG)


@model
def busyness(p: Parameters, food: float, quality: float) -> float:
    """Return how fast all goes in a worm, 0..1: hungry ones burn less, poor food slows them."""
    rest = p["worm_rest_share"]
    return (rest + (1.0 - rest) * food) * (1.0 - food * (1.0 - quality))


@model
def build_and_burn(
    n: float, kg: float, built_per_g: float, burnt_share: float
) -> tuple[float, float, float]:
    """Return mass built kg, mass burnt kg and the sum of m^(2/3) in g, for ``n`` equal worms.

    ``built_per_g`` kg are built for each g^(2/3), ``burnt_share`` of the mass is burnt.
    """
    if n <= 0.0:
        return 0.0, 0.0, 0.0
    length = np.cbrt(1000.0 * kg / n)
    surface = n * length * length
    return built_per_g * surface, min(burnt_share, 0.5) * kg, surface


@model
def shared_area(p: Parameters, area_m2: float, crowd_kg_m2: float) -> float:
    """Return the area over which food counts as spread when worms are in each other's way.

    The food that half-sates grows with the live mass around (the interference of Beddington 1975
    J.Anim.Ecol. 44:331-340, from memory), as if the food lay on so much more ground.
    """
    return area_m2 * (1.0 + crowd_kg_m2 / p["worm_crowd_kg_m2"])


@model
def elbow_room(p: Parameters, crowd_kg_m2: float) -> float:
    """Return 1 for a thin herd, falling to 0 where it is so dense that it stops growing."""
    full = crowd_kg_m2 / p["worm_full_kg_m2"]
    return 1.0 / (1.0 + full * full * full * full)


@model
def condition(p: Parameters, food: float, quality: float) -> float:
    """Return 0..1 how well food response ``food`` covers the upkeep of a worm.

    The cube of this is the mass that is sustained, against the mass when fully fed.
    """
    return food * quality / busyness(p, food, quality)


@model
def starvation(p: Parameters, n: float, kg: float, thin_g: float) -> float:
    """Return the death rate, 1/d, of ``n`` worms of ``kg`` that starve below ``thin_g`` each."""
    bound_kg = 0.001 * thin_g * n
    if kg >= bound_kg:
        return 0.0
    return p["worm_starve_rate"] * min(2.0 - 2.0 * kg / bound_kg, 1.0)


@model
def feed_and_grow(
    p: Parameters,
    herd: Herd,
    zone: int,
    around: Surroundings,
    meal: tuple[float, float],
    growth: float,
    area_m2: float,
    dt_d: float,
    eaten_kg: Floats,
    flow: Floats,
) -> float:
    """Feed the worms of a zone and change their mass; return their `condition` 0..1.

    ``meal`` is what `forage` found. Writes the feed eaten in each cell, kg wet equivalent, to
    ``eaten_kg`` [C].
    """
    within_reach, quality = meal
    food = food_response(half_food(p, area_m2), within_reach * quality)
    young = p["worm_young_pace"]
    built = 0.003 * p["worm_growth_rate"] * food * quality * growth * dt_d
    burnt = 3.0 * p["worm_upkeep_rate"] * busyness(p, food, quality) * growth * dt_d
    built_h, burnt_h, surface_h = build_and_burn(
        herd.hatchling_n[zone], herd.hatchling_kg[zone], young * built, young * burnt
    )
    built_j, burnt_j, surface_j = build_and_burn(
        herd.juvenile_n[zone], herd.juvenile_kg[zone], built, burnt
    )
    built_a, burnt_a, surface_a = build_and_burn(
        herd.adult_n[zone], herd.adult_kg[zone], built, burnt
    )
    herd.hatchling_kg[zone] += built_h - burnt_h
    herd.juvenile_kg[zone] += built_j - burnt_j
    herd.adult_kg[zone] += built_a - burnt_a
    flow[ASSIMILATED_KG] += built_h + built_j + built_a
    flow[RESPIRED_KG] += burnt_h + burnt_j + burnt_a

    surface = surface_h + surface_j + surface_a
    wanted = 0.001 * p["worm_intake_rate"] * growth * food * surface * dt_d
    eaten = min(wanted, 0.2 * within_reach)
    per_kg = eaten / within_reach if within_reach > 0.0 else 0.0
    for c in range(len(eaten_kg)):
        eaten_kg[c] = per_kg * around.food_kg[c] * around.comfort[c]
    flow[INGESTED_KG] += eaten
    return condition(p, food, quality)


@model
def die_one_hour(
    p: Parameters,
    herd: Herd,
    zone: int,
    hazard: float,
    hardship: float,
    newborn_kg: float,
    dt_d: float,
    flow: Floats,
) -> None:
    """Take the dead of each stage out of a zone; the last few of a stage go together.

    ``hazard`` 1/d is common to all, ``hardship`` 1/d that of the young alone; ``newborn_kg`` is
    what `hatchling_kg` returns.
    """
    n = herd.hatchling_n[zone]
    kg = herd.hatchling_kg[zone]
    thin_g = STARVING_HATCHLING * 1000.0 * newborn_kg
    share = gone(p["worm_die_hatchling"] + hazard + hardship + starvation(p, n, kg, thin_g), dt_d)
    if n < FEW:
        share = 1.0
    herd.hatchling_n[zone] = n - share * n
    herd.hatchling_kg[zone] = kg - share * kg
    flow[DIED_HATCHLING_N] += share * n
    flow[DEAD_KG] += share * kg

    n = herd.juvenile_n[zone]
    kg = herd.juvenile_kg[zone]
    thin_g = 1000.0 * newborn_kg
    share = gone(p["worm_die_juvenile"] + hazard + hardship + starvation(p, n, kg, thin_g), dt_d)
    if n < FEW:
        share = 1.0
    herd.juvenile_n[zone] = n - share * n
    herd.juvenile_kg[zone] = kg - share * kg
    herd.juvenile_slow_n[zone] *= 1.0 - share
    flow[DIED_JUVENILE_N] += share * n
    flow[DEAD_KG] += share * kg

    n = herd.adult_n[zone]
    kg = herd.adult_kg[zone]
    share = gone(
        p["worm_die_adult"] + hazard + starvation(p, n, kg, p["worm_starve_adult_g"]), dt_d
    )
    if n < FEW:
        share = 1.0
    herd.adult_n[zone] = n - share * n
    herd.adult_kg[zone] = kg - share * kg
    herd.adult_slow_n[zone] *= 1.0 - share
    herd.adult_age_d[zone] *= 1.0 - share
    flow[DIED_ADULT_N] += share * n
    flow[DEAD_KG] += share * kg


@model
def come_of_age(
    p: Parameters, herd: Herd, zone: int, growth: float, dt_d: float, flow: Floats
) -> None:
    """Pass hatchlings on to juveniles by age, and juveniles to adults by mass."""
    n = herd.juvenile_n[zone]
    kg = herd.juvenile_kg[zone]
    ripe_kg = 0.001 * p["worm_mature_g"] * n
    ripe = kg / ripe_kg if n > 0.0 else 0.0
    ripe3 = ripe * ripe * ripe
    step = growth * dt_d * ripe3 * ripe3
    share = step / (p["worm_mature_d"] * (1.0 + ripe3 * ripe3) + step)
    # The heaviest go first: each takes at least the ripe mass, but they never take all.
    moved_kg = min(share * max(kg, ripe_kg), 0.9 * kg)
    slow_n = share * herd.juvenile_slow_n[zone]
    herd.adult_n[zone] += share * n
    herd.adult_kg[zone] += moved_kg
    herd.adult_slow_n[zone] += slow_n
    herd.adult_age_d[zone] += growth * herd.adult_n[zone] * dt_d
    flow[MATURED_N] += share * n

    grown = growth * dt_d / (p["worm_young_d"] + growth * dt_d)
    grown_n = grown * herd.hatchling_n[zone]
    grown_kg = grown * herd.hatchling_kg[zone]
    herd.hatchling_n[zone] -= grown_n
    herd.hatchling_kg[zone] -= grown_kg
    herd.juvenile_n[zone] = n - share * n + grown_n
    herd.juvenile_kg[zone] = kg - moved_kg + grown_kg
    herd.juvenile_slow_n[zone] += p["worm_slow_share"] * grown_n - slow_n
    flow[GREW_N] += grown_n


@model
def lay_one_hour(
    p: Parameters, herd: Herd, zone: int, laying: float, fed: float, lying_n: float, dt_d: float,
    flow: Floats,
) -> None:  # fmt: skip
    """Lay cocoons where the adults are; what they weigh is built from food on top of growth.

    ``lying_n`` cocoons lie in the zone already.
    """
    adults = herd.adult_n[zone]
    if adults <= 0.0 or laying <= 0.0:
        return
    well = clip01(
        (fed - p["worm_lay_food_low"]) / (p["worm_lay_food_high"] - p["worm_lay_food_low"])
    )
    age = laying_age(p, herd.adult_age_d[zone] / adults)
    laid = p["worm_lay_rate"] * laying * well * age * adults * dt_d
    if laid <= 0.0:
        return
    mix = laid / (lying_n + laid)
    for c in range(herd.where.shape[1]):
        herd.cocoon_where[zone, c] += mix * (herd.where[zone, c] - herd.cocoon_where[zone, c])
    herd.cocoon_n[zone, 0] += laid
    flow[LAID_N] += laid
    flow[ASSIMILATED_KG] += laid * p["worm_cocoon_kg"]


@model
def hatchling_kg(p: Parameters) -> float:
    """Return a hatchling's mass, kg: the parameter, bounded by what a cocoon can give."""
    return min(p["worm_hatch_kg"], p["worm_cocoon_kg"] / p["worm_brood_n"])


@model
def hatch_one_hour(
    p: Parameters, herd: Herd, zone: int, temp_c: Floats, dt_d: float, flow: Floats
) -> float:
    """Incubate, lose and hatch the cocoons of a zone; return how many are left."""
    warm, hazard, cool = cocoon_climate(p, herd.cocoon_where, zone, temp_c)
    share = gone(hazard, dt_d)
    steps = COCOON_STEPS * warm * dt_d / p["worm_incubation_kd"]
    there, due, left = advance_cocoons(herd.cocoon_n, zone, steps, 1.0 - share)
    lost = share * there
    if there < FEW:
        lost = there - due
        left = 0.0
        for k in range(COCOON_STEPS):
            herd.cocoon_n[zone, k] = 0.0
    opened = due * p["worm_hatch_share"] * cool
    born = opened * p["worm_brood_n"]
    born_kg = born * hatchling_kg(p)
    herd.hatchling_n[zone] += born
    herd.hatchling_kg[zone] += born_kg
    lost += due - opened
    flow[COCOON_LOST_N] += lost
    flow[COCOON_OPENED_N] += opened
    flow[HATCHED_N] += born
    # Failed cocoons, and the shells of those that opened.
    flow[DEAD_KG] += (lost + opened) * p["worm_cocoon_kg"] - born_kg
    return left


@model
def is_deserted(herd: Herd, zone: int) -> bool:
    """Return whether a zone holds neither worms nor cocoons."""
    if herd.hatchling_n[zone] + herd.juvenile_n[zone] + herd.adult_n[zone] > 0.0:
        return False
    cocoons_n = 0.0
    for k in range(COCOON_STEPS):
        cocoons_n += herd.cocoon_n[zone, k]
    return cocoons_n <= 0.0


@model
def live_one_hour(
    p: Parameters,
    herd: Herd,
    zone: int,
    around: Surroundings,
    meal: tuple[float, float],
    area_m2: float,
    crowd_kg_m2: float,
    dt_h: float,
    eaten_kg: Floats,
    flow: Floats,
) -> None:
    """Live ``dt_h`` hours in ``zone`` on the ``meal`` that `forage` found.

    Needs `sense_cells` to have run on ``around``.
    ``eaten_kg`` [C] is overwritten with the feed eaten in each cell (kg, wet equivalent, in the
    weighting of ``around.food_kg``); ``flow`` [FLOW_SIZE] is added to. Live mass closes:
    d(hatchlings + juveniles + adults + cocoons x cocoon mass) = assimilated - respired - dead.
    """
    if is_deserted(herd, zone):
        for c in range(len(eaten_kg)):
            eaten_kg[c] = 0.0
        return
    dt_d = dt_h / 24.0
    lying_n = hatch_one_hour(p, herd, zone, around.temp_c, dt_d, flow)
    growth, laying, hazard = worm_climate(p, herd.where, zone, around)
    shared_m2 = shared_area(p, area_m2, crowd_kg_m2)
    fed = feed_and_grow(p, herd, zone, around, meal, growth, shared_m2, dt_d, eaten_kg, flow)
    room = elbow_room(p, crowd_kg_m2)
    hardship = p["worm_hungry_rate"] * clip01(1.0 - fed / p["worm_hungry_below"])
    hardship = growth * (hardship + p["worm_crowd_rate"] * (1.0 - room))
    die_one_hour(p, herd, zone, hazard, hardship, hatchling_kg(p), dt_d, flow)
    come_of_age(p, herd, zone, growth, dt_d, flow)
    lay_one_hour(p, herd, zone, laying * room, fed, lying_n, dt_d, flow)


@model
def worm_hour(
    p: Parameters,
    herd: Herd,
    zone: int,
    around: Surroundings,
    area_m2: float,
    crowd_kg_m2: float,
    dt_h: float,
    eaten_kg: Floats,
    flow: Floats,
) -> tuple[float, float, tuple[float, float]]:
    """Sense, spread and live one zone for ``dt_h`` hours.

    Returns its quality 0..1, its warmth degC and what `forage` found, for
    `bedlore.bed.movement`.
    """
    sense_cells(p, around)
    quality, warmth = spread_over_cells(
        p, herd.where, zone, around, shared_area(p, area_m2, crowd_kg_m2), dt_h
    )
    meal = forage(around)
    live_one_hour(p, herd, zone, around, meal, area_m2, crowd_kg_m2, dt_h, eaten_kg, flow)
    return quality, warmth, meal


def herd_mass_kg(p: Parameters, herd: Herd) -> float:
    """Return the live mass of all worms and cocoons, kg."""
    worms = herd.hatchling_kg.sum() + herd.juvenile_kg.sum() + herd.adult_kg.sum()
    return float(worms + herd.cocoon_n.sum() * p["worm_cocoon_kg"])
