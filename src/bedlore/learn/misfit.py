"""Whether the model can explain the log, said in words.

Residuals of readings are gathered by thermometer, zone and kind. Neighbouring readings share
their errors, so a group counts as many readings as it has separate days, and at least a day
apart. The limits were set on twin experiments (docs/learning.md).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bedlore.learn.densities import normal_quantile
from bedlore.learn.mixups import slipped
from bedlore.learn.plain import PLAIN
from bedlore.learn.record import Fit, Learnt, Trace
from bedlore.say import Said, kelvin, listed, message, say, say_many

BIAS_SD = 3.0  # standard errors that a group's mean may lie off
FEWEST = 4
WANDER_K = 1.2  # a bed that wanders this far from the model has something the model lacks
FAR_PRIOR_SD = 4.0
MANY_OUTLIERS, OUTLIER_SHARE = 4, 0.12
PINNED_SD = 2.6
# Of each kind of reading: more and less than the bed could do, and than its model allows.
_ABOUT = {
    "temp": (message("The thermometer '{device}' in {where} reads warmer {reach}."),
             message("The thermometer '{device}' in {where} reads colder {reach}.")),
    "air": (message("The thermometer '{device}' in {where} reads warmer {reach}."),
            message("The thermometer '{device}' in {where} reads colder {reach}.")),
    "moisture": (message("By the log {where} is wetter {reach}."),
                 message("By the log {where} is drier {reach}.")),
    "food": (message("In {where} food lasts longer {reach}."),
             message("In {where} food goes faster {reach}.")),
    "count": (message("By the log {where} holds more worms {reach}."),
              message("By the log {where} holds fewer worms {reach}.")),
    "amount": (message("By the log {where} is heavier {reach}."),
               message("By the log {where} is lighter {reach}.")),
    "smell": (message("By the log {where} smells more {reach}."),
              message("By the log {where} smells less {reach}.")),
}  # fmt: skip

# Of each direction: what the thermometers do when they go along it, and when they go against it.
_GOES = {
    "quick": (message("they follow the changes of a day more closely than it does"),
              message("they follow the changes of a day less closely than it does")),
    "slow": (message("they follow spells of mild and of cold weather more closely than it does"),
             message("they follow spells of mild and of cold weather less closely than it does")),
    "season": (message("they lie above it in warm weeks and below it in cold ones"),
               message("they lie below it in warm weeks and above it in cold ones")),
    "fed": (message("they lie above it after a feed"), message("they lie below it after a feed")),
    "since": (message("they drift up from it as the weeks go by"),
              message("they drift down from it as the weeks go by")),
    "noon": (message("they lie above it by day"), message("they lie below it by day")),
    "evening": (message("they lie above it in the evening"),
                message("they lie above it in the morning")),
}  # fmt: skip


@dataclass(frozen=True)
class Complaint:
    """Something that this bed, as modelled, could not do: a sentence and the readings it rests
    on; ``strength`` in standard errors."""

    sentence: str
    entries: tuple[str, ...]
    strength: float


def complaints(learnt: Learnt, zone_names: Sequence[str]) -> tuple[Complaint, ...]:
    """What the model cannot explain, the strongest first; empty when all is well.

    ``zone_names`` are what the keeper calls the zones, by position.
    """
    found = [*_biased(learnt.fits, zone_names), *_traced(learnt.trace), *_overall(learnt),
             *_pinned(learnt), *_slips(learnt.fits)]  # fmt: skip
    return tuple(sorted(found, key=lambda c: -c.strength))


def _biased(fits: Sequence[Fit], zone_names: Sequence[str]) -> list[Complaint]:
    groups: dict[tuple[str, str, tuple[int, ...]], list[Fit]] = {}
    for fit in fits:
        if not fit.outlier:
            groups.setdefault((fit.about, fit.series, fit.zones), []).append(fit)
    found = []
    for (about, series, zones), mine in groups.items():
        separate = len({fit.hour // 48 for fit in mine})
        if separate < FEWEST:
            continue
        away = np.array([fit.away for fit in mine])
        strength = float(away.mean() * math.sqrt(separate))
        if abs(strength) < BIAS_SD:
            continue
        far = float(np.mean([fit.prior_away for fit in mine]))
        found.append(Complaint(
            _bias_words(about, series, [zone_names[z] for z in zones], strength, far),
            tuple(fit.entry_id for fit in mine), abs(strength),
        ))  # fmt: skip
    return found


def _bias_words(about: str, series: str, zones: Sequence[str], strength: float,
                far: float) -> str:  # fmt: skip
    where = listed(zones) if len(zones) <= 2 else say("the bed")
    device = series.partition(":")[2] if about in ("temp", "air") else ""
    reach = (
        say("than anything this bed could do") if abs(far) > FAR_PRIOR_SD
        else say("than the model of this bed allows")
    )  # fmt: skip
    values: dict[str, str] = {"where": where, "reach": reach}
    if about in ("temp", "air"):
        values["device"] = device or say("thermometer")
    return say(_ABOUT[about][0 if strength > 0 else 1], **values)


def _traced(found: Trace | None) -> list[Complaint]:
    if found is None or not found.found:
        return []
    goes = say(_GOES[found.direction][0 if found.strength > 0 else 1])
    in_all = int(float(f"{1.0 / found.chance:.1g}"))
    text = (
        say("The bed's thermometers lie off the model in a way that is hardly chance (1 in"
            " {in_all}): {goes}. Something is missing from the description, such as sun on a wall,"
            " a draught or a change that was not written down.", goes=goes, in_all=in_all)
        if found.about == "temp"
        else say("The air's thermometers lie off the model in a way that is hardly chance (1 in"
                 " {in_all}): {goes}. Something is missing from the description of the building,"
                 " such as sun, an open door or heat kept in its walls.", goes=goes, in_all=in_all)
    )  # fmt: skip
    return [Complaint(text, found.entries, float(normal_quantile(1.0 - 0.5 * found.chance)))]


def _overall(learnt: Learnt) -> list[Complaint]:
    found = []
    temps = [fit for fit in learnt.fits if fit.about == "temp"]
    if learnt.model_error_k >= WANDER_K:
        found.append(Complaint(
            say("The bed's temperature wanders about {difference} from what the model gives for"
                " days on end: something is missing from the description, such as sun on a wall, a"
                " draught or a change that was not written down.",
                difference=kelvin(learnt.model_error_k)),
            tuple(fit.entry_id for fit in temps), learnt.model_error_k / WANDER_K * BIAS_SD,
        ))  # fmt: skip
    if learnt.dropped:
        found.append(Complaint(
            say("{count} of {members} members of the model came to no number and were left out: the"
                " log or the description asks for something that cannot be.",
                count=learnt.dropped, members=len(learnt.z)),
            (), BIAS_SD,
        ))  # fmt: skip
    outliers = learnt.outliers
    readings = len({fit.entry_id for fit in learnt.fits})
    if len(outliers) >= MANY_OUTLIERS and len(outliers) > OUTLIER_SHARE * readings:
        found.append(Complaint(
            say("{count} of {readings} readings lie far from anything the model gives.",
                count=len(outliers), readings=readings),
            outliers, BIAS_SD,
        ))  # fmt: skip
    return found


def _pinned(learnt: Learnt) -> list[Complaint]:
    """Of what a keeper has words for, what would have to lie beyond anything known."""
    found = []
    for name, (subject, small, large) in PLAIN.items():
        away = learnt.moved_sd(name)
        if abs(away) > PINNED_SD:
            found.append(Complaint(
                say("The log fits only if this goes beyond anything known: {subject} {how}.",
                    subject=say(subject), how=say(large if away > 0 else small)),
                (), abs(away),
            ))  # fmt: skip
    return found


def _slips(fits: Sequence[Fit]) -> list[Complaint]:
    """Readings that would fit had they been written down in the other unit."""
    found = []
    for name, mine in slipped(fits).items():
        found.append(Complaint(_slip_words(name, len(mine)), tuple(fit.entry_id for fit in mine),
                               BIAS_SD))  # fmt: skip
    return found


def _slip_words(name: str, count: int) -> Said:
    if name == "degF as degC":
        return say_many(
            "One reading of a thermometer fits if it was in °F and was written down as °C:"
            " correct it in the log.",
            "{count} readings of thermometers fit if they were in °F and were written down as °C:"
            " correct them in the log.", count,
        )  # fmt: skip
    return say_many(
        "One reading of a thermometer fits if it was in °C and was written down as °F:"
        " correct it in the log.",
        "{count} readings of thermometers fit if they were in °C and were written down as °F:"
        " correct them in the log.", count,
    )  # fmt: skip
