"""What a keeper does to a bed, as rows of numbers that the hourly step carries out.

``acts`` is an array ``[A, ACT_SIZE]`` sorted by hour; ``scale`` ``[A]`` holds one factor a member
for amounts that are only roughly known (a bucketful, "some"). Rows are made by
:mod:`bedlore.bed.plan`.
"""

from __future__ import annotations

from bedlore.bed.cells import (
    ASH_IN,
    ASH_OUT,
    CARBON_IN,
    CARBON_OUT,
    COCOONS_OUT,
    FEED_IN,
    HEAT_CARRIED,
    LIVE_IN,
    LIVE_OUT,
    NITROGEN_IN,
    NITROGEN_OUT,
    POOLS,
    WATER_IN,
    WATER_OUT,
    WORMS_IN,
    WORMS_OUT,
    Cells,
    Geometry,
    Zones,
)
from bedlore.bed.handling import carry_share, remove_share, stock_zone
from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Herd
from bedlore.bed.matter import DRY_HEAT_J_KGK, dry_mass, heat_content, water_heat
from bedlore.bed.mesh import open_top_cell, set_heat

# Kinds of act.
ADD, WATER, COVER, FOAM, LID, HARVEST, STOCK, SHIFT, TAKE, SWAP, MAT = range(11)

# Columns of an act: carbon and nitrogen take one column a pool.
HOUR, KIND, ZONE, TO_ZONE, CARBON = range(5)
NITROGEN = CARBON + POOLS
(
    ASH, WATER_KG, TEMP_C, STARCH, QUALITY, AMMONIA, LUMP_M, IS_FEED, MASS_KG,
    WORMS_KG, SHARE, WORM_SHARE, VALUE, VALUE_TOP,
) = range(NITROGEN + POOLS, NITROGEN + POOLS + 14)  # fmt: skip
ACT_SIZE = VALUE_TOP + 1
MOST_HARVEST = 0.97  # what stays holds the zone's shape until it is refilled


@model
def carry_out(p, geometry: Geometry, cells: Cells, zones: Zones, herd: Herd, tally, act, scale):  # type: ignore[no-untyped-def]
    """Do one act; ``scale`` multiplies its amounts for this member."""
    kind = int(act[KIND])
    z = int(act[ZONE])
    if kind == ADD:
        _add_material(p, cells, zones, herd, tally, z, act, scale)
    elif kind == WATER:
        _add_water(p, cells, zones, tally, z, act, scale)
    elif kind == COVER:
        zones.cover_m[z] = act[VALUE]
        if act[VALUE] <= 0.0:
            tally[z, WATER_OUT] += zones.cover_water_kg[z]
            zones.cover_water_kg[z] = 0.0
    elif kind == FOAM:
        zones.foam_r[z] = act[VALUE]
        zones.foam_top_r[z] = act[VALUE_TOP]
    elif kind == LID:
        zones.lid_on[z] = act[SHARE]
    elif kind == HARVEST:
        share = act[SHARE]
        if act[MASS_KG] > 0.0:
            share = act[MASS_KG] * scale / max(_wet_mass(cells, z), 1e-9)
        _harvest(p, cells, herd, tally, z, min(MOST_HARVEST, share), act[WORM_SHARE])
    elif kind == STOCK:
        _add_worms(p, herd, tally, z, act[WORMS_KG] * scale)
    elif kind == SHIFT:
        carry_share(herd, z, int(act[TO_ZONE]), _worm_share(herd, z, act, scale), act[SHARE])
    elif kind == TAKE:
        _take_worms(p, herd, tally, z, _worm_share(herd, z, act, scale), act[SHARE])
    elif kind == SWAP:
        _swap_zones(cells, zones, herd, tally, z, int(act[TO_ZONE]))
    elif kind == MAT:
        zones.mat_on[z] = act[SHARE]
        zones.mat_set_c[z] = act[VALUE]


@model
def _add_material(p, cells: Cells, zones: Zones, herd: Herd, tally, z, act, scale):  # type: ignore[no-untyped-def]
    """Lay feed or bedding on the zone; an empty zone shares it among all its cells."""
    n_cells = cells.temp_c.shape[1]
    dry_kg = dry_mass(act[CARBON : CARBON + POOLS], act[ASH])
    wet_kg = dry_kg + act[WATER_KG]
    # How wet scraps really are is not known; what the log weighed is kept.
    drier = min(p["feed_dry_scale"], wet_kg / dry_kg) if act[IS_FEED] * dry_kg > 0.0 else 1.0
    water_kg = (wet_kg - drier * dry_kg) * scale
    solids = drier * scale
    if zones.active[z] == 0.0:
        zones.active[z] = 1.0
        zones.surface_c[z] = act[TEMP_C]
        for c in range(n_cells):
            cells.temp_c[z, c] = act[TEMP_C]
            cells.oxygen_kg_m3[z, c] = 0.28
            herd.where[z, c] = 1.0 / n_cells
            herd.cocoon_where[z, c] = 1.0 / n_cells
            _add_to_cell(p, cells, tally, z, c, act, solids / n_cells, water_kg / n_cells)
    else:
        open_top_cell(cells, herd, z, p["freezing_range_k"])
        cells.oxygen_kg_m3[z, 0] = 0.28
        _add_to_cell(p, cells, tally, z, 0, act, solids, water_kg)
    zones.lump_m[z] = max(zones.lump_m[z], act[LUMP_M])
    if act[IS_FEED] > 0.0:
        tally[z, FEED_IN] += act[MASS_KG] * scale


@model
def _add_to_cell(p, cells: Cells, tally, z, c, act, scale, water_kg):  # type: ignore[no-untyped-def]
    """Add ``scale`` times the solids of the act and ``water_kg`` of water, at its temperature."""
    carbon = act[CARBON : CARBON + POOLS]
    dry_kg = dry_mass(carbon, act[ASH]) * scale
    rng = p["freezing_range_k"]
    heat = heat_content(
        cells.temp_c[z, c],
        dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c]),
        cells.water_kg[z, c],
        rng,
    )
    brought = dry_kg * DRY_HEAT_J_KGK * act[TEMP_C] + water_kg * water_heat(act[TEMP_C], rng)
    nitrogen_kg = act[AMMONIA] * scale
    carbon_kg = 0.0
    for pool in range(POOLS):
        cells.carbon_kg[z, c, pool] += act[CARBON + pool] * scale
        cells.nitrogen_kg[z, c, pool] += act[NITROGEN + pool] * scale
        carbon_kg += act[CARBON + pool] * scale
        nitrogen_kg += act[NITROGEN + pool] * scale
    cells.ash_kg[z, c] += act[ASH] * scale
    cells.water_kg[z, c] += water_kg
    cells.starch_kg[z, c] += act[STARCH] * scale
    cells.quality_kg[z, c] += act[QUALITY] * scale
    cells.ammonia_kg[z, c] += act[AMMONIA] * scale
    set_heat(cells, z, c, heat + brought, rng)
    tally[z, HEAT_CARRIED] += brought
    tally[z, CARBON_IN] += carbon_kg
    tally[z, NITROGEN_IN] += nitrogen_kg
    tally[z, ASH_IN] += act[ASH] * scale
    tally[z, WATER_IN] += water_kg


@model
def _add_water(p, cells: Cells, zones: Zones, tally, z, act, scale):  # type: ignore[no-untyped-def]
    if zones.active[z] == 0.0:
        return
    water_kg = act[WATER_KG] * scale
    rng = p["freezing_range_k"]
    dry = dry_mass(cells.carbon_kg[z, 0], cells.ash_kg[z, 0])
    brought = water_kg * water_heat(act[TEMP_C], rng)
    heat = heat_content(cells.temp_c[z, 0], dry, cells.water_kg[z, 0], rng) + brought
    cells.water_kg[z, 0] += water_kg
    set_heat(cells, z, 0, heat, rng)
    tally[z, HEAT_CARRIED] += brought
    tally[z, WATER_IN] += water_kg


@model
def _add_worms(p, herd: Herd, tally, z, worms_kg):  # type: ignore[no-untyped-def]
    if worms_kg <= 0.0:
        return
    before = _worms(herd, z)
    stock_zone(p, herd, z, worms_kg)
    tally[z, WORMS_IN] += _worms(herd, z) - before
    tally[z, LIVE_IN] += worms_kg


@model
def _worms(herd: Herd, z):  # type: ignore[no-untyped-def]
    return herd.adult_n[z] + herd.juvenile_n[z] + herd.hatchling_n[z]


@model
def _worm_share(herd: Herd, z, act, scale):  # type: ignore[no-untyped-def]
    """Share of the worms that an act means: as written, or from the mass it names."""
    if act[WORMS_KG] <= 0.0:
        return min(1.0, act[WORM_SHARE])
    live_kg = herd.adult_kg[z] + herd.juvenile_kg[z] + herd.hatchling_kg[z]
    return min(1.0, act[WORMS_KG] * scale / max(live_kg, 1e-12))


@model
def _wet_mass(cells: Cells, z):  # type: ignore[no-untyped-def]
    total = 0.0
    for c in range(cells.temp_c.shape[1]):
        total += dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c]) + cells.water_kg[z, c]
    return total


@model
def _cocoons(herd: Herd, z):  # type: ignore[no-untyped-def]
    total = 0.0
    for step in range(COCOON_STEPS):
        total += herd.cocoon_n[z, step]
    return total


@model
def _harvest(p, cells: Cells, herd: Herd, tally, z, share, worm_share):  # type: ignore[no-untyped-def]
    """Take ``share`` of the material with its cocoons, and ``worm_share`` of the worms."""
    keep = 1.0 - share
    for c in range(cells.temp_c.shape[1]):
        dry = dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c])
        heat = heat_content(
            cells.temp_c[z, c], dry, cells.water_kg[z, c], p["freezing_range_k"]
        )
        tally[z, HEAT_CARRIED] -= share * heat
        tally[z, ASH_OUT] += share * cells.ash_kg[z, c]
        tally[z, WATER_OUT] += share * cells.water_kg[z, c]
        tally[z, NITROGEN_OUT] += share * (cells.ammonia_kg[z, c] + cells.nitrate_kg[z, c])
        for pool in range(POOLS):
            tally[z, CARBON_OUT] += share * cells.carbon_kg[z, c, pool]
            tally[z, NITROGEN_OUT] += share * cells.nitrogen_kg[z, c, pool]
            cells.carbon_kg[z, c, pool] *= keep
            cells.nitrogen_kg[z, c, pool] *= keep
        cells.ash_kg[z, c] *= keep
        cells.water_kg[z, c] *= keep
        cells.ammonia_kg[z, c] *= keep
        cells.nitrate_kg[z, c] *= keep
        cells.starch_kg[z, c] *= keep
        cells.quality_kg[z, c] *= keep
    _take_worms(p, herd, tally, z, worm_share, share)


@model
def _take_worms(p, herd: Herd, tally, z, worm_share, cocoon_share):  # type: ignore[no-untyped-def]
    cocoons = cocoon_share * _cocoons(herd, z)
    tally[z, WORMS_OUT] += worm_share * _worms(herd, z)
    tally[z, COCOONS_OUT] += cocoons
    taken_kg = remove_share(herd, z, worm_share, cocoon_share)
    tally[z, LIVE_OUT] += taken_kg + cocoons * p["worm_cocoon_kg"]


@model
def _swap(array, a, b):  # type: ignore[no-untyped-def]
    held = array[a]
    array[a] = array[b]
    array[b] = held


@model
def _swap_rows(array, a, b):  # type: ignore[no-untyped-def]
    for c in range(array.shape[1]):
        held = array[a, c]
        array[a, c] = array[b, c]
        array[b, c] = held


@model
def _swap_zones(cells: Cells, zones: Zones, herd: Herd, tally, a, b):  # type: ignore[no-untyped-def]
    """Exchange two trays of a stack with all that is in them (and their tallies)."""
    for c in range(cells.temp_c.shape[1]):
        for pool in range(POOLS):
            _swap(cells.carbon_kg[:, c, pool], a, b)
            _swap(cells.nitrogen_kg[:, c, pool], a, b)
    _swap_rows(cells.temp_c, a, b)
    _swap_rows(cells.ash_kg, a, b)
    _swap_rows(cells.water_kg, a, b)
    _swap_rows(cells.ammonia_kg, a, b)
    _swap_rows(cells.nitrate_kg, a, b)
    _swap_rows(cells.starch_kg, a, b)
    _swap_rows(cells.quality_kg, a, b)
    _swap_rows(cells.oxygen_kg_m3, a, b)
    _swap(zones.active, a, b)
    _swap(zones.cover_m, a, b)
    _swap(zones.cover_water_kg, a, b)
    _swap(zones.lump_m, a, b)
    _swap(zones.sour, a, b)
    _swap(zones.surface_c, a, b)
    _swap_rows(herd.cocoon_n, a, b)
    _swap_rows(herd.where, a, b)
    _swap_rows(herd.cocoon_where, a, b)
    _swap(herd.hatchling_n, a, b)
    _swap(herd.hatchling_kg, a, b)
    _swap(herd.juvenile_n, a, b)
    _swap(herd.juvenile_kg, a, b)
    _swap(herd.juvenile_slow_n, a, b)
    _swap(herd.adult_n, a, b)
    _swap(herd.adult_kg, a, b)
    _swap(herd.adult_slow_n, a, b)
    _swap(herd.adult_age_d, a, b)
    _swap_rows(tally, a, b)
