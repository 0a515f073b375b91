"""Why today's advice differs from yesterday's: the cause is named, or there is no change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np

from bedlore.decide.case import Case
from bedlore.decide.records import Advice
from bedlore.decide.words import listed
from bedlore.farm.log import AnyEntry

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
        found.append("what is on hand changed")
    if then.get("limits") != now["limits"]:
        found.append("your limits changed")
    found += _bed(case, then, now)
    return found


def _logged(case: Case, then: Mapping[str, str]) -> list[str]:
    """New lines of the log, late ones too."""
    known = set(then.get("entries", "").split(","))
    fresh = [entry for entry in _recent(case) if entry.id not in known and entry.kind != "note"]
    said = [_said(case, entry) for entry in fresh[-3:]]
    return [f"you logged {listed(said)}"] if said else []


def _said(case: Case, entry: AnyEntry) -> str:
    day = f"{entry.at.day} {entry.at:%b}"
    match entry.kind:
        case "feed":
            return f"a feed of {case.speech.mass(sum(p.mass_kg for p in entry.parts))} on {day}"
        case "look" if entry.food_left is not None:
            return f"a look on {day}: food left {entry.food_left}"
        case "probe":
            return f"a reading of {case.speech.temp(entry.temp_c)} on {day}"
        case "squeeze":
            return f"a squeeze on {day}: {entry.word}"
        case _:
            return f"a {entry.kind} on {day}"


def _weather(case: Case, then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    found = []
    for key, name in (("air_low_c", "coldest"), ("air_high_c", "warmest")):
        if key not in then:
            continue
        old, new = float(then[key]), float(now[key])
        if abs(new - old) >= WEATHER_K:
            found.append(
                f"the weather ahead changed: {name} air near {case.speech.temp(new)}"
                f" instead of {case.speech.temp(old)}"
            )
    return found


def _bed(case: Case, then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """What the days themselves did to the bed."""
    found = []
    if "bed_c" in then and abs(float(now["bed_c"]) - float(then["bed_c"])) >= BED_K:
        old, new = float(then["bed_c"]), float(now["bed_c"])
        found.append(f"the bed went from {case.speech.temp(old)} to {case.speech.temp(new)}")
    if "uneaten_kg" in then:
        old, new = float(then["uneaten_kg"]), float(now["uneaten_kg"])
        if abs(new - old) >= max(FOOD_SHARE * old, 0.1):
            found.append(
                f"uneaten food went from {case.speech.mass(old)} to {case.speech.mass(new)}"
            )
    return found


def sentence(found: Sequence[str]) -> str:
    """The causes as one sentence, "" when there are none."""
    if not found:
        return ""
    text = listed(list(found[:2]))
    return f"Changed because {text}."
