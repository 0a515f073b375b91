"""Why today's advice differs from yesterday's: the cause is named, or there is no change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np

from bedlore.decide.case import Case
from bedlore.decide.records import Advice
from bedlore.farm.log import AnyEntry, CoverChange, Stock
from bedlore.say import listed, message, on_day, say

WEATHER_K = 1.5  # a shift of the coming extremes that is worth naming; day 1 error (assumed)
BED_K = 1.0
FOOD_SHARE = 0.15


def inputs_of(case: Case) -> tuple[tuple[str, str], ...]:
    """What the advice rests on, short enough to keep beside it."""
    air = case.air.air_c[:, : case.hours]
    known = {
        "air_low_c": f"{np.median(air.min(axis=1)):.2f}",
        "air_high_c": f"{np.median(air.max(axis=1)):.2f}",
        "bed_c": f"{_bed_temp(case):.2f}",
        "uneaten_kg": f"{np.median(case.uneaten_kg.sum(axis=1)):.3f}",
        "store": ",".join(
            sorted(item.material for item in case.store if item.mass_kg > 0.0 and not item.hold)
        ),
        "limits": case.limits.model_dump_json(),
        "entries": ",".join(entry.id for entry in _recent(case)),
    }
    return tuple(known.items())


def _bed_temp(case: Case) -> float:
    probe = case.twin.recent.series("temp_probe_c")[:, -1, :]
    return float(np.median(probe[:, list(case.living)])) if case.living else 0.0


def _recent(case: Case) -> list[AnyEntry]:
    since = case.now - dt.timedelta(days=30)
    return [entry for entry in case.entries if since <= entry.at <= case.now]


def causes(case: Case, before: Advice) -> list[str]:
    """What has changed since ``before``, the weightiest first; empty when nothing has."""
    then, now = dict(before.inputs), dict(inputs_of(case))
    found = _logged(case, then)
    found += _weather(case, then, now)
    if then.get("store") != now["store"]:
        found.append(say("what is on hand changed"))
    if then.get("limits") != now["limits"]:
        found.append(say("your limits changed"))
    found += _bed(case, then, now)
    return found


def _logged(case: Case, then: Mapping[str, str]) -> list[str]:
    """New lines of the log, late ones too."""
    known = set(then.get("entries", "").split(","))
    fresh = [entry for entry in _recent(case) if entry.id not in known and entry.kind != "note"]
    said = [_said(case, entry) for entry in fresh[-3:]]
    return [say("you logged {entries}", entries=listed(said))] if said else []


def _said(case: Case, entry: AnyEntry) -> str:
    day = on_day(case.day(entry.at))
    match entry.kind:
        case "feed":
            mass = case.speech.mass(sum(p.mass_kg for p in entry.parts))
            return say("a feed of {mass} on {day}", mass=mass, day=day)
        case "look" if entry.food_left is not None:
            return say("a look on {day}: food left {left}", day=day, left=say(entry.food_left))
        case "probe":
            return say("a reading of {temp} on {day}", temp=case.speech.temp(entry.temp_c), day=day)
        case "squeeze":
            return say("a squeeze on {day}: {word}", day=day, word=say(entry.word))
        case _:
            return say("{what} on {day}", what=say(_done(entry)), day=day)


def _done(entry: AnyEntry) -> str:
    """What an entry tells was done or seen, in the trade's words."""
    match entry:
        case CoverChange(state=str() as state):
            return _COVER[state]
        case CoverChange(lid=str() as lid):
            return _LID[lid]
        case Stock() if entry.worms_kg < 0.0:
            return _WORMS_OUT
        case _:
            return _A_KIND[entry.kind]


_COVER = {"on": message("a cover laid"), "off": message("the cover taken off")}
_LID = {"on": message("the lid closed"), "off": message("the lid taken off")}
_WORMS_OUT = message("worms taken away")
_A_KIND = {
    "bedding": message("bedding laid in"), "water": message("water given"),
    "mat": message("a change at the heat mat"),
    "switch": message("feeding moved to the other side"),
    "core": message("worms counted"), "harvest": message("castings taken out"),
    "move": message("worms carried over"), "sighting": message("a sighting in the bed"),
    "stock": message("worms put in"), "void": message("an entry taken back"),
    "look": message("a look into the bed"), "note": message("a note"),
    "air": message("a reading of the air"), "depth": message("the depth measured"),
    "moisture": message("the moisture measured"), "dig": message("a look for worms"),
}  # fmt: skip


_AIR = {
    "air_low_c": message("the weather ahead changed: coldest air near {new} instead of {old}"),
    "air_high_c": message("the weather ahead changed: warmest air near {new} instead of {old}"),
}


def _weather(case: Case, then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    temp = case.speech.temp
    moved = {key: (float(then[key]), float(now[key])) for key in _AIR
             if key in then and abs(float(now[key]) - float(then[key])) >= WEATHER_K}  # fmt: skip
    if len(moved) == len(_AIR):
        (old_low, low), (old_high, high) = moved.values()
        return [say("the weather ahead changed: air between {low} and {high} instead of between"
                    " {old_low} and {old_high}", low=temp(low), high=temp(high),
                    old_low=temp(old_low), old_high=temp(old_high))]  # fmt: skip
    return [say(_AIR[key], new=temp(new), old=temp(old)) for key, (old, new) in moved.items()]


def _bed(case: Case, then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """What the days themselves did to the bed."""
    found: list[str] = []
    speech = case.speech
    if "bed_c" in then and abs(float(now["bed_c"]) - float(then["bed_c"])) >= BED_K:
        old, new = float(then["bed_c"]), float(now["bed_c"])
        found.append(say("the bed went from {old} to {new}", old=speech.temp(old),
                         new=speech.temp(new)))  # fmt: skip
    if "uneaten_kg" in then:
        old, new = float(then["uneaten_kg"]), float(now["uneaten_kg"])
        if abs(new - old) >= max(FOOD_SHARE * old, 0.1):
            found.append(say("uneaten food went from {old} to {new}", old=speech.mass(old),
                             new=speech.mass(new)))  # fmt: skip
    return found


def sentence(found: Sequence[str]) -> str:
    """The causes as one sentence, "" when there are none."""
    return say("Changed because {causes}.", causes=listed(found[:2])) if found else ""
