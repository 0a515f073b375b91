"""What a plan's parts are worth, and what one more reading would be worth before it is chosen."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from bedlore.bed.cells import Floats
from bedlore.decide.case import Case
from bedlore.decide.plan_records import ReadingKind, ReadingWorth
from bedlore.facts.practice import HANDFUL_L
from bedlore.learn.counts import CLUMP_MEDIAN
from bedlore.learn.herd import SIX, count_sd, usual_catch
from bedlore.say import Words, message, say

DRAWS = 4  # readings drawn for each member
# Standard error of a reading: a hand thermometer (methods of verification, 0.5-1 K), a squeeze in
# points of moisture, a look at the food as a share of a meal (assumed). That of six handfuls is
# reckoned from what lies in them.
ERRORS: Mapping[ReadingKind, float] = {"thermometer": 0.75, "squeeze": 0.04, "look": 0.25}
RELATIVE: frozenset[ReadingKind] = frozenset({"count", "look"})
LEAST_SHARE = 0.02  # of the mean: less than that reads as none
LEAST_NARROWING = 5  # percent; a range narrowed by less is as wide as it was
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


def count_error(case: Case) -> float:
    """What a count of six handfuls leaves unsure of the herd, as a share: as `bedlore herd` has it
    (:func:`bedlore.learn.herd.count_sd`), with the usual catch and clumping."""
    catch, catch_sd = usual_catch()
    litres = 1000.0 * case.twin.recent.series("depth_m")[:, -1] * case.twin.geometry.area_m2
    here = list(case.living)
    herd = case.twin.state.herd
    worms = (herd.adult_n + herd.juvenile_n + herd.hatchling_n)[:, here].sum(axis=1)
    in_one = HANDFUL_L * worms / np.maximum(litres[:, here].sum(axis=1), 1e-3)
    return count_sd(catch * float(in_one.mean()), CLUMP_MEDIAN, catch_sd, SIX)


def reading_worths(case: Case, points: Floats) -> tuple[ReadingWorth, ...]:
    """The value of each reading; ``points`` ``[P, M]`` of the best plans, less is better.

    Expected gain of choosing after the reading: for a reading drawn from each member, plans are
    weighed by how well every member agrees with it (Gaussian error).
    """
    now = float(points.mean(axis=1).min())
    found = []
    for kind, truth in readable(case).items():
        error = count_error(case) if kind == "count" else ERRORS[kind]
        after, spread = _after(truth, error, points, relative=kind in RELATIVE)
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


# Of each reading: where it narrows what it is about, and where it does not.
_TOLD: Mapping[ReadingKind, tuple[str, str]] = {
    "thermometer": (
        message("A thermometer reading at hand's depth would narrow the range of the bed's"
                " temperature by {percent} %."),
        message("A thermometer reading at hand's depth would tell little more about the bed's"
                " temperature."),
    ),
    "squeeze": (
        message("A squeeze would narrow the range of the bed's wetness by {percent} %."),
        message("A squeeze would tell little more about the bed's wetness."),
    ),
    "count": (
        message("A count of six handfuls would narrow the range of the herd by {percent} %."),
        message("A count of six handfuls would tell little more about the herd."),
    ),
    "look": (
        message("A look at the food would narrow the range of what lies uneaten by {percent} %."),
        message("A look at the food would tell little more about what lies uneaten."),
    ),
}  # fmt: skip


def _words(kind: ReadingKind, hours: float, narrowed: float) -> Words:
    told, little = _TOLD[kind]
    percent = round(100 * (1.0 - narrowed))
    about = say(told, percent=percent) if percent >= LEAST_NARROWING else say(little)
    if hours < LEAST_HOURS:
        return say("{about} It would hardly change the plan.", about=about)
    return say("{about} For the choice of the plan that is worth about {minutes} minutes.",
               about=about, minutes=max(5, round(60 * hours / 5) * 5))  # fmt: skip


