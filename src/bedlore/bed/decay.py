"""Microbial decay: carbon pools, heat, water made, nitrogen, ammonia, and souring.

First-order pools with the rate constants of the parameter table at 20 degC, corrected for
temperature, moisture (Haug, from memory), oxygen and nitrogen shortage. Respired carbon gives
heat through the oxycaloric equivalent (14.0-14.6 kJ/g O2).
"""

from __future__ import annotations

import math

from bedlore.bed.air import (
    AIR_OXYGEN_KG_M3,
    air_resistance,
    lump_supply,
    oxygen_response,
    oxygen_sink,
    pore_space,
)
from bedlore.bed.cells import (
    CARBON_RESPIRED,
    FAST,
    HEAT_CARRIED,
    HEAT_DECAY,
    HUMUS,
    MEDIUM,
    NITROGEN_VOLATILISED,
    SLOW,
    WATER_MADE,
    Cells,
    Geometry,
    Work,
    Zones,
)
from bedlore.bed.jit import model
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    DRY_PER_CARBON,
    OXYGEN_PER_CARBON,
    WATER_PER_CARBON,
    water_heat,
)
from bedlore.bed.pools import dot, minus, pools_of, product, put_pools, times

HOUR_D = 1.0 / 24.0
FEED_CARBON_KG_M3 = 30.0  # carbon in a heap of fresh scraps (500 kg/m3, 20 % dry; derived)
SOUR_MEMORY_D = 1.0  # the index follows its cause within about a day (assumed)


@model
def temperature_response(temp_c, log_q10):  # type: ignore[no-untyped-def]
    """Rate against 20 degC: Q10 law, off at -2 degC, capped above 40, none from 65 degC.

    Linear to zero from +2 to -2 degC (frozen water); the cap keeps a heating lump from running
    away, since mesophilic microbes stop gaining near 40 degC. ``log_q10`` is the natural
    logarithm of Q10. By hand: Q10 2 at 10 degC 0.5.
    """
    rate = math.exp(log_q10 * (min(40.0, max(2.0, temp_c)) * 0.1 - 2.0))
    thawed = min(1.0, max(0.0, (temp_c + 2.0) * 0.25))
    alive = min(1.0, max(0.0, (65.0 - temp_c) * (1.0 / 15.0)))
    return rate * thawed * alive


@model
def moisture_response(moisture_frac):  # type: ignore[no-untyped-def]
    """Rate against ample water, Haug's curve (from memory). By hand: 50 % gives 0.856."""
    return 1.0 / (math.exp(-17.684 * moisture_frac + 7.0622) + 1.0)


@model
def decay_zone(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally, z):  # type: ignore[no-untyped-def]
    """One hour of decay in a zone.

    Several short sweeps rather than one long: a processor works ahead over a few hundred
    instructions only, and so does several cells of a short sweep at once.
    """
    _respond(p, cells, work, z)
    _ask_for_oxygen(p, cells, work, z)
    _breathe(geometry, cells, work, z)
    _serve_lump(cells, zones, work, z)
    _respire(p, cells, work, tally, z)
    _turn_over_nitrogen(p, cells, work, tally, z)


@model
def decay_in_air(p, cells: Cells, work: Work, tally, z):  # type: ignore[no-untyped-def]
    """One hour of decay with all the oxygen it takes, as in a shallow dish."""
    _respond(p, cells, work, z)
    _ask_for_oxygen(p, cells, work, z)
    for c in range(cells.temp_c.shape[1]):
        work.oxygen_factor[z, c] = 1.0
        work.served[z, c] = 1.0
    _respire(p, cells, work, tally, z)
    _turn_over_nitrogen(p, cells, work, tally, z)


@model
def _respond(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """How warmth and moisture speed the decay of each cell."""
    log_q10 = math.log(p["decay_q10"])
    for c in range(cells.temp_c.shape[1]):
        work.temp_factor[z, c] = temperature_response(cells.temp_c[z, c], log_q10)
    for c in range(cells.temp_c.shape[1]):
        work.temp_factor[z, c] *= moisture_response(work.moisture_frac[z, c])


@model
def _share_lost(rate):  # type: ignore[no-untyped-def]
    # 1 - exp(-rate) to third order, positive for every rate.
    return rate / (1.0 + 0.5 * rate)


@model
def _ask_for_oxygen(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Share of each carbon pool lost this hour with ample oxygen, and the oxygen that takes."""
    fast_per_hour = p["fast_rate_per_day"] * HOUR_D
    medium_per_hour = p["medium_rate_per_day"] * HOUR_D
    slow_per_hour = p["slow_rate_per_day"] * HOUR_D
    humus_per_hour = p["humus_rate_per_day"] * HOUR_D
    spent = 1.0 - p["residue_yield"]
    oxygen_per_lost = product(OXYGEN_PER_CARBON, (spent, spent, spent, 1.0))
    for c in range(cells.temp_c.shape[1]):
        factor = work.temp_factor[z, c]
        share = (
            _share_lost(fast_per_hour * factor),
            _share_lost(medium_per_hour * factor),
            _share_lost(slow_per_hour * factor),
            _share_lost(humus_per_hour * factor),
        )
        lost = product(pools_of(cells.carbon_kg, z, c), share)
        work.oxygen_demand_kg[z, c] = dot(lost, oxygen_per_lost)
        put_pools(work.decay_share, z, c, share)


@model
def _breathe(geometry: Geometry, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Oxygen profile of a zone, and how it holds decay back.

    From the bottom up, in units of the oxygen of the lowest cell: what a cell and all below it
    take flows through the pores above, and so much more oxygen must the cell above have. What
    that makes of the air on top sets the scale. Cells go half a step toward this steady profile:
    pores and microbes do not turn within the hour.
    """
    n_cells = cells.temp_c.shape[1]
    sink = work.column[0]
    half = work.column[1]
    steady = work.column[2]
    for c in range(n_cells):
        sink[c] = oxygen_sink(work.oxygen_demand_kg[z, c], cells.oxygen_kg_m3[z, c])
        space = pore_space(work.air_space[z, c])
        half[c] = air_resistance(geometry.area_m2[z], work.thickness_m[z, c], space)
    oxygen = 1.0
    flow = 0.0
    for c in range(n_cells - 1, -1, -1):
        steady[c] = oxygen
        flow += sink[c] * oxygen
        above = half[c - 1] if c > 0 else 0.0
        oxygen += (half[c] + above) * flow
    scale = AIR_OXYGEN_KG_M3 / oxygen
    for c in range(n_cells):
        oxygen_kg_m3 = 0.5 * (scale * steady[c] + cells.oxygen_kg_m3[z, c])
        cells.oxygen_kg_m3[z, c] = oxygen_kg_m3
        work.oxygen_factor[z, c] = oxygen_response(oxygen_kg_m3)


@model
def _serve_lump(cells: Cells, zones: Zones, work: Work, z):  # type: ignore[no-untyped-def]
    """Oxygen that fresh feed gets, less in a lump, and the sourness that its want brings."""
    lump_m = zones.lump_m[z]
    sourest = 0.0
    for c in range(cells.temp_c.shape[1]):
        served = work.oxygen_factor[z, c]
        fresh_kg = cells.carbon_kg[z, c, FAST]
        if lump_m > 0.0 and fresh_kg > 0.0:
            per_m3s = work.oxygen_demand_kg[z, c] * (FEED_CARBON_KG_M3 / 3600.0)
            per_m3s /= fresh_kg + cells.carbon_kg[z, c, MEDIUM] + 1e-9
            served *= lump_supply(lump_m, per_m3s)
        work.served[z, c] = served
        starch = cells.starch_kg[z, c]
        if starch > 0.0:
            wet_kg = work.dry_kg[z, c] + cells.water_kg[z, c]
            sourest = max(sourest, 1000.0 * (1.0 - served) * starch / wet_kg)
    zones.sour[z] += (sourest - zones.sour[z]) * (HOUR_D / SOUR_MEMORY_D)


@model
def _respire(p, cells: Cells, work: Work, tally, z):  # type: ignore[no-untyped-def]
    """Burn a share of each pool: carbon dioxide, heat, water; the residue joins the humus."""
    held = p["residue_yield"]
    n_per_residue = 1.0 / p["residue_c_to_n"]
    freezing_range_k = p["freezing_range_k"]
    heat_per_oxygen_j_kg = p["heat_per_oxygen_j_kg"]
    burnt_share = (1.0 - held, 1.0 - held, 1.0 - held, 1.0)
    for c in range(cells.temp_c.shape[1]):
        aerobic = work.oxygen_factor[z, c]
        served = work.served[z, c]
        carbon = pools_of(cells.carbon_kg, z, c)
        nitrogen = pools_of(cells.nitrogen_kg, z, c)
        share = product(pools_of(work.decay_share, z, c), (served, served, aerobic, aerobic))
        lost = product(share, carbon)
        freed = product(share, nitrogen)
        ammonia = cells.ammonia_kg[z, c]
        nitrate = cells.nitrate_kg[z, c]
        edible_lost = lost[FAST] + lost[MEDIUM] + lost[SLOW]
        freed_n = freed[FAST] + freed[MEDIUM] + freed[SLOW] + freed[HUMUS]
        need = held * n_per_residue * edible_lost - freed_n
        if need > ammonia + nitrate:
            # Microbes re-use some of the nitrogen at hand, so at least a fifth goes on.
            allowed = max(0.2, (ammonia + nitrate) / need)
            share = times(share, allowed)
            lost = times(lost, allowed)
            freed = times(freed, allowed)
            edible_lost *= allowed
            freed_n *= allowed
        edible = carbon[FAST] + carbon[MEDIUM] + carbon[SLOW]
        if edible > 0.0:
            # Food quality and starch fade with the pools that carry them.
            cells.quality_kg[z, c] *= 1.0 - edible_lost / edible
        cells.starch_kg[z, c] *= 1.0 - share[FAST]
        residue_kg = held * edible_lost
        burnt = product(lost, burnt_share)
        oxygen_kg = dot(burnt, OXYGEN_PER_CARBON)
        made_kg = dot(burnt, WATER_PER_CARBON)
        dry_gone_kg = dot(lost, DRY_PER_CARBON) - residue_kg * DRY_PER_CARBON[HUMUS]
        carbon = minus(carbon, lost)
        nitrogen = minus(nitrogen, freed)
        # The residue takes its nitrogen from what decay freed and from ammonia, then nitrate.
        wanted_n = residue_kg * n_per_residue
        ammonia += freed_n
        from_ammonia = min(wanted_n, ammonia)
        from_nitrate = min(wanted_n - from_ammonia, nitrate)
        cells.ammonia_kg[z, c] = ammonia - from_ammonia
        cells.nitrate_kg[z, c] = nitrate - from_nitrate
        put_pools(cells.carbon_kg, z, c, carbon)
        put_pools(cells.nitrogen_kg, z, c, nitrogen)
        cells.carbon_kg[z, c, HUMUS] += residue_kg
        cells.nitrogen_kg[z, c, HUMUS] += from_ammonia + from_nitrate
        cells.water_kg[z, c] += made_kg
        work.dry_kg[z, c] -= dry_gone_kg
        heat_j = oxygen_kg * heat_per_oxygen_j_kg
        temp_c = cells.temp_c[z, c]
        work.source_w[z, c] += heat_j * (1.0 / 3600.0)
        tally[z, HEAT_DECAY] += heat_j
        tally[z, WATER_MADE] += made_kg
        tally[z, CARBON_RESPIRED] += burnt[FAST] + burnt[MEDIUM] + burnt[SLOW] + burnt[HUMUS]
        tally[z, HEAT_CARRIED] += made_kg * water_heat(temp_c, freezing_range_k) - (
            dry_gone_kg * DRY_HEAT_J_KGK * temp_c
        )


@model
def _turn_over_nitrogen(p, cells: Cells, work: Work, tally, z):  # type: ignore[no-untyped-def]
    """Ammonia to nitrate where there is air, and ammonia lost to the air."""
    nitrify_per_hour = p["nitrify_rate_per_day"] * HOUR_D
    lost_per_hour = p["ammonia_loss_per_day"] * HOUR_D
    volatilised_kg = 0.0
    for c in range(cells.temp_c.shape[1]):
        ammonia = cells.ammonia_kg[z, c]
        factor = work.temp_factor[z, c]
        nitrified = ammonia * _share_lost(nitrify_per_hour * factor * work.oxygen_factor[z, c])
        gone = ammonia * _share_lost(lost_per_hour * factor)
        cells.ammonia_kg[z, c] = ammonia - nitrified - gone
        cells.nitrate_kg[z, c] += nitrified
        volatilised_kg += gone
    tally[z, NITROGEN_VOLATILISED] += volatilised_kg
