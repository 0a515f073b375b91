"""What a plan's parts are worth, and what one more reading would be worth before it is chosen."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from bedlore.bed.cells import Floats
from bedlore.decide.case import Case
from bedlore.decide.plan_records import ReadingKind, ReadingWorth
from bedlore.say import Words, say

DRAWS = 4  # readings drawn for each member
# Standard error of a reading: a hand thermometer (methods of verification, 0.5-1 K), a squeeze in
# points of moisture, six handfuls as a share of the herd (negative binomial, k 2, mean 10: 35 %),
# a look at the food as a share of a meal (assumed).
ERRORS: Mapping[ReadingKind, float] = {
    "thermometer": 0.75, "squeeze": 0.04, "count": 0.35, "look": 0.25,
}  # fmt: skip
RELATIVE: frozenset[ReadingKind] = frozenset({"count", "look"})
LEAST_SHARE = 0.02  # of the mean: less than that reads as none
LEAST_HOURS = 0.05  # less is not worth the walk


def readable(case: Case) -> dict[ReadingKind, Floats]:
    """What each reading is about, by member: degC, moisture, herd [kg], uneaten food [kg]."""
    recent = case.twin.recent
    zones = list(case.living)
    return {
        "thermometer": recent.series("temp_probe_c")[:, -1, zones].mean(axis=1),
        "squeeze": recent.series("moisture_frac")[:, -1, zones].mean(axis=1),
        "count": case.herd_kg.sum(axis=1),
        "look": case.uneaten_kg.sum(axis=1),
    }


def reading_worths(case: Case, points: Floats) -> tuple[ReadingWorth, ...]:
    """The value of each reading; ``points`` ``[P, M]`` of the best plans, less is better.

    Expected gain of choosing after the reading: for a reading drawn from each member, plans are
    weighed by how well every member agrees with it (Gaussian error).
    """
    now = float(points.mean(axis=1).min())
    found = []
    for kind, truth in readable(case).items():
        after, spread = _after(truth, ERRORS[kind], points, relative=kind in RELATIVE)
        narrowed = spread / max(float(truth.std()), 1e-9)
        hours = max(0.0, now - after)
        found.append(ReadingWorth(kind, hours, min(narrowed, 1.0), _words(kind, hours, narrowed)))
    return tuple(sorted(found, key=lambda worth: -worth.hours))


def _after(truth: Floats, error: float, points: Floats, *, relative: bool) -> tuple[float, float]:
    """Expected points after a reading, and expected spread of what it is about.

    A ``relative`` error is one of the logarithm.
    """
    rng = np.random.default_rng(len(truth))
    scale = np.log(np.maximum(truth, LEAST_SHARE * truth.mean())) if relative else truth
    read = (scale[None] + error * rng.standard_normal((DRAWS, len(truth)))).reshape(-1)
    fit = np.exp(-0.5 * ((read[:, None] - scale[None]) / error) ** 2)
    weight = fit / np.maximum(fit.sum(axis=1, keepdims=True), 1e-300)
    chosen = (weight @ points.T).min(axis=1)
    mean = weight @ truth
    variance = np.maximum(weight @ truth**2 - mean**2, 0.0)
    return float(chosen.mean()), float(np.sqrt(variance).mean())


def _words(kind: ReadingKind, hours: float, narrowed: float) -> Words:
    share = round(100 * min(narrowed, 1.0))
    about: Words
    match kind:
        case "thermometer":
            about = say("A thermometer reading at hand's depth would bring the range of the bed's"
                        " temperature to {share} in 100 of what it is.", share=share)  # fmt: skip
        case "squeeze":
            about = say("A squeeze would bring the range of the bed's wetness to {share} in 100 of"
                        " what it is.", share=share)  # fmt: skip
        case "count":
            about = say("A count of six handfuls would bring the range of the herd to {share} in"
                        " 100 of what it is.", share=share)  # fmt: skip
        case _:
            about = say("A look at the food would bring the range of what lies uneaten to {share}"
                        " in 100 of what it is.", share=share)  # fmt: skip
    if hours < LEAST_HOURS:
        return say("{about} It would hardly change the plan.", about=about)
    return say("{about} For the choice of the plan that is worth about {minutes} minutes.",
               about=about, minutes=max(5, round(60 * hours / 5) * 5))  # fmt: skip


