"""Physical properties of bed material: mass, bulk, heat content, conduction, pore air.

Sources: bulk and conduction ranges of Ahn, Sauer, Richard & Glanville 2009, Bioresour. Technol.
100:3974-3981 (read); mixture rule of heat capacity (Haug 1993, from memory); free air space of
Haug (from memory). Pool compositions: food waste C18H26O10N, cellulose C6H10O5 (derived).
"""

from __future__ import annotations

from bedlore.bed.cells import FAST, HUMUS, MEDIUM, POOLS, SLOW, Cells, Geometry, Work, Zones
from bedlore.bed.jit import model

# kg dry organic matter per kg carbon: food C18H26O10N 0.519 C, cellulose 0.444 C, humus 0.55 C
# (the first two derived from the formulas, the last from memory).
DRY_PER_CARBON = (1 / 0.519, 1 / 0.519, 1 / 0.444, 1 / 0.55)
# Oxygen to burn a kg of carbon and water made by it (derived from the same formulas).
OXYGEN_PER_CARBON = (1.441 / 0.519, 1.441 / 0.519, 1.184 / 0.444, 1.441 / 0.519)
WATER_PER_CARBON = (0.498 / 0.519, 0.498 / 0.519, 0.556 / 0.444, 0.498 / 0.519)
# Dry bulk density of each pool in the bed [kg/m3]: scraps 500 kg/m3 at 80 % water, paper and
# straw settled, castings 0.20-0.35 g/cm3 (from memory).
POOL_BULK_KG_M3 = (110.0, 160.0, 90.0, 230.0)
ASH_BULK_KG_M3 = 600.0
# Water held against gravity [kg/kg dry] (castings 1.5-2.5 g/g from memory; scraps hold their
# own 80 %; the rest assumed).
POOL_HOLDS_WATER = (4.0, 3.0, 2.6, 2.3)
# The same two per kg of carbon [m3/kg, kg/kg], so that no cell divides by a constant.
BULK_PER_CARBON = tuple(
    dry / bulk for dry, bulk in zip(DRY_PER_CARBON, POOL_BULK_KG_M3, strict=True)
)
HELD_PER_CARBON = tuple(
    dry * held for dry, held in zip(DRY_PER_CARBON, POOL_HOLDS_WATER, strict=True)
)
ASH_HOLDS_WATER = 0.3

DRY_HEAT_J_KGK = 1400.0  # 1.3-1.5 kJ/kg K, mixture rule (Haug 1993, from memory)
WATER_HEAT_J_KGK = 4180.0
ICE_HEAT_J_KGK = 2050.0
FUSION_J_KG = 334e3
ORGANIC_SOLID_KG_M3 = 1550.0
ASH_SOLID_KG_M3 = 2500.0


@model
def water_heat(temp_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Enthalpy of bed water [J/kg] against liquid water at 0 degC.

    Water freezes evenly between 0 degC and ``-freezing_range_k``. By hand: at 10 degC 41.8e3.
    """
    if temp_c >= 0.0:
        return WATER_HEAT_J_KGK * temp_c
    if temp_c >= -freezing_range_k:
        return (WATER_HEAT_J_KGK + FUSION_J_KG / freezing_range_k) * temp_c
    return (
        -WATER_HEAT_J_KGK * freezing_range_k
        - FUSION_J_KG
        + ICE_HEAT_J_KGK * (temp_c + freezing_range_k)
    )


@model
def water_heat_slope(temp_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Derivative of :func:`water_heat` [J/kg K]."""
    if temp_c >= 0.0:
        return WATER_HEAT_J_KGK
    if temp_c >= -freezing_range_k:
        return WATER_HEAT_J_KGK + FUSION_J_KG / freezing_range_k
    return ICE_HEAT_J_KGK


@model
def heat_content(temp_c, dry_kg, water_kg, freezing_range_k):  # type: ignore[no-untyped-def]
    """Enthalpy [J] of ``dry_kg`` solids and ``water_kg`` water against 0 degC, unfrozen."""
    return dry_kg * DRY_HEAT_J_KGK * temp_c + water_kg * water_heat(temp_c, freezing_range_k)


@model
def temp_of_heat(heat_j, dry_kg, water_kg, freezing_range_k):  # type: ignore[no-untyped-def]
    """Temperature [degC] at which solids and water hold ``heat_j``; inverse of heat_content."""
    warm_j_k = dry_kg * DRY_HEAT_J_KGK + water_kg * WATER_HEAT_J_KGK
    if heat_j >= 0.0:
        # In a chain of cells the heat is known last: the division need not wait for it.
        return heat_j * (1.0 / warm_j_k) if warm_j_k > 0.0 else 0.0
    mush_j_k = warm_j_k + water_kg * FUSION_J_KG / freezing_range_k
    if heat_j >= -mush_j_k * freezing_range_k:
        return heat_j / mush_j_k
    frozen_j_k = dry_kg * DRY_HEAT_J_KGK + water_kg * ICE_HEAT_J_KGK
    return -freezing_range_k + (heat_j + mush_j_k * freezing_range_k) / frozen_j_k


@model
def ice_share(temp_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Share of the water that is ice at ``temp_c``."""
    if temp_c >= 0.0:
        return 0.0
    return min(1.0, -temp_c / freezing_range_k)


@model
def dry_mass(carbon_kg, ash_kg):  # type: ignore[no-untyped-def]
    """Dry mass [kg] of a cell with ``carbon_kg`` [POOLS] and ``ash_kg``."""
    return (
        carbon_kg[FAST] * DRY_PER_CARBON[FAST]
        + carbon_kg[MEDIUM] * DRY_PER_CARBON[MEDIUM]
        + carbon_kg[SLOW] * DRY_PER_CARBON[SLOW]
        + carbon_kg[HUMUS] * DRY_PER_CARBON[HUMUS]
        + ash_kg
    )


@model
def bulk_volume(carbon_kg, ash_kg):  # type: ignore[no-untyped-def]
    """Bulk volume [m3] that the solids of a cell take up in the bed."""
    volume = ash_kg * (1.0 / ASH_BULK_KG_M3)
    for pool in range(POOLS):
        volume += carbon_kg[pool] * BULK_PER_CARBON[pool]
    return volume


@model
def water_held(carbon_kg, ash_kg):  # type: ignore[no-untyped-def]
    """Water [kg] that the solids of a cell hold against gravity, far above the drain."""
    held = ash_kg * ASH_HOLDS_WATER
    for pool in range(POOLS):
        held += carbon_kg[pool] * HELD_PER_CARBON[pool]
    return held


@model
def conductivity(water_share, ice, scale):  # type: ignore[no-untyped-def]
    """Thermal conductivity [W/m K] at volumetric ``water_share``; frozen water carries more.

    ``k = 0.06 + 0.50 * theta / 0.7``, a line through the ranges of Ahn 2009; ice has about four
    times the conductivity of water (handbook). By hand: theta 0.48 gives 0.40.
    """
    return scale * (0.06 + (0.50 / 0.7) * water_share * (1.0 + 1.6 * ice))


@model
def describe(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work):  # type: ignore[no-untyped-def]
    """Fill ``work`` with the properties of every cell for this hour."""
    n_zones, n_cells = cells.temp_c.shape
    freezing_range_k = p["freezing_range_k"]
    scale = p["conductivity_scale"]
    for z in range(n_zones):
        if zones.active[z] == 0.0:
            for c in range(n_cells):
                work.thickness_m[z, c] = 0.0
                work.moisture_frac[z, c] = 0.0
                work.dry_kg[z, c] = 0.0
                work.reach[z, c] = 0.0
                work.source_w[z, c] = 0.0
                work.food_kg[z, c] = 0.0
            # Nothing draws worms to an empty zone.
            work.appeal[z] = 0.0
            work.threat[z] = 1.0
            continue
        per_area = 1.0 / geometry.area_m2[z]
        for c in range(n_cells):
            carbon = cells.carbon_kg[z, c]
            ash = cells.ash_kg[z, c]
            water = cells.water_kg[z, c]
            temp = cells.temp_c[z, c]
            dry = dry_mass(carbon, ash)
            volume = bulk_volume(carbon, ash)
            # Over-wet material floats apart rather than vanishing.
            pores = volume - (dry - ash) * (1.0 / ORGANIC_SOLID_KG_M3)
            pores -= ash * (1.0 / ASH_SOLID_KG_M3)
            water_m3 = 0.001 * water
            if water_m3 > pores:
                volume += water_m3 - pores
                pores = water_m3
            ice = ice_share(temp, freezing_range_k)
            per_kg = 1.0 / (water + dry)
            per_m3 = 1.0 / volume
            work.dry_kg[z, c] = dry
            work.moisture_frac[z, c] = water * per_kg
            work.thickness_m[z, c] = volume * per_area
            work.air_space[z, c] = (pores - water_m3) * per_m3
            work.conductivity_w_mk[z, c] = conductivity(water_m3 * per_m3, ice, scale)
            work.ammonia_mg_g[z, c] = 1000.0 * cells.ammonia_kg[z, c] * per_kg
            work.reach[z, c] = 1.0 if ice < 0.5 else 0.0
            work.source_w[z, c] = 0.0


@model
def describe_solids(cells: Cells, zones: Zones, work: Work):  # type: ignore[no-untyped-def]
    """Refresh what decay and worms have changed: dry mass, and water held against gravity."""
    n_zones, n_cells = cells.temp_c.shape
    for z in range(n_zones):
        if zones.active[z] == 0.0:
            continue
        for c in range(n_cells):
            work.dry_kg[z, c] = dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c])
            work.held_kg[z, c] = water_held(cells.carbon_kg[z, c], cells.ash_kg[z, c])
