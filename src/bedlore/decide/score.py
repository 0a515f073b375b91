"""How good a future is: one table of terms, each a measured quantity times a price.

A point is about an hour of the keeper's time. Prices are our own judgement (assumed); what they
mean is in docs/advice.md. Terms are worked out member by member, so that two actions are compared
on the same weather and the same bed (common random numbers), and differences within noise are
known as such.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Floats
from bedlore.bed.engine import Run
from bedlore.decide.case import Case, edible_in, edible_kg
from bedlore.decide.records import Action, Band, Effect
from bedlore.farm.bed import Limits
from bedlore.learn.densities import normal_cdf
from bedlore.outlook.ahead import SOUR_LIMIT, Ahead, Odds, crossings, odds_of

JOULE_PER_KWH = 3.6e6
AMMONIA_LIMIT_MG_G = 0.5  # worm limit 0.5-1 mg/g (Edwards 1988, from memory)
OUT_MOST_K = 5.0  # further out the worms there are dead or dormant: it adds nothing (assumed)
FOOD_PER_WORM = 1.0  # kg of food per kg of worms below which they go short (assumed)
LOTS_KG_M2 = 6.0  # uneaten food, over what is usual, that is too much at the end (assumed)


@dataclass(frozen=True)
class Term:
    """One line of the table: ``price`` in points a ``unit``."""

    name: str
    unit: str
    price: float
    meaning: str


TERMS: tuple[Term, ...] = (
    Term("cold_kd", "K d", 0.5, "worm-weighted degree-days below the cold limit, 5 K at most"),
    Term("heat_kd", "K d", 1.5, "worm-weighted degree-days above the heat limit, 5 K at most"),
    Term("cold_risk", "share", 40.0, "odds of passing the cold limit beyond those accepted"),
    Term("heat_risk", "share", 120.0, "odds of passing the heat limit beyond those accepted"),
    Term("sour_risk", "share", 80.0, "odds of turning sour beyond those accepted"),
    Term("sour_days", "index d", 0.5, "sourness above its limit"),
    Term("dry", "share d", 20.0, "moisture short of the dry limit"),
    Term("wet", "share d", 20.0, "moisture beyond the wet limit"),
    Term("ammonia", "mg/g d", 0.2, "ammonia above 0.5 mg/g where it is worst"),
    Term("hunger", "d", 1.0, "days on which the worms have too little food"),
    Term("overfed", "kg", 0.3, "uneaten food at the end beyond 6 kg/m2"),
    Term("energy", "kWh", 1.0, "heat mat"),
    Term("turned", "kg", -0.6, "food that the bed turns within the window"),
    Term("herd_lost", "kg", 6.0, "live worms fewer than now"),
    Term("work", "h", 1.0, "the keeper's time"),
    Term("late_heat", "share", 40.0, "odds of passing the heat limit later, to day 90, half of them"
         " for passing it by 5 K"),
    Term("late_sour", "share", 20.0, "odds of turning sour later, to day 90"),
    Term("late_ammonia", "mg/g", 2.0, "worst ammonia above 0.5 mg/g later, to day 90"),
    Term("late_card", "kg", 0.3, "dry card that uneaten food will claim when it warms"),
)
PRICE: Mapping[str, float] = {term.name: term.price for term in TERMS}
# Hours of work that an action costs (assumed).
WORK_H: Mapping[str, float] = {
    "nothing": 0.0, "look": 0.05, "feed": 0.25, "cover": 0.25, "uncover": 0.15, "water": 0.25,
    "bedding": 0.3, "mat": 0.05, "insulate": 2.0, "move": 0.75,
}  # fmt: skip
# Widths by which the few members of the months ahead are smoothed: about Silverman's rule of thumb
# (from memory) for 14 members that differ by some 2 K.
NEAR_K, NEAR_SOUR = 1.5, 0.5
STAY_MARGIN = 0.5  # points by which what is new must beat what was said before (assumed)
DELAY_H = 0.1  # for each day put off: what is put off may be forgotten (assumed)
RISKS = (("cold", "cold_risk", "risk_cold"), ("hot", "heat_risk", "risk_hot"),
         ("sour", "sour_risk", "risk_sour"))  # fmt: skip


@dataclass(frozen=True)
class Score:
    """Points lost ``[M]`` member by member, by term; less is better.

    ``risks`` are the shares of members that pass each limit; they are priced only beyond what
    the keeper accepts, so they belong to the ensemble and not to a member.
    """

    action: Action
    by_term: Mapping[str, Floats]
    over_risk: Mapping[str, float]
    crossed: Mapping[str, NDArray[np.bool_]]
    odds: Odds

    @property
    def member_points(self) -> Floats:
        """Points ``[M]`` without the risks."""
        parts = [PRICE[name] * values for name, values in self.by_term.items()]
        return np.asarray(np.sum(parts, axis=0))

    @property
    def points(self) -> float:
        """Mean points lost, risks included."""
        return float(self.member_points.mean()) + self.excess

    @property
    def excess(self) -> float:
        """Points for odds beyond those accepted."""
        return sum(PRICE[name] * share for name, share in self.over_risk.items())

    def keeps(self, errors: float = 0.0) -> bool:
        """Whether the odds on these members are within those accepted, or beyond by no more than
        ``errors`` standard errors of a share."""
        return all(
            self.over_risk[name] <= errors * float(passed.std()) / float(np.sqrt(len(passed)))
            for passed, name in ((self.crossed[key], name) for key, name, _ in RISKS)
        )

    def term(self, name: str) -> float:
        """Mean points of one term."""
        if name in self.over_risk:
            return PRICE[name] * self.over_risk[name]
        return PRICE[name] * float(np.mean(self.by_term[name])) if name in self.by_term else 0.0


def score(case: Case, action: Action, ahead: Ahead, given: Sequence[Floats],
          members: NDArray[np.int64]) -> Score:  # fmt: skip
    """Score a run of ``members`` in daily (or finer) windows; ``given`` are its acts."""
    run, limits = ahead.run, case.limits
    step_d = run.every / 24.0
    worms = run.series("worms_kg")
    # A place where all have died counts on: where worms live now keeps a little weight.
    herd_now = case.herd_kg[members]
    lived = worms + 0.02 * herd_now[:, None, :] + 1e-9
    weight = lived / lived.sum(axis=2, keepdims=True)

    def beyond(values: Floats) -> Floats:
        """Worm-weighted integral over time of how far a quantity is out of bounds."""
        return np.asarray((np.maximum(values, 0.0) * weight).sum(axis=(1, 2)) * step_d)

    moisture = run.series("moisture_frac")
    food = run.series("food_left_kg")
    short = 1.0 - food.sum(axis=2) / np.maximum(FOOD_PER_WORM * worms.sum(axis=2), 1e-6)
    crossed = crossings(ahead, limits)
    over = {
        name: max(0.0, float(crossed[key].mean()) - float(getattr(limits, risk)))
        for key, name, risk in RISKS
    }
    ammonia = run.series("ammonia_mg_g").max(axis=2) - AMMONIA_LIMIT_MG_G
    end_kg = food[:, -1].sum(axis=1)
    area_m2 = sum(case.area_m2(z) for z in case.living)
    turned = edible_kg(case.twin.state)[members].sum(axis=1) + edible_in(given) - end_kg
    terms = {
        "cold_kd": beyond(np.minimum(limits.cold_c - run.series("temp_coldest_c"), OUT_MOST_K)),
        "heat_kd": beyond(np.minimum(run.series("temp_warmest_c") - limits.hot_c, OUT_MOST_K)),
        "sour_days": beyond(run.series("sour_index") - SOUR_LIMIT),
        "dry": beyond(limits.moisture_low - moisture),
        "wet": beyond(moisture - limits.moisture_high),
        "ammonia": np.maximum(ammonia, 0.0).sum(axis=1) * step_d,
        "hunger": np.maximum(short, 0.0).sum(axis=1) * step_d,
        "overfed": np.maximum(end_kg - LOTS_KG_M2 * area_m2, 0.0),
        "energy": run.total("mat_energy_j").sum(axis=1) / JOULE_PER_KWH,
        "turned": turned,
        "herd_lost": np.maximum(herd_now.sum(axis=1) - worms[:, -1].sum(axis=1), 0.0),
        "work": np.full(len(worms), WORK_H[action.kind] + DELAY_H * action.on_day),
    }
    return Score(action, terms, over, crossed, odds_of(ahead, limits))


def after_points(ahead: Ahead | None, limits: Limits, card_kg: float) -> dict[str, float]:
    """Points of what an action leaves behind to day 90: heat, sourness, ammonia, dry card.

    The few members stand for many: each passes a limit more or less, by how near it comes. Counted
    by yes and no, one of them that passes by a hair would outweigh a herd that goes hungry.
    """
    late = {"late_heat": 0.0, "late_sour": 0.0, "late_ammonia": 0.0, "late_card": card_kg}
    if ahead is not None:
        sour = ahead.run.series("sour_index").max(axis=(1, 2))
        beyond_k = worst_places(ahead.run)[1] - limits.hot_c
        late["late_heat"] = 0.5 * (
            near_odds(beyond_k, NEAR_K) + near_odds(beyond_k - OUT_MOST_K, NEAR_K)
        )
        late["late_sour"] = near_odds(sour - SOUR_LIMIT, NEAR_SOUR)
        worst = ahead.run.series("ammonia_mg_g").max(axis=(1, 2))
        late["late_ammonia"] = float(np.maximum(worst - AMMONIA_LIMIT_MG_G, 0.0).mean())
    return {name: PRICE[name] * value for name, value in late.items()}


def near_odds(beyond: Floats, width: float) -> float:
    """Odds that a quantity is beyond its limit, from ``beyond`` ``[M]`` of few members smoothed by
    a normal kernel of that ``width``."""
    return float(normal_cdf(beyond / width).mean())


def clearly_better(a: Score, b: Score, least: float = 0.0, errors: float = 2.0) -> bool:
    """Whether ``a`` beats ``b`` beyond noise: paired over members, ``errors`` standard errors.

    ``least`` is the smallest gain in points that is worth naming.
    """
    gain, error = _gain(a, b)
    return gain > max(errors * error, least)


def could_beat(a: Score, b: Score, least: float, errors: float = 3.0) -> bool:
    """Whether more members may show that ``a`` beats ``b`` by ``least`` points: it is within
    ``errors`` standard errors of it on these."""
    gain, error = _gain(a, b)
    return gain + errors * error > least


def _gain(a: Score, b: Score) -> tuple[float, float]:
    """Points that ``a`` gains on ``b``, with the standard error. Risks enter through the members
    that cross a limit under one and not under the other."""
    gain = b.member_points - a.member_points
    for key, name, _ in RISKS:
        if b.over_risk[name] > 0.0:
            swap = b.crossed[key].astype(float) - a.crossed[key].astype(float)
            gain = gain + PRICE[name] * swap
    return float(gain.mean()), float(gain.std()) / float(np.sqrt(len(gain)))


def band(values: Floats) -> Band:
    """The 5, 50 and 95 % quantile."""
    low, mid, high = np.quantile(values, (0.05, 0.5, 0.95))
    return float(low), float(mid), float(high)


def worst_places(run: Run) -> tuple[Floats, Floats]:
    """The coldest and the warmest place ``[M]`` that worms live in, over the whole run [degC]."""
    worms = run.series("worms_kg")
    lived_in = worms > 0.02 * np.maximum(worms.sum(axis=2, keepdims=True), 1e-9)
    if not lived_in.any():
        lived_in = np.ones_like(lived_in)
    cold = np.where(lived_in, run.series("temp_coldest_c"), np.inf).min(axis=(1, 2))
    warm = np.where(lived_in, run.series("temp_warmest_c"), -np.inf).max(axis=(1, 2))
    # A member whose worms are all dead has no living place: take the bed as it is.
    cold = np.where(np.isfinite(cold), cold, run.series("temp_coldest_c").min(axis=(1, 2)))
    warm = np.where(np.isfinite(warm), warm, run.series("temp_warmest_c").max(axis=(1, 2)))
    return cold, warm


def moisture_at_end(run: Run) -> Floats:
    """Water ``[M]`` in what the bed holds at the end of a run, mean over its zones in use."""
    moist = run.series("moisture_frac")[:, -1]
    held = run.series("depth_m")[:, -1] > 0.0
    return np.asarray((moist * held).sum(axis=1) / np.maximum(held.sum(axis=1), 1))


def effect(ahead: Ahead, limits: Limits) -> Effect:
    """What a run comes to, for the keeper; extremes where worms live."""
    run = ahead.run
    cold, warm = worst_places(run)
    moist_mean = moisture_at_end(run)
    castings = run.series("castings_dry_kg")
    made = (castings[:, -1] - castings[:, 0]).sum(axis=1)
    return Effect(
        odds=odds_of(ahead, limits),
        coldest_c=band(cold),
        warmest_c=band(warm),
        food_left_kg=band(run.series("food_left_kg")[:, -1].sum(axis=1)),
        moisture_frac=band(moist_mean),
        ammonia_mg_g=band(run.series("ammonia_mg_g").max(axis=(1, 2))),
        energy_kwh=float(run.total("mat_energy_j").sum(axis=1).mean() / JOULE_PER_KWH),
        castings_dry_kg=float(np.median(made)),
    )
