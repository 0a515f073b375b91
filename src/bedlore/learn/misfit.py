"""Whether the model can explain the log, said in words.

Residuals of readings are gathered by thermometer, zone and kind. Neighbouring readings share
their errors, so a group counts as many readings as it has separate days, and at least a day
apart. The limits were set on twin experiments (docs/learning.md).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from bedlore.learn.densities import normal_quantile
from bedlore.learn.discrepancy import OUTLIER_SD
from bedlore.learn.drift import STUCK_ODDS, same_log_odds
from bedlore.learn.mixups import slipped
from bedlore.learn.plain import PLAIN
from bedlore.learn.record import Fit, Learnt, Trace
from bedlore.learn.sight import THERMOMETERS
from bedlore.learn.thermometers import OFFSET_SD_K
from bedlore.learn.words import BIAS_SD as HAND_SD
from bedlore.say import Said, capital, kelvin, listed, message, say, say_many, temp

BIAS_SD = 3.0  # standard errors that a group's mean may lie off
FEWEST = 4
WANDER_K = 1.2  # a bed that wanders this far from the model has something the model lacks
FAR_PRIOR_SD = 4.0
MANY_OUTLIERS, OUTLIER_SHARE = 4, 0.12
PINNED_SD = 2.6
COARSE_STEP_K = 2.0  # no thermometer is read more coarsely (assumed)
MOSTLY = 0.5  # of a thermometer's readings that are outliers on one side: it is always off
# Of each kind of reading: more and less than the bed could do, and than its model allows.
_ABOUT = {
    "temp": (message("{thermometer} in {where} reads warmer {reach}."),
             message("{thermometer} in {where} reads colder {reach}.")),
    "air": (message("{thermometer} in {where} reads warmer {reach}."),
            message("{thermometer} in {where} reads colder {reach}.")),
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

# A thermometer that is always off, warmer and colder: by how much.
_OFF = (message("{thermometer} in {where} reads about {difference} warmer {reach}."),
        message("{thermometer} in {where} reads about {difference} colder {reach}."))  # fmt: skip
_PINNED = (
    message("{thermometer} would have to read {difference} or more too warm, beyond what such"
            " thermometers do: try it in melting ice, which is at {freezing}."),
    message("{thermometer} would have to read {difference} or more too cold, beyond what such"
            " thermometers do: try it in melting ice, which is at {freezing}."),
)  # fmt: skip

# A keeper whose hands feel wetter, and drier, than hands do.
_HANDS = (
    message("The squeezes of '{who}' would have to feel {points} points of water or more too wet,"
            " beyond what hands differ by: squeeze one handful together and agree on the word."),
    message("The squeezes of '{who}' would have to feel {points} points of water or more too dry,"
            " beyond what hands differ by: squeeze one handful together and agree on the word."),
)  # fmt: skip

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

# Thermometers that are always off: by how much [K], None where learning hides it.
_Off = Mapping[str, float | None]


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
    slips = slipped(learnt.fits)
    in_slips = {fit for mine in slips.values() for fit in mine}
    others = [fit for fit in learnt.fits if fit not in in_slips]
    off = _thermometers_off(learnt, others)
    found = [*_biased(others, zone_names, off), *_offsets(learnt, off), *_stuck(learnt),
             *_keepers(learnt), *_traced(learnt.trace), *_overall(learnt), *_pinned(learnt),
             *_slips(slips)]  # fmt: skip
    return tuple(sorted(found, key=lambda c: -c.strength))


def _thermometers_off(learnt: Learnt, fits: Sequence[Fit]) -> _Off:
    """Thermometers that are wrong wherever they stand, with how far off they read: what is left
    over, and the offset that learning has given them already.

    Most readings are outliers on one side; or, where learning has bent the bed towards the only
    thermometer there is, they lay beyond anything such a bed does before.
    """
    found: dict[str, float | None] = {}
    for series, mine in _by_thermometer(fits).items():
        if _always_off(mine):
            left_over = float(np.median([fit.seen - fit.expected for fit in mine]))
            found[series] = left_over + OFFSET_SD_K * _learnt_away(learnt, series)
        elif abs(_far(mine)) > FAR_PRIOR_SD:
            found[series] = None
    return found


def _biased(fits: Sequence[Fit], zone_names: Sequence[str], off: _Off) -> list[Complaint]:
    """Kinds of readings that lie off by more than chance.

    Single outliers, such as a probe left in the air, are left out, but not those of a thermometer
    that is ``off``.
    """
    groups: dict[tuple[str, str, tuple[int, ...]], list[Fit]] = {}
    for fit in fits:
        if fit.series in off and fit.about in THERMOMETERS:
            groups.setdefault((fit.about, fit.series, ()), []).append(fit)
        elif not fit.outlier:
            groups.setdefault((fit.about, fit.series, fit.zones), []).append(fit)
    found = []
    for (about, series, _), mine in groups.items():
        separate = len({fit.hour // 48 for fit in mine})
        if separate < FEWEST:
            continue
        # One far reading says no more than one at the edge.
        away = np.clip([fit.away for fit in mine], -OUTLIER_SD, OUTLIER_SD)
        strength, far = float(away.mean() * math.sqrt(separate)), _far(mine)
        if series in off and off[series] is None:  # learnt away, so that only what was before tells
            strength = max(strength, far, key=abs)
        if abs(strength) < BIAS_SD:
            continue
        where = [zone_names[z] for z in sorted({z for fit in mine for z in fit.zones})]
        found.append(Complaint(
            _bias_words(about, series, where, strength, far, off.get(series)),
            tuple(fit.entry_id for fit in mine), abs(strength),
        ))  # fmt: skip
    return found


def _far(mine: Sequence[Fit]) -> float:
    """How far off the middle one of the readings lay before learning, in standard deviations: a
    third of them written in the wrong unit does not make a thermometer wrong."""
    return float(np.median([fit.prior_away for fit in mine]))


def _by_thermometer(fits: Sequence[Fit]) -> dict[str, list[Fit]]:
    """Readings of each thermometer, wherever it stood."""
    found: dict[str, list[Fit]] = {}
    for fit in fits:
        if fit.about in THERMOMETERS:
            found.setdefault(fit.series, []).append(fit)
    return found


def _always_off(mine: Sequence[Fit]) -> bool:
    """Whether most readings are outliers on the same side."""
    sides = [math.copysign(1.0, fit.away) for fit in mine if fit.outlier]
    return len(sides) >= FEWEST and max(sides.count(1.0), sides.count(-1.0)) > MOSTLY * len(mine)


def _bias_words(about: str, series: str, zones: Sequence[str], strength: float, far: float,
                off_k: float | None) -> str:  # fmt: skip
    where = listed(zones) if len(zones) <= 2 else say("the bed")
    reach = (
        say("than anything this bed could do") if abs(far) > FAR_PRIOR_SD
        else say("than the model of this bed allows")
    )  # fmt: skip
    values: dict[str, str] = {"where": where, "reach": reach}
    if about in THERMOMETERS:
        values["thermometer"] = capital(_called(series))
    words = _ABOUT[about]
    if off_k is not None:
        words, values["difference"] = _OFF, kelvin(abs(off_k))
    return say(words[0 if strength > 0 else 1], **values)


def _called(series: str) -> str:
    """A thermometer by the name its readings are written down with."""
    device = series.partition(":")[2]
    named = device not in ("", "thermometer")
    return say("the thermometer '{device}'", device=device) if named else say("the thermometer")


def _offsets(learnt: Learnt, off: _Off) -> list[Complaint]:
    """Thermometers, not ``off`` beyond doubt, that could only fit with an offset that such
    thermometers do not have."""
    found = []
    for series, mine in _by_thermometer(learnt.fits).items():
        away = _learnt_away(learnt, series)
        if series not in off and abs(away) > PINNED_SD:
            found.append(Complaint(
                say(_PINNED[0 if away > 0 else 1], thermometer=capital(_called(series)),
                    difference=kelvin(OFFSET_SD_K * abs(away)), freezing=temp(0.0)),
                tuple(fit.entry_id for fit in mine), abs(away),
            ))  # fmt: skip
    return found


def _stuck(learnt: Learnt) -> list[Complaint]:
    """Thermometers that showed the same time after time in one place while the model's bed moved
    there, by more than its error and a coarse scale can hide."""
    found = []
    for series, mine in _by_thermometer(learnt.fits).items():
        for run in _same_in_a_row(mine):
            swing_k = max(fit.expected for fit in run) - min(fit.expected for fit in run)
            change_k = np.array([[swing_k]])
            log_odds = same_log_odds(change_k, COARSE_STEP_K, learnt.model_error_k)
            if log_odds > math.log(STUCK_ODDS):
                found.append(Complaint(
                    say("{thermometer} showed {shown} {count} times in a row while the model's bed"
                        " moved by {difference} there: it may be stuck. Hold it in your hand, then"
                        " in ice water: it should move within minutes.",
                        thermometer=capital(_called(series)), shown=temp(run[0].seen),
                        count=len(run), difference=kelvin(swing_k)),
                    tuple(fit.entry_id for fit in run), math.sqrt(2.0 * log_odds),
                ))  # fmt: skip
    return found


def _same_in_a_row(mine: Sequence[Fit]) -> Iterator[list[Fit]]:
    """The longest run of equal readings in each place, where it is long enough to tell."""
    by_place: dict[tuple[int, ...], list[Fit]] = {}
    for fit in sorted(mine, key=lambda fit: fit.hour):
        by_place.setdefault(fit.zones, []).append(fit)
    for fits in by_place.values():
        run = max((list(run) for _, run in groupby(fits, lambda fit: fit.seen)), key=len)
        if len(run) >= FEWEST:
            yield run


def _learnt_away(learnt: Learnt, series: str) -> float:
    """What a device or a keeper was learnt to be off by, in standard deviations of before."""
    if series not in learnt.unknowns.index:
        return 0.0
    return float(learnt.unknowns.column(learnt.z, series).mean())


def _keepers(learnt: Learnt) -> list[Complaint]:
    """Keepers whose squeezes fit only if their hands were further off than hands are: two who
    write opposite words of one handful."""
    by_keeper: dict[str, list[str]] = {}
    for fit in learnt.fits:
        if fit.series.startswith("squeeze:"):
            by_keeper.setdefault(fit.series, []).append(fit.entry_id)
    found = []
    for series, entries in by_keeper.items():
        away = _learnt_away(learnt, series)
        if abs(away) > PINNED_SD:
            found.append(Complaint(
                say(_HANDS[0 if away > 0 else 1], who=series.partition(":")[2],
                    points=round(100 * HAND_SD * abs(away))),
                tuple(entries), abs(away),
            ))  # fmt: skip
    return found


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


def _slips(slips: Mapping[str, Sequence[Fit]]) -> list[Complaint]:
    """Readings that would fit had they been written down in the other unit."""
    found = []
    for name, mine in slips.items():
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
