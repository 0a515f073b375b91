"""Microbial decay: carbon pools, heat, water made, nitrogen, ammonia, and souring.

First-order pools with the rate constants of the parameter table at 20 degC, corrected for
temperature, moisture (Haug, from memory), oxygen and nitrogen shortage. Respired carbon gives
heat through the oxycaloric equivalent (14.0-14.6 kJ/g O2).
"""

from __future__ import annotations

import math

from bedlore.bed.air import breathe, lump_supply
from bedlore.bed.cells import (
    CARBON_RESPIRED,
    FAST,
    HEAT_CARRIED,
    HEAT_DECAY,
    HUMUS,
    MEDIUM,
    NITROGEN_VOLATILISED,
    POOLS,
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
    if temp_c <= -2.0 or temp_c >= 65.0:
        return 0.0
    rate = math.exp(log_q10 * (min(40.0, max(2.0, temp_c)) * 0.1 - 2.0))
    if temp_c < 2.0:
        return rate * (temp_c + 2.0) * 0.25
    if temp_c > 50.0:
        return rate * (65.0 - temp_c) / 15.0
    return rate


@model
def moisture_response(moisture_frac):  # type: ignore[no-untyped-def]
    """Rate against ample water, Haug's curve (from memory). By hand: 50 % gives 0.856."""
    return 1.0 / (math.exp(-17.684 * moisture_frac + 7.0622) + 1.0)


@model
def potential_decay(p, cells: Cells, work: Work, z):  # type: ignore[no-untyped-def]
    """Share of each carbon pool of a zone lost this hour with ample oxygen, and its demand."""
    log_q10 = math.log(p["decay_q10"])
    fast_per_hour = p["fast_rate_per_day"] * HOUR_D
    medium_per_hour = p["medium_rate_per_day"] * HOUR_D
    slow_per_hour = p["slow_rate_per_day"] * HOUR_D
    humus_per_hour = p["humus_rate_per_day"] * HOUR_D
    spent = 1.0 - p["residue_yield"]
    for c in range(cells.temp_c.shape[1]):
        factor = temperature_response(cells.temp_c[z, c], log_q10)
        factor *= moisture_response(work.moisture_frac[z, c])
        work.temp_factor[z, c] = factor
        carbon = cells.carbon_kg[z, c]
        share = work.decay_share[z, c]
        share[FAST] = _share_lost(fast_per_hour * factor)
        share[MEDIUM] = _share_lost(medium_per_hour * factor)
        share[SLOW] = _share_lost(slow_per_hour * factor)
        share[HUMUS] = _share_lost(humus_per_hour * factor)
        demand = 0.0
        for pool in range(HUMUS):
            demand += carbon[pool] * share[pool] * OXYGEN_PER_CARBON[pool]
        work.oxygen_demand_kg[z, c] = (
            spent * demand + carbon[HUMUS] * share[HUMUS] * OXYGEN_PER_CARBON[HUMUS]
        )


@model
def _share_lost(rate):  # type: ignore[no-untyped-def]
    # 1 - exp(-rate) to third order, positive for every rate.
    return rate / (1.0 + 0.5 * rate)


@model
def decay_zone(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally, z):  # type: ignore[no-untyped-def]
    """One hour of decay in a zone."""
    potential_decay(p, cells, work, z)
    breathe(geometry, cells, zones, work, z)
    sourest = 0.0
    lump_m = zones.lump_m[z]
    for c in range(cells.temp_c.shape[1]):
        aerobic = work.oxygen_factor[z, c]
        served = aerobic
        carbon = cells.carbon_kg[z, c]
        if lump_m > 0.0 and carbon[FAST] > 0.0:
            per_m3s = work.oxygen_demand_kg[z, c] * (FEED_CARBON_KG_M3 / 3600.0)
            per_m3s /= carbon[FAST] + carbon[MEDIUM] + 1e-9
            served = aerobic * lump_supply(lump_m, per_m3s)
        starch = cells.starch_kg[z, c]
        if starch > 0.0:
            wet_kg = work.dry_kg[z, c] + cells.water_kg[z, c]
            sourest = max(sourest, 1000.0 * (1.0 - served) * starch / wet_kg)
        _decay_cell(p, cells, work, tally, z, c, aerobic, served)
    zones.sour[z] += (sourest - zones.sour[z]) * (HOUR_D / SOUR_MEMORY_D)


@model
def _decay_cell(p, cells: Cells, work: Work, tally, z, c, aerobic, served):  # type: ignore[no-untyped-def]
    share = work.decay_share[z, c]
    share[FAST] *= served
    share[MEDIUM] *= served
    share[SLOW] *= aerobic
    share[HUMUS] *= aerobic
    allowed = _nitrogen_limit(p, cells, share, z, c)
    for pool in range(POOLS):
        share[pool] *= allowed
    _respire(p, cells, work, tally, z, c, share)
    _turn_over_nitrogen(p, cells, work, tally, z, c, aerobic)


@model
def _nitrogen_limit(p, cells: Cells, share, z, c):  # type: ignore[no-untyped-def]
    """Share of the decay that the nitrogen at hand allows; microbes re-use some, so >= 0.2."""
    carbon = cells.carbon_kg[z, c]
    nitrogen = cells.nitrogen_kg[z, c]
    released = share[HUMUS] * nitrogen[HUMUS]
    residue = 0.0
    for pool in range(HUMUS):
        released += share[pool] * nitrogen[pool]
        residue += share[pool] * carbon[pool]
    need = p["residue_yield"] * residue / p["residue_c_to_n"] - released
    mineral = cells.ammonia_kg[z, c] + cells.nitrate_kg[z, c]
    if need <= mineral:
        return 1.0
    return max(0.2, mineral / need)


@model
def _respire(p, cells: Cells, work: Work, tally, z, c, share):  # type: ignore[no-untyped-def]
    """Burn a share of each pool: carbon dioxide, heat, water; the residue joins the humus."""
    carbon = cells.carbon_kg[z, c]
    nitrogen = cells.nitrogen_kg[z, c]
    held = p["residue_yield"]
    edible = carbon[FAST] + carbon[MEDIUM] + carbon[SLOW]
    out = share[HUMUS] * carbon[HUMUS]
    freed_n = share[HUMUS] * nitrogen[HUMUS]
    carbon[HUMUS] -= out
    nitrogen[HUMUS] -= freed_n
    respired_kg = out
    oxygen_kg = out * OXYGEN_PER_CARBON[HUMUS]
    made_kg = out * WATER_PER_CARBON[HUMUS]
    dry_gone_kg = out * DRY_PER_CARBON[HUMUS]
    gone = 0.0
    for pool in range(HUMUS):
        out = share[pool] * carbon[pool]
        out_n = share[pool] * nitrogen[pool]
        carbon[pool] -= out
        nitrogen[pool] -= out_n
        gone += out
        freed_n += out_n
        burnt = out - held * out
        respired_kg += burnt
        oxygen_kg += burnt * OXYGEN_PER_CARBON[pool]
        made_kg += burnt * WATER_PER_CARBON[pool]
        dry_gone_kg += out * DRY_PER_CARBON[pool] - held * out * DRY_PER_CARBON[HUMUS]
    residue_kg = held * gone
    # Starch and food quality fade with the pools that carry them.
    cells.starch_kg[z, c] *= 1.0 - share[FAST]
    if edible > 0.0:
        cells.quality_kg[z, c] *= 1.0 - gone / edible
    heat_j = oxygen_kg * p["heat_per_oxygen_j_kg"]
    temp_c = cells.temp_c[z, c]
    work.source_w[z, c] += heat_j * (1.0 / 3600.0)
    carbon[HUMUS] += residue_kg
    cells.water_kg[z, c] += made_kg
    work.dry_kg[z, c] -= dry_gone_kg
    _feed_microbes(p, cells, z, c, freed_n, residue_kg / p["residue_c_to_n"])
    tally[z, HEAT_DECAY] += heat_j
    tally[z, WATER_MADE] += made_kg
    tally[z, CARBON_RESPIRED] += respired_kg
    tally[z, HEAT_CARRIED] += made_kg * water_heat(temp_c, p["freezing_range_k"]) - (
        dry_gone_kg * DRY_HEAT_J_KGK * temp_c
    )


@model
def _feed_microbes(p, cells: Cells, z, c, freed_n, wanted_n):  # type: ignore[no-untyped-def]
    """Give the residue its nitrogen: first what decay freed, then ammonia, then nitrate."""
    mineral = cells.ammonia_kg[z, c] + freed_n
    from_mineral = min(wanted_n, mineral)
    cells.ammonia_kg[z, c] = mineral - from_mineral
    from_nitrate = min(wanted_n - from_mineral, cells.nitrate_kg[z, c])
    cells.nitrate_kg[z, c] -= from_nitrate
    cells.nitrogen_kg[z, c, HUMUS] += from_mineral + from_nitrate


@model
def _turn_over_nitrogen(p, cells: Cells, work: Work, tally, z, c, aerobic):  # type: ignore[no-untyped-def]
    """Ammonia to nitrate where there is air, and ammonia lost to the air."""
    ammonia = cells.ammonia_kg[z, c]
    if ammonia <= 0.0:
        return
    step = work.temp_factor[z, c] * HOUR_D
    nitrified = ammonia * _share_lost(p["nitrify_rate_per_day"] * step * aerobic)
    gone = ammonia * _share_lost(p["ammonia_loss_per_day"] * step)
    cells.ammonia_kg[z, c] = ammonia - nitrified - gone
    cells.nitrate_kg[z, c] += nitrified
    tally[z, NITROGEN_VOLATILISED] += gone
