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
    POOLS,
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
from bedlore.bed.movement import move_between_zones, zone_appeal
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
    n_cells = cells.temp_c.shape[1]
    for c in range(n_cells):
        carbon = cells.carbon_kg[z, c]
        food = carbon[FAST] + p["food_medium_share"] * carbon[MEDIUM]
        food += p["food_slow_share"] * carbon[SLOW]
        work.food_kg[z, c] = WET_PER_CARBON * food
        edible = carbon[FAST] + carbon[MEDIUM] + carbon[SLOW]
        work.quality[z, c] = cells.quality_kg[z, c] / edible if edible > 0.0 else 0.0
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
    quality, warmth_c = worm_hour(
        p, herd, z, around, geometry.area_m2[z], crowd_kg_m2, 1.0, work.eaten_kg, flow
    )
    appeal, threat = zone_appeal(p, around, quality, geometry.area_m2[z])
    work.appeal[z] = appeal
    work.threat[z] = threat
    work.warmth_c[z] = warmth_c
    tally[z, EATEN] += flow[INGESTED_KG]
    tally[z, WORMS_HATCHED] += flow[HATCHED_N]
    tally[z, WORMS_DIED] += (
        flow[DIED_ADULT_N] + flow[DIED_JUVENILE_N] + flow[DIED_HATCHLING_N]
    )
    tally[z, COCOONS_LAID] += flow[LAID_N]
    tally[z, COCOONS_SPENT] += flow[COCOON_LOST_N] + flow[COCOON_OPENED_N]
    if flow[INGESTED_KG] > 0.0:
        _digest(p, cells, work, tally, z, flow[ASSIMILATED_KG] / flow[INGESTED_KG])
    elif flow[ASSIMILATED_KG] > 0.0:
        _build(cells, tally, z, 0, flow[ASSIMILATED_KG], p["freezing_range_k"])
    _give_back(p, cells, work, herd, tally, z, flow[RESPIRED_KG], flow[DEAD_KG])


@model
def _digest(p, cells: Cells, work: Work, tally, z, built_per_eaten):  # type: ignore[no-untyped-def]
    """Pass what was eaten through the worms: some burnt, some built in, the rest cast."""
    for c in range(cells.temp_c.shape[1]):
        eaten_c = work.eaten_kg[c] / WET_PER_CARBON
        food_c = work.food_kg[z, c] / WET_PER_CARBON
        if eaten_c <= 0.0 or food_c <= 0.0:
            continue
        # The cell's pools give in proportion to what a worm finds in them.
        share = min(0.5, eaten_c / food_c)
        _pass_through(p, cells, work, tally, z, c, share)
        _build(cells, tally, z, c, built_per_eaten * work.eaten_kg[c], p["freezing_range_k"])


@model
def _pass_through(p, cells: Cells, work: Work, tally, z, c, share):  # type: ignore[no-untyped-def]
    carbon = cells.carbon_kg[z, c]
    nitrogen = cells.nitrogen_kg[z, c]
    burns = p["gut_burns"]
    edible_before = carbon[FAST] + carbon[MEDIUM] + carbon[SLOW]
    oxygen_kg = 0.0
    made_kg = 0.0
    dry_gone_kg = 0.0
    burnt_c = 0.0
    cast_c = 0.0
    cast_n = 0.0
    for pool in range(HUMUS):
        liking = 1.0
        if pool == MEDIUM:
            liking = p["food_medium_share"]
        elif pool == SLOW:
            liking = p["food_slow_share"]
        taken = carbon[pool] * share * liking
        taken_n = nitrogen[pool] * share * liking
        burnt = burns * taken
        carbon[pool] -= taken
        nitrogen[pool] -= taken_n
        cast_c += taken - burnt
        cast_n += taken_n * (1.0 - burns)
        cells.ammonia_kg[z, c] += taken_n * burns
        burnt_c += burnt
        oxygen_kg += burnt * OXYGEN_PER_CARBON[pool]
        made_kg += burnt * WATER_PER_CARBON[pool]
        dry_gone_kg += taken * DRY_PER_CARBON[pool]
    # Fresh casts still rot and are eaten again; the rest is as good as humus.
    fresh = p["casts_fresh_share"]
    carbon[MEDIUM] += fresh * cast_c
    nitrogen[MEDIUM] += fresh * cast_n
    carbon[HUMUS] += (1.0 - fresh) * cast_c
    nitrogen[HUMUS] += (1.0 - fresh) * cast_n
    dry_gone_kg -= fresh * cast_c * DRY_PER_CARBON[MEDIUM]
    dry_gone_kg -= (1.0 - fresh) * cast_c * DRY_PER_CARBON[HUMUS]
    edible = carbon[FAST] + carbon[MEDIUM] + carbon[SLOW]
    if edible_before > 0.0:
        cells.quality_kg[z, c] *= edible / edible_before
    cells.starch_kg[z, c] *= 1.0 - share
    heat_j = oxygen_kg * p["heat_per_oxygen_j_kg"]
    work.source_w[z, c] += heat_j / 3600.0
    cells.water_kg[z, c] += made_kg
    tally[z, HEAT_DECAY] += heat_j
    tally[z, CARBON_RESPIRED] += burnt_c
    tally[z, WATER_MADE] += made_kg
    temp_c = cells.temp_c[z, c]
    tally[z, HEAT_CARRIED] += made_kg * water_heat(temp_c, p["freezing_range_k"]) - (
        dry_gone_kg * DRY_HEAT_J_KGK * temp_c
    )


@model
def _build(cells: Cells, tally, z, c, live_kg, freezing_range_k):  # type: ignore[no-untyped-def]
    """Take live tissue out of a cell: carbon from the casts, nitrogen from wherever it is."""
    carbon_kg = min(LIVE_CARBON * live_kg, cells.carbon_kg[z, c, HUMUS])
    _shift_live(cells, tally, z, c, -live_kg, -carbon_kg, freezing_range_k)
    # Should the casts fall short (a cell with hardly anything in it), other pools make it up.
    short_c = LIVE_CARBON * live_kg - carbon_kg
    if short_c > 0.0:
        total = cells.carbon_kg[z, c, FAST] + cells.carbon_kg[z, c, MEDIUM]
        total += cells.carbon_kg[z, c, SLOW]
        for pool in range(HUMUS):
            cells.carbon_kg[z, c, pool] -= short_c * cells.carbon_kg[z, c, pool] / total


@model
def _shift_live(cells: Cells, tally, z, c, live_kg, carbon_kg, freezing_range_k):  # type: ignore[no-untyped-def]
    """Add (or with a minus take) tissue: carbon to humus, mineral nitrogen, ash, water."""
    temp_c = cells.temp_c[z, c]
    before_dry = cells.carbon_kg[z, c, HUMUS] * DRY_PER_CARBON[HUMUS]
    cells.carbon_kg[z, c, HUMUS] += carbon_kg
    after_dry = cells.carbon_kg[z, c, HUMUS] * DRY_PER_CARBON[HUMUS]
    _exchange_nitrogen(cells, z, c, LIVE_NITROGEN * live_kg)
    cells.ash_kg[z, c] += LIVE_ASH * live_kg
    cells.water_kg[z, c] += LIVE_WATER * live_kg
    tally[z, HEAT_CARRIED] += LIVE_WATER * live_kg * water_heat(temp_c, freezing_range_k)
    tally[z, HEAT_CARRIED] += (
        (after_dry - before_dry + LIVE_ASH * live_kg) * DRY_HEAT_J_KGK * temp_c
    )


@model
def _exchange_nitrogen(cells: Cells, z, c, nitrogen_kg):  # type: ignore[no-untyped-def]
    """Give nitrogen to the ammonia of a cell, or take it; worms short of it graze other cells."""
    if nitrogen_kg >= 0.0:
        cells.ammonia_kg[z, c] += nitrogen_kg
        return
    wanted = -nitrogen_kg
    n_cells = cells.temp_c.shape[1]
    for step in range(n_cells):
        wanted = _take_nitrogen(cells, z, (c + step) % n_cells, wanted)
        if wanted <= 0.0:
            return


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
    organic = 0.0
    for pool in range(POOLS):
        organic += cells.nitrogen_kg[z, c, pool]
    taken = min(wanted, 0.9 * organic)
    if taken > 0.0:
        for pool in range(POOLS):
            cells.nitrogen_kg[z, c, pool] -= taken * cells.nitrogen_kg[z, c, pool] / organic
    return wanted - taken


@model
def _give_back(p, cells: Cells, work: Work, herd: Herd, tally, z, burnt_kg, dead_kg):  # type: ignore[no-untyped-def]
    """Return burnt and dead tissue to the cells where the worms live."""
    if burnt_kg + dead_kg <= 0.0:
        return
    n_cells = cells.temp_c.shape[1]
    held = 0.0
    for c in range(n_cells):
        held += herd.where[z, c]
    for c in range(n_cells):
        share = herd.where[z, c] / held if held > 0.0 else 1.0 / n_cells
        if share <= 0.0:
            continue
        burnt = burnt_kg * share
        dead = dead_kg * share
        _shift_live(cells, tally, z, c, burnt + dead, 0.0, p["freezing_range_k"])
        _add_corpses(cells, tally, z, c, LIVE_CARBON * dead)
        carbon_kg = LIVE_CARBON * burnt
        heat_j = carbon_kg * OXYGEN_PER_CARBON[FAST] * p["heat_per_oxygen_j_kg"]
        made_kg = carbon_kg * WATER_PER_CARBON[FAST]
        work.source_w[z, c] += heat_j / 3600.0
        cells.water_kg[z, c] += made_kg
        tally[z, HEAT_DECAY] += heat_j
        tally[z, CARBON_RESPIRED] += carbon_kg
        tally[z, WATER_MADE] += made_kg
        tally[z, HEAT_CARRIED] += made_kg * water_heat(
            cells.temp_c[z, c], p["freezing_range_k"]
        )


@model
def _add_corpses(cells: Cells, tally, z, c, carbon_kg):  # type: ignore[no-untyped-def]
    cells.carbon_kg[z, c, FAST] += carbon_kg
    cells.quality_kg[z, c] += carbon_kg
    tally[z, HEAT_CARRIED] += (
        carbon_kg * DRY_PER_CARBON[FAST] * DRY_HEAT_J_KGK * cells.temp_c[z, c]
    )


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
                p, herd, links[k : k + 1], work.appeal, work.threat, work.warmth_c, hours
            )
