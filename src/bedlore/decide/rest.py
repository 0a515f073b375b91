"""When a resting part is ready, when to switch, to add a tray, to split: dates with odds.

Everything comes from one run of the coming months (:mod:`bedlore.decide.course`) and from branches
off it. Below 10 degC worms are not claimed to move, so that no date is given for a day on which
the part is colder. Worms count as gone when the part holds no more than a share of what it held
when its rest began (or that share of half the herd, where it held less).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import plan
from bedlore.bed.cells import Floats
from bedlore.bed.movement import COLD_START_C
from bedlore.decide import date_words
from bedlore.decide.case import Case
from bedlore.decide.course import (
    WEEK_D,
    Course,
    Part,
    course_of,
    fed_part,
    last_taken,
    parts_of,
    reach_d,
    resting_since,
)
from bedlore.decide.date_records import (
    SHARES,
    LastFeeds,
    Milestone,
    MilestoneKind,
    RestDates,
    Taking,
    Targets,
)
from bedlore.decide.drying import spread_drying_d
from bedlore.decide.rescue import rescues
from bedlore.decide.score import band
from bedlore.say import say

REST_LEAST_D = 7  # a part fed within a week is not resting (assumed)
FULL_SHARE = 0.85  # of the depth of a bed or tray: then there is no room to feed (assumed)
FED_D = 75  # sides are swapped every 2-3 months (city composting programme, read)
ODDS_EVERY_D = 14
LAST_FEEDS_D = (0, 14, 28)
LEFT_AFTER_D = 63
Days = NDArray[np.float64]  # day on which something comes about, infinite when it does not


def rest_dates(case: Case, targets: Targets | None = None,
               by: dt.date | None = None) -> RestDates:  # fmt: skip
    """Every date of the bed of ``case`` (few members, ``air_long`` of ``HORIZON_D`` days).

    ``by`` is a day on which the keeper wants castings: what taking a part then would mean. Without
    it a resting part is looked at on the day it is most likely empty.
    """
    targets = targets or Targets()
    fed = fed_part(case)
    reach = reach_d(case)
    if fed is None or reach < 2 * WEEK_D:
        return RestDates(case.twin.bed.id, case.now, case.now.date(), case.twin.members, targets,
                         (), (), None, (say("The bed is empty."),))  # fmt: skip
    kept = course_of(case, lambda _: fed.zones, reach)
    milestones: list[Milestone] = []
    takings: list[Taking] = []
    free = np.zeros(case.twin.members)  # day on which the next side is free to be fed
    for part in _resting(case, fed):
        days, course = _ready(case, fed, part, kept, targets)
        milestones += _milestones(case, part, days)
        free = np.maximum(free, days["emptied"]) if case.twin.bed.kind == "sides" else free
        takings.append(_taking(case, part, course, days, by or _likely(case, days["emptied"])))
    if by is not None and not takings:
        takings += _after_switch(case, fed, targets, by)
    milestones += _changes(case, fed, kept, free)
    return RestDates(
        case.twin.bed.id, case.now, _date(case, reach), case.twin.members, targets,
        tuple(milestones), tuple(takings), last_feeds(case, fed, kept, free),
        tuple(date_words.notes(milestones, case.now.date())),
    )  # fmt: skip


def _resting(case: Case, fed: Part) -> list[Part]:
    """Parts that rest: the sides not fed, or the lowest tray or the stretch furthest back."""
    now = dt.timedelta(days=REST_LEAST_D)
    found = []
    for part in parts_of(case):
        since = resting_since(case, part)
        if part.id != fed.id and since is not None and case.now - since >= now:
            found.append(part)
    if case.twin.bed.kind != "sides" and found:
        return [p for p in found if _holds_worth(case, p)][-1:]
    return found


def _holds_worth(case: Case, part: Part) -> bool:
    """Whether there is enough in a tray or stretch to be worth taking: 3 cm."""
    depth = case.twin.recent.series("depth_m")[:, -1, list(part.zones)]
    return float(np.median(depth)) > 0.03


# --- Ready -------------------------------------------------------------------------------------


def held_at_rest(case: Case, part: Part, name: str) -> Floats:
    """What a part held when its rest began ``[M]``, as far back as the twin remembers."""
    recent = case.twin.recent
    since = [t for t in (resting_since(case, part), last_taken(case, part)) if t is not None]
    start = max(since) if since else case.now
    index = int(np.clip((start - case.twin.recent_start).days, 0, recent.values.shape[1] - 1))
    return np.asarray(recent.series(name)[:, index:, list(part.zones)].sum(axis=2)[:, 0])


def _ready(case: Case, fed: Part, part: Part, kept: Course, targets: Targets) -> tuple[
    dict[str, Days], Course
]:  # fmt: skip
    """The day of each test by member, and the course with the cover off once worms are gone.

    ``fed`` is the part fed throughout ``kept``.
    """
    warm = kept.series("temp_mean_c", part.zones).mean(axis=2) >= COLD_START_C
    worms = kept.total("worms_kg", part.zones)
    cocoons = kept.total("cocoons_n", part.zones)
    # Of two equal sides each held half of the herd: the same share, where the part held little.
    held = np.maximum(held_at_rest(case, part, "worms_kg")[:, None],
                      0.5 * kept.total("worms_kg", case.living))  # fmt: skip
    laid = np.maximum(held_at_rest(case, part, "cocoons_n"), cocoons.max(axis=1))
    days = {
        "warm": first_day(warm),
        "worms": first_day((worms <= targets.worms_share * held) & warm),
        "cocoons": first_day((cocoons <= targets.cocoons_share * laid[:, None]) & warm),
    }
    days["emptied"] = np.maximum(days["worms"], days["cocoons"])
    course = kept
    middle = np.quantile(days["emptied"], 0.5, method="inverted_cdf")
    if np.isfinite(middle) and middle < kept.days - WEEK_D:
        course = _uncovered(case, fed, part, kept, int(middle))
    wet = course.series("moisture_frac", part.zones).mean(axis=2)
    dried = first_day(wet <= targets.moisture)
    days["dry"] = dried if np.isfinite(middle) else np.full(len(dried), np.inf)
    days["ready"] = np.maximum(days["emptied"], days["dry"])
    return days, course


def _uncovered(case: Case, fed: Part, part: Part, kept: Course, day: int) -> Course:
    """The same course with the cover off the part, lid open, from the week of ``day`` on."""
    week = day // WEEK_D
    first = week * WEEK_D
    off = [plan.set_cover(0, z, 0.0) for z in part.zones]
    off += [plan.set_foam(0, z, 0.0, 0.0) for z in part.zones]
    off += [plan.set_lid(0, z, False) for z in part.zones]
    tail = course_of(case, lambda _: fed.zones, kept.days - first, first=first,
                     state=kept.states[week], extra=off)  # fmt: skip
    values = np.concatenate([kept.values[:, :first], tail.values], axis=1)
    return Course(values, kept.states[: week + 1] + tail.states[1:])


def first_day(passed: NDArray[np.bool_]) -> Days:
    """First day (1 is tomorrow morning) on which ``passed`` ``[M, D]`` holds; infinite if none."""
    return np.where(passed.any(axis=1), passed.argmax(axis=1) + 1.0, np.inf)


def _milestones(case: Case, part: Part, days: dict[str, Days]) -> list[Milestone]:
    kinds: tuple[MilestoneKind, ...] = ("emptied", "ready", "worms", "cocoons", "dry", "warm")
    return [milestone(case, kind, part, days[kind], days) for kind in kinds]


def milestone(case: Case, kind: MilestoneKind, part: Part, reached: Days,
              days: dict[str, Days] | None = None) -> Milestone:  # fmt: skip
    """The distribution of one day, with its words."""
    quantiles = np.quantile(reached, SHARES, method="inverted_cdf")
    dates = tuple(_date(case, q) if np.isfinite(q) else None for q in quantiles)
    reach = reach_d(case)
    odds = tuple(
        (_date(case, day), float((reached <= day).mean()))
        for day in range(ODDS_EVERY_D, reach + 1, ODDS_EVERY_D)
    )
    words = date_words.milestone_words(case, kind, part, dates, float(np.isfinite(reached).mean()),
                                       days or {})  # fmt: skip
    return Milestone(kind, part.id, part.name, dates, odds, words)


def _date(case: Case, day: float) -> dt.date:
    return (case.now + dt.timedelta(days=float(day))).date()


# --- Taking it on a day ------------------------------------------------------------------------


def _likely(case: Case, emptied: Days) -> dt.date:
    """The day by which half of the futures have a part empty, or the last that is looked at."""
    middle = float(np.quantile(emptied, 0.5, method="inverted_cdf"))
    return _date(case, min(middle, float(reach_d(case))))


def _taking(case: Case, part: Part, course: Course, days: dict[str, Days], by: dt.date,
            *, after_switch: bool = False) -> Taking:  # fmt: skip
    day = int(np.clip((by - case.now.date()).days, 1, course.days))
    at = day - 1
    every = list(case.living)
    worms = course.total("worms_kg", part.zones)[:, at]
    herd = np.maximum(course.total("worms_kg", every)[:, at], 1e-9)
    cocoons = course.total("cocoons_n", part.zones)[:, at]
    all_cocoons = np.maximum(course.total("cocoons_n", every)[:, at], 1e-9)
    moisture = course.series("moisture_frac", part.zones)[:, at].mean(axis=1)
    warm = float((course.series("temp_mean_c", part.zones)[:, at].mean(axis=1)
                  >= COLD_START_C).mean())  # fmt: skip
    area = sum(case.area_m2(z) for z in part.zones)

    def odds(name: str) -> float:
        return float((days[name] <= day).mean())

    taking = Taking(
        part.id, part.name, _date(case, day), odds("worms"), odds("cocoons"), odds("dry"),
        odds("ready"), band(worms), float(np.median(worms / herd)), band(cocoons),
        float(np.median(cocoons / all_cocoons)), band(moisture),
        spread_drying_d(case, float(np.median(moisture)), day), rescues(worms, herd, area, warm),
        after_switch, "",
    )  # fmt: skip
    return date_words.taking_told(case, taking, warm)


def _after_switch(case: Case, fed: Part, targets: Targets, by: dt.date) -> list[Taking]:
    """The fed part taken on a day, had the bed been switched today; [] without another side."""
    others = [part for part in parts_of(case) if part.id != fed.id]
    if case.twin.bed.kind != "sides" or not others:
        return []
    onward = min(others, key=lambda p: min(abs(a - b) for a in fed.zones for b in p.zones))
    switched = course_of(case, lambda _: onward.zones, reach_d(case))
    days, course = _ready(case, onward, fed, switched, targets)
    return [_taking(case, fed, course, days, by, after_switch=True)]


# --- Switch, tray, split -----------------------------------------------------------------------


def _changes(case: Case, fed: Part, kept: Course, free: Days) -> list[Milestone]:
    """When to switch, to add a tray and to split."""
    found = []
    kind = case.twin.bed.kind
    full = _full(case, fed, kept)
    if kind == "sides" and len(parts_of(case)) > 1:
        found.append(milestone(case, "switch", fed, switch_day(case, full, free)))
    elif kind == "stack":
        found.append(milestone(case, "add tray", fed, full))
    whole = Part("", say("the whole bed"), case.living)
    area = sum(case.area_m2(z) for z in case.living)
    crowd = kept.total("worms_kg", case.living) / area
    limit = case.twin.params["worm_full_kg_m2"]
    found.append(milestone(case, "split", whole, first_day(crowd >= limit[:, None])))
    return found


def _full(case: Case, fed: Part, kept: Course) -> Days:
    """When there is no more room to feed."""
    zone = case.zone(fed.zones[0])
    room = zone.depth_m if case.twin.bed.kind == "stack" else case.twin.bed.depth_m
    depth = kept.series("depth_m", fed.zones).mean(axis=2)
    return first_day(depth >= FULL_SHARE * float(room or case.twin.bed.depth_m))


def switch_day(case: Case, full: Days, free: Days) -> Days:
    """When the next side is free, and this one is full or has been fed for ``FED_D`` days."""
    since = [e.at for e in case.entries if e.kind == "switch" and e.at <= case.now]
    started = dt.datetime.combine(case.twin.bed.started, dt.time(12), dt.UTC)
    fed_for = (case.now - (since[-1] if since else started)).days
    due = np.minimum(full, max(1.0, float(FED_D - fed_for)))
    return np.maximum(due, free)


def last_feeds(case: Case, fed: Part, kept: Course, free: Days) -> LastFeeds | None:
    """How long before the switch to feed only the quarter beside the next side.

    Compared on the same members: worms left two months after the switch. None where the fed side
    is one piece or there is no other side. A switch too far ahead is looked at as early as can be.
    """
    others = [part for part in parts_of(case) if part.id != fed.id]
    if case.twin.bed.kind != "sides" or len(fed.zones) < 2 or not others:
        return None
    full = _full(case, fed, kept)
    due = float(np.quantile(switch_day(case, full, free), 0.5, method="inverted_cdf"))
    latest = kept.days - LEFT_AFTER_D
    switch = int(min(max(due, float(LAST_FEEDS_D[-1])), latest) // WEEK_D * WEEK_D)
    if switch < LAST_FEEDS_D[-1]:
        return None
    beside = min(fed.zones, key=lambda z: min(abs(z - o) for p in others for o in p.zones))
    onward = min(others, key=lambda p: min(abs(beside - z) for z in p.zones))
    left = {}
    for early in LAST_FEEDS_D:
        def plan_of(day: int, early: int = early) -> Sequence[int]:
            if day >= switch:
                return onward.zones
            return (beside,) if day >= switch - early else fed.zones

        first = switch - early
        course = course_of(case, plan_of, early + LEFT_AFTER_D, first=first,
                           state=kept.states[first // WEEK_D])  # fmt: skip
        worms = course.total("worms_kg", fed.zones)
        before = np.maximum(kept.total("worms_kg", fed.zones)[:, switch - 1], 1e-9)
        left[early] = worms[:, -1] / before
    best = min(left, key=lambda early: float(np.mean(left[early])))
    gain = left[0] - left[best]
    if best and float(gain.mean()) <= 2.0 * float(gain.std()) / np.sqrt(len(gain)):
        best = 0
    found = LastFeeds(
        case.zone(beside).id, case.zone_name(beside), best, _date(case, switch - best),
        _date(case, switch), band(left[best]), band(left[0]), "",
    )  # fmt: skip
    return date_words.last_feeds_told(found)
