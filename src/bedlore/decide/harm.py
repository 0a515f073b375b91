"""Hours to harm: how fast a bed cools (or heats) after a power cut or with a door left open."""

from __future__ import annotations

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import simulate
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.decide.case import Case, air_of
from bedlore.decide.records import Band, Harm
from bedlore.outlook.ahead import LIVING_SHARE
from bedlore.say import limit_temp, say, say_many, whole

WINDOW_H = 72
MEMBERS = 64
CURVE_EVERY_H = 3


def harms_of(case: Case) -> tuple[Harm, ...]:
    """The mishaps that can befall this bed: a power cut where a mat is on, and the door left open
    where it stands indoors."""
    events = ["power cut"] if case.mat_on else []
    if case.twin.bed.place == "indoors":
        events.append("door open")
    return tuple(hours_to_harm(case, event) for event in events)


def hours_to_harm(case: Case, event: str, *, air: Air | None = None, limit: str = "",
                  hours: int = WINDOW_H) -> Harm:  # fmt: skip
    """The curve after ``event`` ("power cut" or "door open") and the hours until a limit.

    A power cut stops the heat mat under the air that is expected; an open door puts the bed in
    outdoor air (``case.open_air``, or ``air``) and leaves the mat as it is. ``limit`` "cold" or
    "heat"; left out, the one that is nearer to the air that comes.
    """
    around = air or (case.open_air if event == "door open" else None) or case.air
    hours = min(hours, int(around.air_c.shape[1]))
    limit = limit or _nearer(case, around, hours)
    members = case.members(MEMBERS)
    cut = event == "power cut"
    acts = [plan.set_mat(0, z, False, 0.0) for z in case.living] if cut else []
    run = simulate(
        case.twin.geometry, case.twin.params[members], case.twin.state.pick(members),
        air_of(around, members), plan.in_order(acts), hours=hours, every=1,
    )  # fmt: skip
    worst = worst_place(run.values, limit)
    line = case.limits.cold_c if limit == "cold" else case.limits.hot_c
    passed = worst < line if limit == "cold" else worst > line
    first = np.where(passed.any(axis=1), passed.argmax(axis=1).astype(float), np.inf)
    band = _band(first)
    curve = tuple(
        (float(h + 1), *(float(q) for q in np.quantile(worst[:, h], (0.05, 0.5, 0.95))))
        for h in range(0, hours, CURVE_EVERY_H)
    )
    share = float(passed.any(axis=1).mean())
    words = _words(event, limit, band, hours, line)
    return Harm(case.twin.bed.id, event, limit, band, curve, share, hours, words)  # type: ignore[arg-type]


def _nearer(case: Case, air: Air, hours: int) -> str:
    part = air.air_c[:, :hours]
    to_cold = float(np.median(part.min(axis=1))) - case.limits.cold_c
    to_heat = case.limits.hot_c - float(np.median(part.max(axis=1)))
    return "cold" if to_cold <= to_heat else "heat"


def worst_place(values: Floats, limit: str) -> Floats:
    """Coldest (or warmest) place where worms live ``[M, T]``; the whole bed where none do."""
    name = "temp_coldest_c" if limit == "cold" else "temp_warmest_c"
    temp = values[..., OUTPUT_NAMES.index(name)]
    worms = values[..., OUTPUT_NAMES.index("worms_kg")]
    depth = values[..., OUTPUT_NAMES.index("depth_m")]
    lived = worms > LIVING_SHARE * np.maximum(worms.sum(axis=2, keepdims=True), 1e-9)
    lived = np.where(lived.any(axis=2, keepdims=True), lived, depth > 0.0)
    fill = np.inf if limit == "cold" else -np.inf
    places = np.where(lived, temp, fill)
    return np.asarray(places.min(axis=2) if limit == "cold" else places.max(axis=2))


def _band(hours: Floats) -> Band:
    """Quantiles that may be infinite: no interpolation between a number and never."""
    low, mid, high = np.quantile(hours, (0.05, 0.5, 0.95), method="inverted_cdf")
    return float(low), float(mid), float(high)


def _words(event: str, limit: str, band: Band, hours: int, line: float) -> str:
    temp = limit_temp(line)
    where = say("below {temp}", temp=temp) if limit == "cold" else say("above {temp}", temp=temp)
    after = say("After a power cut") if event == "power cut" else say("With the door left open")
    if not np.isfinite(band[0]):
        return say("{after} the bed is not expected {where} within {hours} hours.", after=after,
                   where=where, hours=hours)  # fmt: skip
    if band[1] <= 0.0:
        return say("{after}: it is most likely {where} already, or will be within the hour.",
                   after=after, where=where)  # fmt: skip
    at_once = band[0] <= 0.0
    if not np.isfinite(band[1]) and at_once:
        return say("{after} it may be {where} at once, more likely later than in {hours} hours.",
                   after=after, where=where, hours=hours)  # fmt: skip
    if not np.isfinite(band[1]):
        return say("{after} it may be {where} after {low} hours or more, more likely later than"
                   " {hours}.", after=after, where=where, low=whole(band[0]),
                   hours=hours)  # fmt: skip
    late = whole(band[2]) if np.isfinite(band[2]) else say("more than {hours}", hours=hours)
    if at_once:
        return say_many(
            "{after} it is {where} after an hour or so, perhaps at once, perhaps after {high}.",
            "{after} it is {where} after about {count} hours, perhaps at once, perhaps after"
            " {high}.",
            round(band[1]), after=after, where=where, high=late,
        )  # fmt: skip
    return say_many(
        "{after} it is {where} after {count} hour, most likely between {low} and {high}.",
        "{after} it is {where} after {count} hours, most likely between {low} and {high}.",
        round(band[1]), after=after, where=where, low=whole(band[0]), high=late,
    )  # fmt: skip
