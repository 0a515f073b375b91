"""Early signs in words: what drifts from the twin before anyone smells it, and what to do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedlore.learn.drift import Called, Way
from bedlore.say import Words, kelvin, message, on_day, say

_ACTS: Mapping[Way, str] = {
    "warmer": message("Feel for a hot spot in the last feed, with gloves; then hold a second"
                      " thermometer beside the first."),
    "colder": message("Look for a draught, a lid ajar or a mat that is off; then hold a second"
                      " thermometer beside the first."),
    "wetter": message("Look at the drain and for a drip under the cover; no wet food until you"
                      " have."),
    "drier": message("Sprinkle a little, lay the cover back, look for wind or sun on the bed."),
    "souring": message("Stop feeding, dig once for a grey lump, lay dry card over it."),
    "stuck": message("Hold it in your hand, then in ice water (0 degC): it should move within"
                     " minutes. Until then go by another thermometer."),
}  # fmt: skip
# What first aid would begin with.
_AID: Mapping[Way, str] = {
    "warmer": "heat", "colder": "odd_reading", "wetter": "runs", "drier": "crumbly",
    "souring": "food_stays", "stuck": "odd_reading",
}  # fmt: skip
# docs/warning.md has the rate that was found.
RATE = say("A bed that is as its twin has it is called less than once a year by chance.")


@dataclass(frozen=True)
class EarlySign:
    """A drift, said: which way, what, what to do, since when, on how many readings, and the
    symptom that first aid begins with."""

    way: Way
    words: Words
    act: Words
    since: dt.datetime
    readings: int
    symptom: str


def sign_of(called: Called, start: dt.datetime, zone: dt.tzinfo) -> EarlySign:
    """``called`` in words; hours count from ``start``, days are those of ``zone``."""
    since = start + dt.timedelta(hours=called.since_hour)
    return EarlySign(called.way, _words(called, on_day(since.astimezone(zone).date())),
                     say(_ACTS[called.way]), since, called.readings, _AID[called.way])  # fmt: skip


def _words(called: Called, day: str) -> str:
    of: dict[str, str | int] = {"day": day, "readings": called.readings}
    match called.way:
        case "warmer":
            return say("It has read {off} warmer than its twin since {day}, {readings} readings.",
                       off=kelvin(called.off_k), **of)  # fmt: skip
        case "colder":
            return say("It has read {off} colder than its twin since {day}, {readings} readings.",
                       off=kelvin(called.off_k), **of)  # fmt: skip
        case "wetter":
            return say("Handfuls have felt wetter than its twin since {day}, {readings} times.",
                       **of)  # fmt: skip
        case "drier":
            return say("Handfuls have felt drier than its twin since {day}, {readings} times.",
                       **of)  # fmt: skip
        case "souring":
            return say("Food has lain longer, or smelt sourer, than with its twin since {day},"
                       " {readings} looks: it may be souring.", **of)  # fmt: skip
        case _:
            return say("{device} has shown the same {readings} times since {day}, while the bed"
                       " moved by {off}: it may be stuck.",
                       device=called.device or say("A thermometer"), off=kelvin(called.off_k),
                       **of)  # fmt: skip
