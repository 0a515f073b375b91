"""Oxygen in the pore air: diffusion down from the top against what decay asks for."""

from __future__ import annotations

from bedlore.bed.cells import Cells, Geometry, Work, Zones
from bedlore.bed.jit import model

# O2 diffuses in wet porous matter as 2e-5 m2/s x air space squared (physics of composting,
# derived form); 0.28 kg/m3 is air's 20.9 % at 10 degC (handbook).
OXYGEN_M2_S = 2e-5
AIR_OXYGEN_KG_M3 = 0.28
# Haug's O2/(O2 + 2 vol %), scaled to 1 in open air (from memory).
HALF_OXYGEN_KG_M3 = AIR_OXYGEN_KG_M3 * 2.0 / 20.9
_OPEN_AIR = AIR_OXYGEN_KG_M3 / (AIR_OXYGEN_KG_M3 + HALF_OXYGEN_KG_M3)
_LEAST_AIR_SPACE = 0.02


@model
def oxygen_response(oxygen_kg_m3):  # type: ignore[no-untyped-def]
    """Rate of decay against that in open air, 0..1, at ``oxygen_kg_m3`` in the pores."""
    return oxygen_kg_m3 * (1.0 / _OPEN_AIR) / (oxygen_kg_m3 + HALF_OXYGEN_KG_M3)


@model
def breathe(geometry: Geometry, cells: Cells, zones: Zones, work: Work, z):  # type: ignore[no-untyped-def]
    """Steady oxygen profile of one zone under the demand of this hour, and its response.

    The sink is linearised about the last profile (demand / (O2 + half) x O2), which keeps the
    solution positive and settles within a few hours.
    """
    n_cells = cells.temp_c.shape[1]
    area = geometry.area_m2[z]
    column = work.column
    # column[0] conductance from above [m3/s], [1] sink [m3/s], [2] and [3] the elimination.
    link = 0.0
    for c in range(n_cells):
        space = max(work.air_space[z, c], _LEAST_AIR_SPACE)
        half = 0.5 * work.thickness_m[z, c] / (OXYGEN_M2_S * space * space)
        above = area / (half + (link if c > 0 else 0.0))
        link = half
        column[0, c] = above
        old = cells.oxygen_kg_m3[z, c]
        demand_kg_s = work.oxygen_demand_kg[z, c] * (1.0 / (3600.0 * _OPEN_AIR))
        column[1, c] = demand_kg_s / (old + HALF_OXYGEN_KG_M3)
    for c in range(n_cells):
        above = column[0, c]
        below = column[0, c + 1] if c < n_cells - 1 else 0.0
        pivot = above + below + column[1, c]
        rhs = above * AIR_OXYGEN_KG_M3 if c == 0 else 0.0
        if c > 0:
            pivot -= above * column[2, c - 1]
            rhs += above * column[3, c - 1]
        per_pivot = 1.0 / pivot
        column[2, c] = below * per_pivot
        column[3, c] = rhs * per_pivot
    level = 0.0
    for c in range(n_cells - 1, -1, -1):
        level = column[3, c] + column[2, c] * level
        # Half a step toward the new profile: pores and microbes do not turn within the hour.
        level_now = 0.5 * (level + cells.oxygen_kg_m3[z, c])
        cells.oxygen_kg_m3[z, c] = level_now
        work.oxygen_factor[z, c] = oxygen_response(level_now)


@model
def lump_supply(lump_m, demand_kg_m3s):  # type: ignore[no-untyped-def]
    """Share of a lump's oxygen demand that diffusion meets, 0..1.

    One-sided supply ``2 De C0 / D^2`` at an air space of 0.2 in wet feed. By hand: a 0.12 m
    lump is served 3.1e-5 kg/m3 s.
    """
    if lump_m <= 0.0 or demand_kg_m3s <= 0.0:
        return 1.0
    supply = 2.0 * OXYGEN_M2_S * 0.04 * AIR_OXYGEN_KG_M3 / (lump_m * lump_m)
    return min(1.0, supply / demand_kg_m3s)
