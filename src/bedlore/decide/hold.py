"""Can anything hold this bed within its limits? Feed, cover, insulation, water, tried as futures.

These are what-ifs: the feed is far more than the ceiling allows, the foam need not be at hand.
They answer "would it help at all", so that nothing is advised that would not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Floats
from bedlore.decide.action_rows import FOAM, FOAM_M, foamed, rows
from bedlore.decide.action_words import words_of
from bedlore.decide.candidates import warmer_settings
from bedlore.decide.case import Case
from bedlore.decide.records import Action, Effect
from bedlore.decide.score import Score, effect, score
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.say import Said, say, thickness

# What helps at all: odds down by 5 in 100, or the worst spot, or the mean of the fortnight, better
# by half a degree (assumed; published models miss by 2-3 K).
LEAST_ODDS = 0.05
LEAST_KELVIN = 0.5
STRAW_M = 0.10
Limit = Literal["cold", "hot"]
MeasureName = Literal["feed", "cover", "foam", "foam and feed", "mat", "uncover", "water"]


@dataclass(frozen=True)
class Measure:
    """A what-if with its effect; ``helps`` when it moves the limit by more than noise."""

    name: MeasureName
    action: Action
    effect: Effect
    bare: Effect  # of the same members with nothing done
    helps: bool
    holds: bool
    shift_k: float  # of the coldest (or warmest) living place, towards the good
    mean_k: float  # of what is out of bounds, on the mean of the window


def holding(case: Case, limit: Limit, bare: Score, bare_effect: Effect,
            members: NDArray[np.int64]) -> tuple[Measure, ...]:  # fmt: skip
    """Every what-if against the ``bare`` future of the same members."""
    return tuple(
        _measure(case, limit, bare, bare_effect, members, name, given)
        for name, given in (_in_cold(case) if limit == "cold" else _in_heat(case))
    )


def most_feed(case: Case) -> Action:
    """A double week's ration over the whole bed: more than anybody should lay."""
    area = sum(case.area_m2(z) for z in case.living)
    kg = round(2.0 * WEEKLY_SCRAPS_KG_M2 * area, 1)
    return Action("feed", parts=(("food_mixed_kitchen", kg),))


def straw_words() -> Said:
    """A cover of straw as thick as it is tried."""
    return say("{thickness} of dry straw on top", thickness=thickness(STRAW_M))


def _in_cold(case: Case) -> list[tuple[MeasureName, tuple[Action, ...]]]:
    foam = Action("insulate", material=FOAM, thickness_m=FOAM_M)
    straw = Action("cover", material="straw_loose", thickness_m=STRAW_M)
    tried: list[tuple[MeasureName, tuple[Action, ...]]] = [
        ("feed", (most_feed(case),)), ("cover", (straw,)), ("foam", (foam,)),
        ("foam and feed", (foam, most_feed(case))),
    ]  # fmt: skip
    warm = mat_warmer(case)
    if warm is not None:
        tried.append(("mat", (warm,)))
    return tried


def mat_warmer(case: Case) -> Action | None:
    """The mat on, or where it is on already its thermostat at the warmest that a plan sets it to;
    None where there is no mat or it is on as warm already."""
    if case.twin.bed.heat_mat is None:
        return None
    if not case.mat_on:
        return Action("mat", material="on")
    warmer = warmer_settings(case)
    return Action("mat", material="on", setpoint_c=warmer[-1]) if warmer else None


def _in_heat(case: Case) -> list[tuple[MeasureName, tuple[Action, ...]]]:
    area = sum(case.area_m2(z) for z in case.living)
    water = Action("water", parts=(("water", round(4.0 * area, 1)),))
    return [
        ("feed", (most_feed(case),)), ("uncover", (Action("uncover"),)),
        ("water", (Action("uncover"), water)),
    ]  # fmt: skip


def _measure(case: Case, limit: Limit, bare: Score, bare_effect: Effect,
             members: NDArray[np.int64], name: MeasureName,
             actions: Sequence[Action]) -> Measure:  # fmt: skip
    given: list[Floats] = [row for action in actions for row in rows(case, action)]
    ahead = foamed(case, actions).run(given, members)
    action = replace(actions[0], words=words_of(case, actions[0]))
    found = score(case, action, ahead, given, members)
    came = effect(ahead, case.limits)
    odds = getattr(came.odds, limit)
    risk = case.limits.risk_cold if limit == "cold" else case.limits.risk_hot
    shift = shift_k(came, bare_effect, limit)
    mean = mean_shift_k(found, bare, limit, case.hours / 24.0)
    better = helps(found, bare, limit, shift, mean)
    return Measure(name, action, came, bare_effect, better, odds <= risk, shift, mean)


def mean_shift_k(found: Score, bare: Score, limit: Limit, days: float) -> float:
    """How much milder the worms have it on the mean of the window, as to one limit [K].

    0 when the difference is within two standard errors over the members.
    """
    term = "cold_kd" if limit == "cold" else "heat_kd"
    gain = bare.by_term[term] - found.by_term[term]
    noise = 2.0 * float(gain.std()) / np.sqrt(len(gain))
    mean = float(gain.mean())
    return mean / days if abs(mean) > noise else 0.0


def helps(found: Score, bare: Score, limit: Limit, shift_k: float, mean_k: float) -> bool:
    """Whether a future is materially better than doing nothing as to one limit."""
    fewer = float(bare.crossed[limit].mean() - found.crossed[limit].mean())
    if min(shift_k, mean_k) < -LEAST_KELVIN:
        return False
    return fewer >= LEAST_ODDS or max(shift_k, mean_k) >= LEAST_KELVIN


def shift_k(came: Effect, bare: Effect, limit: Limit) -> float:
    """How much the worst living place moves towards the good [K], on the median."""
    if limit == "cold":
        return came.coldest_c[1] - bare.coldest_c[1]
    return bare.warmest_c[1] - came.warmest_c[1]
