"""The worms' place in the bed's matter: what they eat, burn, cast and leave behind.

The biology is in :mod:`bedlore.bed.worms`; here its flows are booked on the carbon, nitrogen,
ash and water of the cells, so that every balance of the bed includes its worms.
"""

from __future__ import annotations

from bedlore.bed.cells import (
    CARBON_RESPIRED,
    COCOONS_LAID,
    COCOONS_SPENT,
    EATEN,
    FAST,
    HEAT_CARRIED,
    HEAT_DECAY,
    HUMUS,
    MEDIUM,
    SLOW,
    WATER_MADE,
    WORMS_DIED,
    WORMS_HATCHED,
    Cells,
    Geometry,
    Work,
    Zones,
)
from bedlore.bed.jit import model
from bedlore.bed.layout import Herd, Surroundings
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    DRY_PER_CARBON,
    OXYGEN_PER_CARBON,
    WATER_PER_CARBON,
    water_heat,
)
from bedlore.bed.movement import move_between_zones, zone_appeal, zone_pace
from bedlore.bed.pools import pools_of, put_pools, times
from bedlore.bed.worms import (
    ASSIMILATED_KG,
    COCOON_LOST_N,
    COCOON_OPENED_N,
    DEAD_KG,
    DIED_ADULT_N,
    DIED_HATCHLING_N,
    DIED_JUVENILE_N,
    FLOW_SIZE,
    HATCHED_N,
    INGESTED_KG,
    LAID_N,
    RESPIRED_KG,
    worm_hour,
)

# Wet feed that a kg of edible carbon stands for: 20 % dry matter of 45 % carbon (derived).
WET_PER_CARBON = 11.1
# Half-times of movement are told of home beds with sides about this long (assumed).
SIDE_M = 0.9
MOST_HASTE = 4.0
# A live worm: 84 % water; its dry matter 48 % carbon, 10 % nitrogen, 6 % ash (from memory).
LIVE_WATER = 0.84
LIVE_CARBON = 0.16 * 0.48
LIVE_NITROGEN = 0.16 * 0.10
LIVE_ASH = 0.16 * 0.06


@model
def live_zone(p, geometry: Geometry, cells: Cells, work: Work, herd: Herd, tally, z, others_kg):  # type: ignore[no-untyped-def]
    """One hour of the worms of a zone, with everything they take and give.

    ``others_kg`` of worms counted in another herd crowd them too.
    """
    live_kg = herd.hatchling_kg[z] + herd.juvenile_kg[z] + herd.adult_kg[z] + others_kg
    crowd_kg_m2 = live_kg / geometry.area_m2[z]
    _find_food(p, cells, work, z)
    around = Surroundings(
        cells.temp_c[z],
        work.moisture_frac[z],
        work.oxygen_factor[z],
        work.ammonia_mg_g[z],
        work.food_kg[z],
        work.quality[z],
        work.thickness_m[z],
        work.reach[z],
        work.comfort[z],
        work.pace[z],
        work.liking[z],
        work.draw[z],
    )
    flow = work.flow
    for i in range(FLOW_SIZE):
        flow[i] = 0.0
    quality, warmth_c, meal = worm_hour(
        p, herd, z, around, geometry.area_m2[z], crowd_kg_m2, 1.0, work.eaten_kg, flow
    )
    appeal, threat = zone_appeal(p, meal, quality, geometry.area_m2[z])
    work.appeal[z] = appeal
    work.threat[z] = threat
    work.zone_pace[z] = zone_pace(p, warmth_c)
    tally[z, EATEN] += flow[INGESTED_KG]
    tally[z, WORMS_HATCHED] += flow[HATCHED_N]
    tally[z, WORMS_DIED] += flow[DIED_ADULT_N] + flow[DIED_JUVENILE_N] + flow[DIED_HATCHLING_N]
    tally[z, COCOONS_LAID] += flow[LAID_N]
    tally[z, COCOONS_SPENT] += flow[COCOON_LOST_N] + flow[COCOON_OPENED_N]
    _book_matter(p, cells, work, herd, tally, z)


@model
def _find_food(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Write what worms can eat in each cell and how good it is."""
    medium_share = p["food_medium_share"]
    slow_share = p["food_slow_share"]
    for c in range(cells.temp_c.shape[1]):
        fast = cells.carbon_kg[z, c, FAST]
        medium = cells.carbon_kg[z, c, MEDIUM]
        slow = cells.carbon_kg[z, c, SLOW]
        food = fast + medium_share * medium + slow_share * slow
        edible = fast + medium + slow
        per_edible = 1.0 / edible if edible > 0.0 else 0.0
        work.food_kg[z, c] = WET_PER_CARBON * food
        work.per_edible[z, c] = per_edible
        work.quality[z, c] = cells.quality_kg[z, c] * per_edible


@model
def _book_matter(p, cells: Cells, work: Work, herd: Herd, tally, z):  # type: ignore[no-untyped-def]
    """Book on every cell what its worms have eaten, burnt, built and left behind.

    What is eaten passes the worms cell by cell; tissue is built where it was eaten (in the top
    cell when nothing was), burnt and dead tissue goes back to where the worms live. What finds
    no nitrogen in the whole zone is not built after all.
    """
    n_cells = cells.temp_c.shape[1]
    flow = work.flow
    if flow[INGESTED_KG] + flow[ASSIMILATED_KG] + flow[RESPIRED_KG] + flow[DEAD_KG] <= 0.0:
        return
    freezing_range_k = p["freezing_range_k"]
    heat_per_oxygen_j_kg = p["heat_per_oxygen_j_kg"]
    eaten_kg = flow[INGESTED_KG]
    built_per_eaten = flow[ASSIMILATED_KG] / eaten_kg if eaten_kg > 0.0 else 0.0
    held = 0.0
    for c in range(n_cells):
        held += herd.where[z, c]
    # Where nobody knows where they are, they are everywhere alike.
    per_held = 1.0 / held if held > 0.0 else 0.0
    evenly = 0.0 if held > 0.0 else 1.0 / n_cells
    for c in range(n_cells):
        # The cell's pools give in proportion to what a worm finds in them.
        food_kg = work.food_kg[z, c]
        share = work.eaten_kg[c] / food_kg if food_kg > 0.0 else 0.0
        work.eaten_share[c] = min(0.5, share)
    unbuilt_kg = 0.0
    total_heat_j = 0.0
    total_made_kg = 0.0
    total_respired_kg = 0.0
    carried_j = 0.0
    for c in range(n_cells):
        here = herd.where[z, c] * per_held + evenly
        burnt_kg = flow[RESPIRED_KG] * here
        dead_kg = flow[DEAD_KG] * here
        built_kg = built_per_eaten * work.eaten_kg[c]
        if eaten_kg <= 0.0 and c == 0:
            built_kg = flow[ASSIMILATED_KG]
        if here <= 0.0 and work.eaten_kg[c] <= 0.0 and built_kg <= 0.0:
            continue
        oxygen_kg, made_kg, respired_kg, dry_change_kg = _pass_through(p, cells, work, z, c)
        burnt_c = LIVE_CARBON * burnt_kg
        oxygen_kg += burnt_c * OXYGEN_PER_CARBON[FAST]
        made_kg += burnt_c * WATER_PER_CARBON[FAST]
        respired_kg += burnt_c
        lacking_kg = _take_for_tissue(cells, z, c, LIVE_NITROGEN * built_kg) / LIVE_NITROGEN
        built_kg -= lacking_kg
        unbuilt_kg += lacking_kg
        live_kg = burnt_kg + dead_kg - built_kg
        dry_change_kg += _exchange_carbon(
            cells, z, c, LIVE_CARBON * built_kg, LIVE_CARBON * dead_kg
        )
        cells.ammonia_kg[z, c] += LIVE_NITROGEN * (burnt_kg + dead_kg)
        cells.ash_kg[z, c] += LIVE_ASH * live_kg
        dry_change_kg += LIVE_ASH * live_kg
        water_kg = made_kg + LIVE_WATER * live_kg
        cells.water_kg[z, c] += water_kg
        temp_c = cells.temp_c[z, c]
        carried_j += water_kg * water_heat(temp_c, freezing_range_k)
        carried_j += dry_change_kg * DRY_HEAT_J_KGK * temp_c
        heat_j = oxygen_kg * heat_per_oxygen_j_kg
        work.source_w[z, c] += heat_j * (1.0 / 3600.0)
        total_heat_j += heat_j
        total_made_kg += made_kg
        total_respired_kg += respired_kg
    if unbuilt_kg > 0.0:
        _unbuild(herd, z, unbuilt_kg)
    tally[z, HEAT_DECAY] += total_heat_j
    tally[z, CARBON_RESPIRED] += total_respired_kg
    tally[z, WATER_MADE] += total_made_kg
    tally[z, HEAT_CARRIED] += carried_j


@model
def _pass_through(p, cells: Cells, work: Work, z, c):  # type: ignore[no-untyped-def]
    """Pass what was eaten in a cell through the worms: some burnt, the rest cast.

    Returns oxygen used, water made, carbon burnt and change of dry mass [kg].
    """
    share = work.eaten_share[c]
    if share <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    carbon = pools_of(cells.carbon_kg, z, c)
    nitrogen = pools_of(cells.nitrogen_kg, z, c)
    medium_share = share * p["food_medium_share"]
    slow_share = share * p["food_slow_share"]
    fast = share * carbon[FAST]
    medium = medium_share * carbon[MEDIUM]
    slow = slow_share * carbon[SLOW]
    fast_n = share * nitrogen[FAST]
    medium_n = medium_share * nitrogen[MEDIUM]
    slow_n = slow_share * nitrogen[SLOW]
    soft = fast + medium  # of one composition
    eaten = soft + slow
    eaten_n = fast_n + medium_n + slow_n
    burns = p["gut_burns"]
    # Fresh casts still rot and are eaten again; the rest is as good as humus.
    fresh = (1.0 - burns) * p["casts_fresh_share"]
    spent = (1.0 - burns) - fresh
    left = (
        carbon[FAST] - fast,
        carbon[MEDIUM] - medium + fresh * eaten,
        carbon[SLOW] - slow,
        carbon[HUMUS] + spent * eaten,
    )
    left_n = (
        nitrogen[FAST] - fast_n,
        nitrogen[MEDIUM] - medium_n + fresh * eaten_n,
        nitrogen[SLOW] - slow_n,
        nitrogen[HUMUS] + spent * eaten_n,
    )
    put_pools(cells.carbon_kg, z, c, left)
    put_pools(cells.nitrogen_kg, z, c, left_n)
    cells.ammonia_kg[z, c] += burns * eaten_n
    edible = left[FAST] + left[MEDIUM] + left[SLOW]
    cells.quality_kg[z, c] *= edible * work.per_edible[z, c]
    cells.starch_kg[z, c] *= 1.0 - share
    cast_dry = fresh * DRY_PER_CARBON[MEDIUM] + spent * DRY_PER_CARBON[HUMUS]
    return (
        burns * (soft * OXYGEN_PER_CARBON[FAST] + slow * OXYGEN_PER_CARBON[SLOW]),
        burns * (soft * WATER_PER_CARBON[FAST] + slow * WATER_PER_CARBON[SLOW]),
        burns * eaten,
        cast_dry * eaten - soft * DRY_PER_CARBON[FAST] - slow * DRY_PER_CARBON[SLOW],
    )


@model
def _exchange_carbon(cells: Cells, z, c, built_c, dead_c):  # type: ignore[no-untyped-def]
    """Take the carbon of new tissue from the casts, lay corpses down; returns dry mass gained."""
    from_casts = min(built_c, cells.carbon_kg[z, c, HUMUS])
    cells.carbon_kg[z, c, HUMUS] -= from_casts
    dry_kg = -from_casts * DRY_PER_CARBON[HUMUS]
    if built_c > from_casts:
        # The casts fall short (a cell with hardly anything in it): other pools make it up.
        total = cells.carbon_kg[z, c, FAST] + cells.carbon_kg[z, c, MEDIUM]
        total += cells.carbon_kg[z, c, SLOW]
        share = (built_c - from_casts) / total
        for pool in range(HUMUS):
            dry_kg -= share * cells.carbon_kg[z, c, pool] * DRY_PER_CARBON[pool]
            cells.carbon_kg[z, c, pool] *= 1.0 - share
    cells.carbon_kg[z, c, FAST] += dead_c
    cells.quality_kg[z, c] += dead_c
    return dry_kg + dead_c * DRY_PER_CARBON[FAST]


@model
def _take_for_tissue(cells: Cells, z, c, wanted):  # type: ignore[no-untyped-def]
    """Take nitrogen from a cell; worms short of it graze the zone's other cells.

    Returns what the whole zone lacks.
    """
    if wanted <= cells.ammonia_kg[z, c]:
        cells.ammonia_kg[z, c] -= wanted
        return 0.0
    n_cells = cells.temp_c.shape[1]
    for step in range(n_cells):
        wanted = _take_nitrogen(cells, z, (c + step) % n_cells, wanted)
        if wanted <= 0.0:
            break
    return wanted


@model
def _unbuild(herd: Herd, z, unbuilt_kg):  # type: ignore[no-untyped-def]
    """Take back live mass that could not be built, from all worms of a zone alike.

    An hour builds a small part of it; where the last few died in that hour, none is left to take.
    """
    live_kg = herd.hatchling_kg[z] + herd.juvenile_kg[z] + herd.adult_kg[z]
    kept = 1.0 - unbuilt_kg / live_kg if live_kg > unbuilt_kg else 0.0
    herd.hatchling_kg[z] *= kept
    herd.juvenile_kg[z] *= kept
    herd.adult_kg[z] *= kept


@model
def _take_nitrogen(cells: Cells, z, c, wanted):  # type: ignore[no-untyped-def]
    """Take nitrogen from ammonia, nitrate, then nine tenths of the organic; returns what lacks."""
    taken = min(wanted, cells.ammonia_kg[z, c])
    cells.ammonia_kg[z, c] -= taken
    wanted -= taken
    taken = min(wanted, cells.nitrate_kg[z, c])
    cells.nitrate_kg[z, c] -= taken
    wanted -= taken
    if wanted <= 0.0:
        return 0.0
    nitrogen = pools_of(cells.nitrogen_kg, z, c)
    organic = nitrogen[FAST] + nitrogen[MEDIUM] + nitrogen[SLOW] + nitrogen[HUMUS]
    taken = min(wanted, 0.9 * organic)
    if taken > 0.0:
        put_pools(cells.nitrogen_kg, z, c, times(nitrogen, 1.0 - taken / organic))
    return wanted - taken


@model
def spread_scent(p, geometry: Geometry, work: Work):  # type: ignore[no-untyped-def]
    """Let a zone smell of what lies beyond it, so that worms find food further down the row."""
    links = geometry.link_zone
    carried = p["worm_scent_share"]
    last = links.shape[0] - 1
    for step in range(2 * links.shape[0]):  # down the row and back
        k = step if step <= last else 2 * last + 1 - step
        a = links[k, 0]
        b = links[k, 1]
        to_a = carried * (1.0 - work.threat[a]) * work.appeal[b]
        to_b = carried * (1.0 - work.threat[b]) * work.appeal[a]
        work.appeal[a] = max(work.appeal[a], to_a)
        work.appeal[b] = max(work.appeal[b], to_b)


@model
def wander(p, geometry: Geometry, work: Work, zones: Zones, herd: Herd):  # type: ignore[no-untyped-def]
    """Let worms move for an hour between neighbouring zones that both hold material.

    The half-times are those of a side ``SIDE_M`` long; a shorter way takes less time.
    """
    spread_scent(p, geometry, work)
    links = geometry.link_zone
    for k in range(links.shape[0]):
        if zones.active[links[k, 0]] > 0.0 and zones.active[links[k, 1]] > 0.0:
            hours = min(SIDE_M / geometry.link_gap_m[k], MOST_HASTE)
            move_between_zones(
                p, herd, links[k : k + 1], work.appeal, work.threat, work.zone_pace, hours
            )
