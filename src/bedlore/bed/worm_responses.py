"""How worms and cocoons respond to temperature, moisture, air, ammonia, food and age.

Plain numbers in and out: responses 0..1, hazards 1/d.
"""

from __future__ import annotations

import math

from bedlore.bed.jit import model
from bedlore.bed.layout import Parameters

# Coldest and warmest of a response to temperature, and the line its cubic is divided by.
Cardinal = tuple[float, float, float, float]

GATE_PER_K = 0.2  # the full curve is reached 5 K above the gate


@model
def clip01(x: float) -> float:
    """Return ``x`` held between 0 and 1."""
    return min(max(x, 0.0), 1.0)


@model
def cardinal(tmin: float, topt: float, tmax: float) -> Cardinal:
    """Return the cardinal temperature law (Rosso et al. 1993, CTMI) for `cardinal_at`.

    Its divisor, in the form of the paper ``rise (rise (t - topt) - (topt - tmax)(topt + tmin -
    2 t))`` with rise = topt - tmin, is a straight line in t - tmin: the last two are its start
    and slope.
    """
    topt = optimum(tmin, topt, tmax)
    rise = topt - tmin
    fall = tmax - topt
    return tmin, tmax, rise * rise * (fall - rise), rise * (rise - 2.0 * fall)


@model
def cardinal_at(law: Cardinal, t: float) -> float:
    """Return the response 0..1 to temperature ``t`` by a law of `cardinal`."""
    above = t - law[0]
    if above <= 0.0 or t >= law[1]:
        return 0.0
    return (t - law[1]) * above * above / (law[2] + law[3] * above)


@model
def optimum(tmin: float, topt: float, tmax: float) -> float:
    """Return ``topt``, kept in the upper half of the range: below its middle the law has a pole."""
    return max(topt, 0.5 * (tmin + tmax))


@model
def growth_law(p: Parameters) -> tuple[float, Cardinal]:
    """Return the gate and the cardinal law of growth and feeding."""
    law = cardinal(p["worm_grow_tmin_c"], p["worm_grow_topt_c"], p["worm_grow_tmax_c"])
    return p["worm_gate_c"], law


@model
def growth_at(law: tuple[float, Cardinal], temp_c: float) -> float:
    """Return the response 0..1 of growth and feeding to temperature."""
    return clip01((temp_c - law[0]) * GATE_PER_K) * cardinal_at(law[1], temp_c)


@model
def laying_law(p: Parameters) -> Cardinal:
    """Return the cardinal law of laying."""
    return cardinal(p["worm_lay_tmin_c"], p["worm_lay_topt_c"], p["worm_lay_tmax_c"])


@model
def pace_response(p: Parameters, temp_c: float, growth: float) -> float:
    """Return how briskly worms move: as they grow up to the best temperature, fully above."""
    return 1.0 if temp_c >= p["worm_grow_topt_c"] else growth


@model
def ramp(x: float, none: float, full: float) -> float:
    """Return 0 at ``none`` and beyond, 1 at ``full`` and beyond, straight between."""
    return clip01((x - none) * (1.0 / (full - none)))


@model
def moisture_limits(p: Parameters) -> tuple[float, float, float, float]:
    """Return where drought and wetness leave nothing and where they begin to tell."""
    return p["worm_dry_none"], p["worm_dry_full"], p["worm_wet_none"], p["worm_wet_full"]


@model
def moisture_response(limits: tuple[float, float, float, float], moisture_frac: float) -> float:
    """Return the response 0..1 to moisture (wet basis)."""
    return ramp(moisture_frac, limits[0], limits[1]) * ramp(moisture_frac, limits[2], limits[3])


@model
def ammonia_limits(p: Parameters) -> tuple[float, float]:
    """Return the ammonia, mg N per g wet, that leaves nothing and that does not matter."""
    return p["worm_ammonia_none"], p["worm_ammonia_ok"]


@model
def ammonia_response(limits: tuple[float, float], ammonia_mg_g: float) -> float:
    """Return the response 0..1 to ammonia nitrogen, mg per g wet."""
    return ramp(ammonia_mg_g, limits[0], limits[1])


@model
def oxygen_response(full: float, oxygen_factor: float) -> float:
    """Return the response 0..1 to oxygen (against what microbes need), best from ``full`` on."""
    return ramp(oxygen_factor, 0.0, full)


@model
def preference_limits(p: Parameters) -> tuple[float, float, float, float]:
    """Return the temperatures where cold and heat leave no liking and where they begin to tell."""
    return (
        p["worm_prefer_zero_c"],
        p["worm_prefer_low_c"],
        p["worm_prefer_end_c"],
        p["worm_prefer_high_c"],
    )


@model
def preference(limits: tuple[float, float, float, float], temp_c: float) -> float:
    """Return how much worms like ``temp_c``, 0..1: flat over 15-25 degC, falling both ways."""
    return ramp(temp_c, limits[0], limits[1]) * ramp(temp_c, limits[2], limits[3])


@model
def half_food(p: Parameters, area_m2: float) -> float:
    """Return the edible feed, kg on ``area_m2``, at which worms eat half of the most they can."""
    return 0.1 * p["worm_half_food_g"] * area_m2  # the parameter is g per 0.01 m2


@model
def food_response(half_food_kg: float, food_kg: float) -> float:
    """Return intake against the most, 0..1, for ``food_kg`` of edible feed."""
    return food_kg / (food_kg + half_food_kg)


@model
def heat_hazard(p: Parameters, temp_c: float) -> float:
    """Return the death rate from heat, 1/d, of worms and cocoons."""
    if temp_c < 25.0:
        return 0.0
    return p["worm_heat_rate"] * math.exp(p["worm_heat_slope"] * (min(temp_c, 60.0) - 35.0))


@model
def worm_hazard(
    p: Parameters, temp_c: float, moisture_frac: float, ammonia_mg_g: float, oxygen_factor: float
) -> float:
    """Return the death rate of worms from heat, cold, drought, ammonia and want of air, 1/d."""
    hazard = heat_hazard(p, temp_c)
    if temp_c < 3.0:
        hazard += p["worm_chill_rate"] * min(3.0 - temp_c, 10.0)
        if temp_c < 0.0:
            hazard += p["worm_freeze_rate"] * min(-temp_c, 10.0)
    if moisture_frac < p["worm_dry_none"]:
        hazard += p["worm_dry_rate"] * (p["worm_dry_none"] - moisture_frac) / 0.1
    if ammonia_mg_g > p["worm_ammonia_avoid"]:
        hazard += p["worm_ammonia_rate"] * min((ammonia_mg_g - p["worm_ammonia_avoid"]) / 0.5, 10.0)
    if oxygen_factor < 0.1:
        hazard += p["worm_choke_rate"] * (0.1 - oxygen_factor) / 0.1
    return hazard


@model
def cocoon_hazard(p: Parameters, temp_c: float) -> float:
    """Return the death rate of cocoons, 1/d."""
    hazard = p["worm_die_cocoon"] + heat_hazard(p, temp_c)
    chill = p["worm_cocoon_freeze_c"] - temp_c
    if chill > 0.0:
        hazard += p["worm_cocoon_freeze_rate"] * chill * chill
    return hazard


@model
def laying_age(p: Parameters, age_d: float) -> float:
    """Return the share of full laying at ``age_d`` days since maturity."""
    start = clip01(age_d / p["worm_first_cocoon_d"] - 0.5)
    spent = clip01((age_d - p["worm_old_d"]) / p["worm_old_span_d"])
    return start * (1.0 - spent * (1.0 - p["worm_old_share"]))


@model
def gone(rate_per_d: float, dt_d: float) -> float:
    """Return the share lost in ``dt_d`` days at ``rate_per_d`` (implicit, so never above 1)."""
    step = rate_per_d * dt_d
    return step / (1.0 + step)
