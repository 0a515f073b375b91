"""The worms once more, vectorised with NumPy over members and zones: ``[N]`` and ``[C, N]``.

For zones that hold worms, food and humus, at temperatures above freezing; worms short of nitrogen
do not graze other cells.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from bedlore.bed.cells import Floats
from bedlore.bed.layout import COCOON_STEPS, Herd
from bedlore.bed.living import (
    LIVE_ASH,
    LIVE_CARBON,
    LIVE_NITROGEN,
    LIVE_WATER,
    MOST_HASTE,
    SIDE_M,
    WET_PER_CARBON,
)
from bedlore.bed.matter import OXYGEN_PER_CARBON, WATER_PER_CARBON
from bedlore.bed.movement import COLD_END_C, COLD_START_C, HOSTILE_QUALITY, LEAST_APPEAL, LN_2
from bedlore.bed.spread import LEAST_SHARE, SLOWEST_SPREAD
from bedlore.bed.worms import EMPTY_QUALITY_KG, FEW, STARVING_HATCHLING

DAY = 1.0 / 24.0
STAGES = ("hatchling", "juvenile", "adult")


def clip01(x: Floats) -> Floats:
    """``x`` held between 0 and 1."""
    return np.clip(x, 0.0, 1.0)


def ramp(x: Floats, none: Floats, full: Floats) -> Floats:
    """0 at ``none`` and beyond, 1 at ``full`` and beyond."""
    return clip01((x - none) / (full - none))


def cardinal(t: Floats, low: Floats, best: Floats, high: Floats) -> Floats:
    """Cardinal temperature response 0..1."""
    best = np.maximum(best, 0.5 * (low + high))
    rise = best - low
    above = (t - high) * (t - low) ** 2
    whole = above / (rise * (rise * (t - best) - (best - high) * (best + low - 2.0 * t)))
    return np.where((t > low) & (t < high), whole, 0.0)


def gone(rate_per_d: Floats) -> Floats:
    """Share lost in an hour."""
    step = rate_per_d * DAY
    return step / (1.0 + step)


def ratio(a: Floats, b: Floats) -> Floats:
    """``a / b``, and 0 where there is no ``b``."""
    return np.where(b > 0.0, a / np.where(b > 0.0, b, 1.0), 0.0)


class VectorHerd:
    """The herd of a :class:`benchmarks.numpy_model.VectorBed`, whose cells it eats from."""

    def __init__(self, bed: Any, herd: Herd) -> None:
        self.bed = bed
        self.p = bed.p
        flat = {name: getattr(herd, name).reshape(-1).copy() for name in Herd._fields[1:10]}
        self.n = {stage: flat[f"{stage}_n"] for stage in STAGES}
        self.kg = {stage: flat[f"{stage}_kg"] for stage in STAGES}
        self.slow = {stage: flat[f"{stage}_slow_n"] for stage in STAGES[1:]}
        self.age_d = flat["adult_age_d"]
        self.chain = _rows_last(herd.cocoon_n)
        self.where = _rows_last(herd.where)
        self.cocoon_where = _rows_last(herd.cocoon_where)
        p = self.p
        self.hatchling_kg = np.minimum(p["worm_hatch_kg"], p["worm_cocoon_kg"] / p["worm_brood_n"])

    def arrays(self) -> dict[str, Floats]:
        """Every array by the name it has in :class:`bedlore.bed.layout.Herd`."""
        named = {"adult_age_d": self.age_d, "cocoon_n": self.chain, "where": self.where}
        named["cocoon_where"] = self.cocoon_where
        for stage in STAGES:
            named[f"{stage}_n"] = self.n[stage]
            named[f"{stage}_kg"] = self.kg[stage]
        for stage, slow_n in self.slow.items():
            named[f"{stage}_slow_n"] = slow_n
        return named

    def live(self) -> None:
        """One hour in every zone."""
        area = self.bed.area
        crowd = sum(self.kg.values()) / area
        shared = area * (1.0 + crowd / self.p["worm_crowd_kg_m2"])
        self.sense()
        self.spread(shared)
        dead_kg = self.hatch()
        growth, laying, hazard = self.climate()
        fed = self.feed(growth, shared)
        full = crowd / self.p["worm_full_kg_m2"]
        room = 1.0 / (1.0 + full**4)
        hardship = self.p["worm_hungry_rate"] * clip01(1.0 - fed / self.p["worm_hungry_below"])
        hardship = growth * (hardship + self.p["worm_crowd_rate"] * (1.0 - room))
        dead_kg += self.die(hazard, hardship)
        self.come_of_age(growth)
        self.lay(laying * room, fed)
        self.book(dead_kg)

    def sense(self) -> None:
        """How each cell suits worms, and what it offers them."""
        bed, p = self.bed, self.p
        temp = bed.temp_c
        gate = clip01((temp - p["worm_gate_c"]) * 0.2)
        best = p["worm_grow_topt_c"]
        self.pace = gate * cardinal(temp, p["worm_grow_tmin_c"], best, p["worm_grow_tmax_c"])
        comfort = ramp(bed.aerobic, np.zeros_like(best), p["worm_oxygen_full"])
        comfort *= ramp(bed.moisture, p["worm_dry_none"], p["worm_dry_full"])
        comfort *= ramp(bed.moisture, p["worm_wet_none"], p["worm_wet_full"])
        comfort *= ramp(bed.ammonia_mg_g, p["worm_ammonia_none"], p["worm_ammonia_ok"])
        self.comfort = comfort
        self.liking = comfort * ramp(temp, p["worm_prefer_zero_c"], p["worm_prefer_low_c"])
        self.liking *= ramp(temp, p["worm_prefer_end_c"], p["worm_prefer_high_c"])
        carbon = bed.carbon_kg
        food = carbon[0] + p["food_medium_share"] * carbon[1] + p["food_slow_share"] * carbon[2]
        self.food_kg = WET_PER_CARBON * food
        self.edible = carbon[0] + carbon[1] + carbon[2]
        self.food_quality = bed.quality_kg / self.edible
        reachable = self.food_kg * comfort
        self.within_reach = reachable.sum(axis=0)
        worth = (reachable * self.food_quality).sum(axis=0)
        self.quality = (worth + EMPTY_QUALITY_KG) / (self.within_reach + EMPTY_QUALITY_KG)

    def spread(self, shared_m2: Floats) -> None:
        """Drift toward better cells."""
        p, temp, liking = self.p, self.bed.temp_c, self.liking
        food = self.food_kg * self.comfort * self.food_quality
        food = food / (food + 0.1 * p["worm_half_food_g"] * shared_m2)
        draw = (liking * liking + 1e-6) * (1.0 + p["worm_food_pull"] * food)
        draw *= self.bed.thickness_m
        share = 1.0 / draw.sum(axis=0)
        briskness = np.where(temp >= p["worm_grow_topt_c"], 1.0, self.pace)
        pace = (self.where * briskness).sum(axis=0)
        leaving = 4.0 - 3.0 * liking
        restless = (self.where * leaving).sum(axis=0)
        creep = (self.where * np.clip(temp, 0.0, 1.0)).sum(axis=0)
        brisk = np.maximum(pace, SLOWEST_SPREAD * creep) / p["worm_spread_h"]
        brisk = np.minimum(brisk, 0.25)
        arriving = (1.0 - self.where.sum(axis=0) + brisk * restless) * share
        self.where = self.where * (1.0 - brisk * leaving) + arriving * draw
        self.where[self.where <= LEAST_SHARE] = 0.0
        best = (draw * liking).sum(axis=0) * share
        self.warmth_c = (draw * temp).sum(axis=0) * share
        scent = self.within_reach * self.quality
        scent = scent / (scent + 0.1 * p["worm_tempt_food_g"] * self.bed.area)
        hungry = p["worm_hunger_share"]
        self.appeal = best * (hungry + (1.0 - hungry) * self.quality * scent)
        self.threat = clip01(1.0 - best / HOSTILE_QUALITY)

    def heat_hazard(self, temp: Floats) -> Floats:
        """Death rate from heat [1/d]."""
        p = self.p
        if temp.max() < 25.0:
            return np.zeros_like(temp)
        rate = np.exp(p["worm_heat_slope"] * (np.minimum(temp, 60.0) - 35.0))
        return np.where(temp < 25.0, 0.0, p["worm_heat_rate"] * rate)

    def hatch(self) -> Floats:
        """Incubate, lose and hatch cocoons; returns the live mass that dies [kg]."""
        p, temp = self.p, self.bed.temp_c
        lying = np.where(self.cocoon_where < 1e-4, 0.0, self.cocoon_where)
        base = p["worm_incubation_base_c"]
        warm = np.maximum(np.minimum(temp, p["worm_incubation_top_c"]) - base, 0.0)
        chill = np.maximum(p["worm_cocoon_freeze_c"] - temp, 0.0)
        hazard = p["worm_die_cocoon"] + self.heat_hazard(temp)
        hazard = hazard + p["worm_cocoon_freeze_rate"] * chill * chill
        cool = np.minimum((lying * (temp < p["worm_hatch_tmax_c"])).sum(axis=0), 1.0)
        share = gone((lying * hazard).sum(axis=0))
        steps = COCOON_STEPS * (lying * warm).sum(axis=0) * DAY / p["worm_incubation_kd"]
        there, due = self.advance_chain(steps, 1.0 - share)
        lost = share * there
        few = there < FEW
        lost = np.where(few, there - due, lost)
        self.chain[:, few] = 0.0
        opened = due * p["worm_hatch_share"] * cool
        born = opened * p["worm_brood_n"]
        born_kg = born * self.hatchling_kg
        self.n["hatchling"] += born
        self.kg["hatchling"] += born_kg
        return np.asarray((lost + due) * p["worm_cocoon_kg"] - born_kg)

    def advance_chain(self, steps: Floats, keep: Floats) -> tuple[Floats, Floats]:
        """Advance the chains by a Poisson number of steps; what there was, and what finishes."""
        s = steps
        c0 = keep * (1.0 - s * (1.0 - s * (0.5 - s * (1.0 / 6.0 - s / 24.0))))
        c1 = c0 * s
        c2 = c1 * s / 2.0
        c3 = c2 * s / 3.0
        c4 = c3 * s / 4.0
        old = self.chain
        new = (keep - c1 - c2 - c3 - c4) * old
        for behind, chance in enumerate((c1, c2, c3, c4), start=1):
            new[behind:] += chance * old[:-behind]
        there = old.sum(axis=0)
        self.chain = new
        return there, np.maximum(keep * there - new.sum(axis=0), 0.0)

    def climate(self) -> tuple[Floats, Floats, Floats]:
        """Growth and laying 0..1 and hazard [1/d] over where the worms live."""
        bed, p, temp = self.bed, self.p, self.bed.temp_c
        share = np.where(self.where < 1e-4, 0.0, self.where)
        at_ease = share * self.comfort
        growth = (at_ease * self.pace).sum(axis=0)
        laying = cardinal(temp, p["worm_lay_tmin_c"], p["worm_lay_topt_c"], p["worm_lay_tmax_c"])
        hazard = self.heat_hazard(temp)
        hazard = hazard + p["worm_chill_rate"] * np.clip(3.0 - temp, 0.0, 10.0)
        dry = np.maximum(p["worm_dry_none"] - bed.moisture, 0.0)
        hazard += p["worm_dry_rate"] * dry / 0.1
        ammonia = (bed.ammonia_mg_g - p["worm_ammonia_avoid"]) / 0.5
        hazard += p["worm_ammonia_rate"] * np.clip(ammonia, 0.0, 10.0)
        hazard += p["worm_choke_rate"] * np.maximum(0.1 - bed.aerobic, 0.0) / 0.1
        return growth, (at_ease * laying).sum(axis=0), (share * hazard).sum(axis=0)

    def feed(self, growth: Floats, shared_m2: Floats) -> Floats:
        """Eat and grow; returns how well fed the worms are."""
        p, quality = self.p, self.quality
        food = self.within_reach * quality
        food = food / (food + 0.1 * p["worm_half_food_g"] * shared_m2)
        rest = p["worm_rest_share"]
        busy = (rest + (1.0 - rest) * food) * (1.0 - food * (1.0 - quality))
        surface_all = np.zeros_like(food)
        self.built_kg = np.zeros_like(food)
        self.burnt_kg = np.zeros_like(food)
        for stage in STAGES:
            n, kg = self.n[stage], self.kg[stage]
            pace = growth * p["worm_young_pace"] if stage == "hatchling" else growth
            surface = n * np.cbrt(1000.0 * ratio(kg, n)) ** 2
            built = 0.003 * p["worm_growth_rate"] * food * quality * pace * surface * DAY
            burnt = np.minimum(3.0 * p["worm_upkeep_rate"] * busy * pace * kg * DAY, 0.5 * kg)
            self.kg[stage] = kg + built - burnt
            self.built_kg += built
            self.burnt_kg += burnt
            surface_all += surface
        wanted = 0.001 * p["worm_intake_rate"] * growth * food * surface_all * DAY
        self.eaten_kg = np.minimum(wanted, 0.2 * self.within_reach)
        self.eaten_share = ratio(self.eaten_kg, self.within_reach) * self.comfort
        return np.asarray(food * quality / busy)

    def die(self, hazard: Floats, hardship: Floats) -> Floats:
        """Take out the dead; returns their mass [kg]."""
        p = self.p
        thin_g = {
            "hatchling": STARVING_HATCHLING * 1000.0 * self.hatchling_kg,
            "juvenile": 1000.0 * self.hatchling_kg,
            "adult": p["worm_starve_adult_g"],
        }
        dead_kg = np.zeros_like(hazard)
        for stage in STAGES:
            n, kg = self.n[stage], self.kg[stage]
            starved = clip01(2.0 - 2000.0 * ratio(kg, n * thin_g[stage]))
            rate = p[f"worm_die_{stage}"] + hazard
            rate = rate + p["worm_starve_rate"] * np.where(n > 0.0, starved, 0.0)
            if stage != "adult":
                rate = rate + hardship
            share = np.where(n < FEW, 1.0, gone(rate))
            dead_kg += share * kg
            self.n[stage] = n - share * n
            self.kg[stage] = kg - share * kg
            if stage != "hatchling":
                self.slow[stage] *= 1.0 - share
        self.age_d *= 1.0 - share
        return dead_kg

    def come_of_age(self, growth: Floats) -> None:
        """Juveniles to adults by mass, hatchlings to juveniles by age."""
        p = self.p
        n, kg = self.n["juvenile"], self.kg["juvenile"]
        ripe_kg = 0.001 * p["worm_mature_g"] * n
        ripe6 = ratio(kg, ripe_kg) ** 6
        step = growth * DAY * ripe6
        share = step / (p["worm_mature_d"] * (1.0 + ripe6) + step)
        moved_kg = np.minimum(share * np.maximum(kg, ripe_kg), 0.9 * kg)
        slow_n = share * self.slow["juvenile"]
        self.n["adult"] += share * n
        self.kg["adult"] += moved_kg
        self.slow["adult"] += slow_n
        self.age_d += growth * self.n["adult"] * DAY
        grown = growth * DAY / (p["worm_young_d"] + growth * DAY)
        grown_n = grown * self.n["hatchling"]
        grown_kg = grown * self.kg["hatchling"]
        self.n["hatchling"] -= grown_n
        self.kg["hatchling"] -= grown_kg
        self.n["juvenile"] = n - share * n + grown_n
        self.kg["juvenile"] = kg - moved_kg + grown_kg
        self.slow["juvenile"] += p["worm_slow_share"] * grown_n - slow_n

    def lay(self, laying: Floats, fed: Floats) -> None:
        """Lay cocoons where the adults are."""
        p, adults = self.p, self.n["adult"]
        low, high = p["worm_lay_food_low"], p["worm_lay_food_high"]
        age_d = ratio(self.age_d, adults)
        start = clip01(age_d / p["worm_first_cocoon_d"] - 0.5)
        spent = clip01((age_d - p["worm_old_d"]) / p["worm_old_span_d"])
        age = start * (1.0 - spent * (1.0 - p["worm_old_share"]))
        laid = p["worm_lay_rate"] * laying * clip01((fed - low) / (high - low)) * age * adults * DAY
        mix = ratio(laid, self.chain.sum(axis=0) + laid)
        self.cocoon_where += mix * (self.where - self.cocoon_where)
        self.chain[0] += laid
        self.built_kg += laid * p["worm_cocoon_kg"]

    def book(self, dead_kg: Floats) -> None:
        """What was eaten, burnt, built and left behind, cell by cell."""
        bed, p = self.bed, self.p
        here = self.where / self.where.sum(axis=0)
        burnt_kg = self.burnt_kg * here
        dead = dead_kg * here
        share = np.minimum(0.5, self.eaten_share)
        built = ratio(self.built_kg, self.eaten_kg) * self.eaten_share * self.food_kg
        shares = np.stack((share, share * p["food_medium_share"], share * p["food_slow_share"]))
        taken = bed.carbon_kg[:3] * shares
        taken_n = bed.nitrogen_kg[:3] * shares
        burns, fresh = p["gut_burns"], p["casts_fresh_share"]
        cast_c = (1.0 - burns) * taken.sum(axis=0)
        eaten_n = taken_n.sum(axis=0)
        cast_n = (1.0 - burns) * eaten_n
        for pools, gone_out, cast in ((bed.carbon_kg, taken, cast_c),
                                      (bed.nitrogen_kg, taken_n, cast_n)):  # fmt: skip
            pools[:3] -= gone_out
            pools[1] += fresh * cast
            pools[3] += (1.0 - fresh) * cast
        bed.ammonia_kg += burns * eaten_n
        bed.quality_kg *= (bed.carbon_kg[0] + bed.carbon_kg[1] + bed.carbon_kg[2]) / self.edible
        bed.starch_kg *= 1.0 - share
        burnt = taken * burns
        burnt[0] += LIVE_CARBON * burnt_kg
        oxygen = np.einsum("pcn,p->cn", burnt, np.array(OXYGEN_PER_CARBON[:3]))
        made = np.einsum("pcn,p->cn", burnt, np.array(WATER_PER_CARBON[:3]))
        bed.carbon_kg[3] -= LIVE_CARBON * built
        bed.carbon_kg[0] += LIVE_CARBON * dead
        bed.quality_kg += LIVE_CARBON * dead
        self.take_nitrogen(LIVE_NITROGEN * built)
        bed.ammonia_kg += LIVE_NITROGEN * (burnt_kg + dead)
        live = burnt_kg + dead - built
        bed.ash_kg += LIVE_ASH * live
        bed.water_kg += made + LIVE_WATER * live
        bed.source_w += oxygen * p["heat_per_oxygen_j_kg"] / 3600.0

    def take_nitrogen(self, wanted: Floats) -> None:
        """Nitrogen of new tissue: ammonia, nitrate, then the organic pools."""
        bed = self.bed
        for store in (bed.ammonia_kg, bed.nitrate_kg):
            taken = np.minimum(wanted, store)
            store -= taken
            wanted = wanted - taken
        if wanted.any():
            organic = bed.nitrogen_kg.sum(axis=0)
            bed.nitrogen_kg *= 1.0 - ratio(np.minimum(wanted, 0.9 * organic), organic)

    def wander(self) -> None:
        """Move between neighbouring zones."""
        geometry, p = self.bed.geometry, self.p
        zones = self.bed.shape[1]
        appeal = self.appeal.reshape(-1, zones)
        threat = self.threat.reshape(-1, zones)
        carried = p["worm_scent_share"].reshape(-1, zones)[:, 0]
        links = list(geometry.link_zone)
        for a, b in links + links[::-1]:
            to_a = carried * (1.0 - threat[:, a]) * appeal[:, b]
            to_b = carried * (1.0 - threat[:, b]) * appeal[:, a]
            appeal[:, a] = np.maximum(appeal[:, a], to_a)
            appeal[:, b] = np.maximum(appeal[:, b], to_b)
        pace = self.zone_pace(self.warmth_c).reshape(-1, zones)
        for (a, b), gap_m in zip(links, geometry.link_gap_m, strict=True):
            dt_d = min(SIDE_M / gap_m, MOST_HASTE) * DAY
            most = np.maximum(np.maximum(appeal[:, a], appeal[:, b]), LEAST_APPEAL)
            better = (appeal[:, b] - appeal[:, a]) / most
            fear = threat[:, a] - threat[:, b]
            self.move(a, b, better, np.maximum(fear, 0.0), pace[:, a], dt_d)
            self.move(b, a, -better, np.maximum(-fear, 0.0), pace[:, b], dt_d)

    def zone_pace(self, temp: Floats) -> Floats:
        """Pace of moving between zones against that at 20 degC."""
        p = self.p
        low, best, high = p["worm_grow_tmin_c"], p["worm_grow_topt_c"], p["worm_grow_tmax_c"]

        def growth(t: Floats) -> Floats:
            return clip01((t - p["worm_gate_c"]) * 0.2) * cardinal(t, low, best, high)

        fade = clip01((temp - COLD_END_C) / (COLD_START_C - COLD_END_C))
        pace = np.where(temp >= best, 1.0, growth(temp))
        return np.asarray(fade * pace / np.maximum(growth(np.full_like(temp, 20.0)), 0.1))

    def move(self, a: int, b: int, better: Floats, fear: Floats, pace: Floats, dt_d: float) -> None:
        """Move worms of every member from zone ``a`` to ``b``."""
        zones = self.bed.shape[1]
        p = {name: self.p[name][::zones] for name in MOVES}
        x = clip01(0.2 + 0.8 * better / p["worm_move_contrast"])
        pull = p["worm_move_random"] + (1.0 - p["worm_move_random"]) * x * x * (3.0 - 2.0 * x)
        flee = pace * fear * p["worm_flee_rate"]
        fast = pace * pull * LN_2 / p["worm_move_fast_d"] + flee
        slow = pace * pull * LN_2 / p["worm_move_slow_d"] + flee
        young = p["worm_move_young"] * fast * dt_d
        fast_share = fast * dt_d / (1.0 + fast * dt_d)
        slow_share = slow * dt_d / (1.0 + slow * dt_d)
        self.carry(a, b, young / (1.0 + young), (self.n["hatchling"], self.kg["hatchling"]))
        for stage in STAGES[1:]:
            n, slow_n = self.n[stage][a::zones], self.slow[stage][a::zones]
            leaving_slow = slow_share * slow_n
            leaving = leaving_slow + fast_share * np.maximum(n - slow_n, 0.0)
            ages = (self.age_d,) if stage == "adult" else ()
            self.carry(a, b, ratio(leaving, n), (self.n[stage], self.kg[stage], *ages))
            self.slow[stage][a::zones] -= leaving_slow
            self.slow[stage][b::zones] += leaving_slow

    def carry(self, a: int, b: int, share: Floats, arrays: tuple[Floats, ...]) -> None:
        """Carry a share of each array from zone ``a`` to ``b``."""
        zones = self.bed.shape[1]
        for array in arrays:
            moved = share * array[a::zones]
            array[a::zones] -= moved
            array[b::zones] += moved


MOVES = ("worm_move_contrast", "worm_move_random", "worm_flee_rate", "worm_move_fast_d",
         "worm_move_slow_d", "worm_move_young")  # fmt: skip


def _rows_last(array: Floats) -> Floats:
    """``[M, Z, K]`` as ``[K, M x Z]``."""
    return np.ascontiguousarray(array.reshape(-1, array.shape[-1]).T)
