"""Water in the bed: drainage, standing water, capillary evening-out, and the cover's wetness."""

from __future__ import annotations

import math

from bedlore.bed.cells import (
    HEAT_CARRIED,
    NITROGEN_LEACHED,
    WATER_DRAINED,
    WATER_EVAPORATED,
    Cells,
    Geometry,
    Work,
    Zones,
)
from bedlore.bed.jit import model
from bedlore.bed.matter import heat_content, temp_of_heat, water_heat

HOUR_D = 1.0 / 24.0
# A shallow bed's lowest centimetres stay wet over the drain: field capacity rises to
# saturation with this height (3-6 cm, from memory).
PERCHED_M = 0.04
COVER_ANSWERS_PER_DAY = 0.35  # a cover follows the humidity around it within days (assumed)
COVER_DRY_KG_M3 = 60.0  # loose card or straw (from memory)


@model
def drain_zone(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally, z, receiver):  # type: ignore[no-untyped-def]
    """Let water above what the material holds run down one cell at a time, then out.

    ``receiver`` is the zone below in a stack, or -1. Field capacity far above the drain is that
    of the material; near the drain it rises toward saturation.
    """
    n_cells = cells.temp_c.shape[1]
    pores_kg = work.column[0]
    middle_m = work.column[1]
    height = 0.0
    litres_per_m = 1000.0 * geometry.area_m2[z]
    for c in range(n_cells - 1, -1, -1):
        thickness_m = work.thickness_m[z, c]
        middle_m[c] = height + 0.5 * thickness_m
        height += thickness_m
        pores_kg[c] = litres_per_m * thickness_m * work.air_space[z, c] + cells.water_kg[z, c]
    for c in range(n_cells):
        held = work.held_kg[z, c] * p["water_held_scale"]
        excess = cells.water_kg[z, c] - held
        if excess <= 0.0 or cells.temp_c[z, c] < 0.0:
            continue
        excess -= max(0.0, pores_kg[c] - held) * math.exp(-middle_m[c] * (1.0 / PERCHED_M))
        if excess <= 0.0:
            continue
        moving = excess * p["drain_share_per_hour"]
        # What finds the pores full runs straight on, so a soaked bed drains as one.
        moving = max(moving, min(excess, cells.water_kg[z, c] - pores_kg[c]))
        if c < n_cells - 1:
            _pass_down(p, cells, work, z, c, z, c + 1, moving)
        elif receiver >= 0:
            _pass_down(p, cells, work, z, c, receiver, 0, moving)
        elif geometry.drains > 0.0:
            _run_off(p, cells, tally, z, c, moving)
    _back_up(p, cells, work, z)


@model
def _pass_down(p, cells: Cells, work: Work, z, c, to_z, to_c, moving):  # type: ignore[no-untyped-def]
    """Move water and its heat and nitrate to another cell."""
    rng = p["freezing_range_k"]
    water = cells.water_kg[z, c]
    nitrate = cells.nitrate_kg[z, c] * (moving / water)
    cells.water_kg[z, c] = water - moving
    heat = heat_content(
        cells.temp_c[to_z, to_c], work.dry_kg[to_z, to_c], cells.water_kg[to_z, to_c], rng
    )
    heat += moving * water_heat(cells.temp_c[z, c], rng)
    cells.water_kg[to_z, to_c] += moving
    cells.temp_c[to_z, to_c] = temp_of_heat(
        heat, work.dry_kg[to_z, to_c], cells.water_kg[to_z, to_c], rng
    )
    cells.nitrate_kg[z, c] -= nitrate
    cells.nitrate_kg[to_z, to_c] += nitrate


@model
def _run_off(p, cells: Cells, tally, z, c, moving):  # type: ignore[no-untyped-def]
    nitrate = cells.nitrate_kg[z, c] * moving / cells.water_kg[z, c]
    cells.water_kg[z, c] -= moving
    cells.nitrate_kg[z, c] -= nitrate
    tally[z, WATER_DRAINED] += moving
    tally[z, NITROGEN_LEACHED] += nitrate
    tally[z, HEAT_CARRIED] -= moving * water_heat(cells.temp_c[z, c], p["freezing_range_k"])


@model
def _back_up(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Water that finds no pores rises into the cell above: standing water over a liner."""
    for c in range(cells.temp_c.shape[1] - 1, 0, -1):
        surplus = cells.water_kg[z, c] - work.column[0, c]
        if surplus > 1e-9:
            _pass_down(p, cells, work, z, c, z, c - 1, surplus)


@model
def even_out(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Capillary flow from wetter to drier cells, by water against what the material holds."""
    share = p["capillary_per_day"] * HOUR_D
    for c in range(cells.temp_c.shape[1] - 1):
        if cells.temp_c[z, c] < 0.0 or cells.temp_c[z, c + 1] < 0.0:
            continue
        held_a = work.held_kg[z, c]
        held_b = work.held_kg[z, c + 1]
        # share x (water_a / held_a - water_b / held_b) x held_a held_b / (held_a + held_b); the
        # division does not wait for the water that the cell above has just let down.
        gap = cells.water_kg[z, c] * held_b - cells.water_kg[z, c + 1] * held_a
        moving = gap * (share / (held_a + held_b))
        if gap > 0.0:
            _pass_down(p, cells, work, z, c, z, c + 1, moving)
        elif cells.water_kg[z, c] < held_a:
            _pass_down(p, cells, work, z, c + 1, z, c, -moving)


@model
def wet_cover(p, geometry: Geometry, zones: Zones, tally, z, evaporated_kg):  # type: ignore[no-untyped-def]
    """The cover takes up vapour rising through it and dries toward the air of the building.

    ``evaporated_kg`` is the vapour that left the bed this hour; a part stays in a cover drier
    than its balance of 0.15 kg/kg plus what steady vapour feeds it.
    """
    cover_m = zones.cover_m[z]
    if cover_m <= 0.0:
        return
    dry_kg = cover_m * geometry.area_m2[z] * COVER_DRY_KG_M3
    kept = p["cover_keeps_vapour"] * max(0.0, evaporated_kg)
    loose = zones.cover_water_kg[z] - 0.15 * dry_kg
    dried = max(0.0, loose) * COVER_ANSWERS_PER_DAY * HOUR_D
    zones.cover_water_kg[z] += kept - dried
    tally[z, WATER_EVAPORATED] += dried - kept
