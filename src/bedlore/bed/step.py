"""One hour of a whole bed, in the order: acts, air and decay, worms, water, heat, movement."""

from __future__ import annotations

from bedlore.bed.acts import HOUR, carry_out
from bedlore.bed.cells import Air, Cells, Geometry, Work, Zones
from bedlore.bed.decay import decay_zone
from bedlore.bed.heat import exchange_sideways, heat_column, run_mat
from bedlore.bed.jit import model
from bedlore.bed.layout import Herd
from bedlore.bed.living import live_zone, wander
from bedlore.bed.matter import describe, describe_solids
from bedlore.bed.mesh import tidy
from bedlore.bed.water import drain_zone, even_out, wet_cover

LUMP_SHRINKS_PER_DAY = 0.05  # lumps slump and are opened by worms (assumed)


@model
def begin_hour(p, geometry: Geometry, cells: Cells, zones: Zones, herd: Herd, tally, acts, scale,
               next_act, hour):  # type: ignore[no-untyped-def]  # fmt: skip
    """Carry out the acts due at ``hour``; returns the index of the next act."""
    while next_act < acts.shape[0] and acts[next_act, HOUR] <= hour:
        carry_out(p, geometry, cells, zones, herd, tally, acts[next_act], scale[next_act])
        next_act += 1
    return next_act


@model
def step_hour(p, geometry: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air,
              work: Work, tally, hour, ends_day):  # type: ignore[no-untyped-def]  # fmt: skip
    """Advance one member of a bed by one hour; once a day its cells are tidied."""
    describe(p, geometry, cells, zones, work)
    n_zones = zones.active.shape[0]
    for z in range(n_zones):
        if zones.active[z] == 0.0:
            continue
        decay_zone(p, geometry, cells, zones, work, tally, z)
        live_zone(p, geometry, cells, work, herd, tally, z, 0.0)
    wander(p, geometry, work, zones, herd)
    describe_solids(cells, zones, work)
    _move_water(p, geometry, cells, zones, work, tally)
    exchange_sideways(geometry, cells, zones, work, tally)
    run_mat(geometry, cells, zones, work, tally)
    for z in range(n_zones):
        work.evaporated_kg[z] = 0.0
    for k in range(geometry.column_start.shape[0]):
        heat_column(
            p, geometry, cells, zones, work, tally, k,
            air.air_c[hour], air.outer_c[hour], air.vapour_kg_m3[hour], air.ground_c[hour],
        )  # fmt: skip
    for z in range(n_zones):
        wet_cover(p, geometry, zones, tally, z, work.evaporated_kg[z])
        zones.lump_m[z] *= 1.0 - LUMP_SHRINKS_PER_DAY / 24.0
    if ends_day:
        for z in range(n_zones):
            if zones.active[z] > 0.0:
                tidy(cells, herd, z, geometry.area_m2[z], p["freezing_range_k"])


@model
def _move_water(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally):  # type: ignore[no-untyped-def]
    for k in range(geometry.column_start.shape[0]):
        first = geometry.column_start[k]
        for z in range(first, geometry.column_end[k]):
            if zones.active[z] == 0.0:
                continue
            drain_zone(p, geometry, cells, zones, work, tally, z, _below(geometry, zones, k, z))
            even_out(p, cells, work, z)


@model
def _below(geometry: Geometry, zones: Zones, k, z):  # type: ignore[no-untyped-def]
    """The next zone of the column that holds material, or -1."""
    for lower in range(z + 1, geometry.column_end[k]):
        if zones.active[lower] > 0.0:
            return lower
    return -1
