"""What is left of a herd when some of it is taken, and how long it takes to come back.

Worms go out of every living zone alike. The coming months are those of
:mod:`bedlore.decide.course`: usual weather, fed and watered at the keeper's pace, less what lies
uneaten.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bedlore.bed import plan
from bedlore.bed.acts import MOST_HARVEST
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import State, simulate
from bedlore.bed.layout import Herd
from bedlore.decide.case import Case, fresh_kg, picked
from bedlore.decide.course import (
    WEEK_D,
    Course,
    Part,
    course_of,
    fed_part,
    ration_kg,
    reach_d,
)
from bedlore.decide.lifeboat import BACK_SHARE, ENOUGH
from bedlore.decide.rest import first_day
from bedlore.decide.score import band
from bedlore.decide.words import denominator_for, odds_short
from bedlore.outlook.ahead import LOST_HERD_KG
from bedlore.say import Words, mass, message, on_day, say, sentences
from bedlore.say.amounts import number_words

BACK_D = 90  # within which a herd should be back
MEMBERS = 24
MAY_TAKE = (0.1, 0.2, 0.35, 0.5, 0.7)  # shares to choose from
KEEPS_UP = 0.5  # of a week's ration that may lie uneaten when the next is due (assumed)
LAST_WEEKS = 4  # of the time looked at, in which a bed must keep up
# Arrays of a herd that go with each stage.
_OF_STAGE = {
    "adults": ("adult_n", "adult_kg", "adult_slow_n", "adult_age_d"),
    "juveniles": ("juvenile_n", "juvenile_kg", "juvenile_slow_n"),
    "hatchlings": ("hatchling_n", "hatchling_kg"),
}
PICKED = ("adults", "juveniles")  # what is picked by hand; smaller worms and cocoons stay
# What a share is a share of.
_OF = {
    ("adults",): message("of the adults"), ("juveniles",): message("of the juveniles"),
    PICKED: message("of the adults and juveniles"), tuple(_OF_STAGE): message("of all worms"),
}  # fmt: skip


@dataclass(frozen=True)
class Take:
    """What is taken: a ``share`` (0..1) of ``stages``, or ``worms_kg`` of them.

    ``with_bedding`` takes the same share of all worms, of the bedding and of its cocoons, as a
    split or a harvest does.
    """

    share: float = 0.0
    worms_kg: float = 0.0
    stages: tuple[str, ...] = PICKED
    with_bedding: bool = False

    @property
    def taken_stages(self) -> tuple[str, ...]:
        """The stages that go."""
        return tuple(_OF_STAGE) if self.with_bedding else self.stages


@dataclass(frozen=True)
class HerdAfter:
    """A herd after a :class:`Take`: numbers by stage before and after (bands), and what becomes
    of it within ``within_d`` days.

    ``odds_back`` is that it then weighs what it weighs today (nine tenths), ``odds_back_untouched``
    the same with none taken; ``back_on`` the days by which half and eight in ten are back.
    ``odds_keeps_up`` is that food is eaten as it is fed. ``most_share`` is the largest of
    ``MAY_TAKE`` that is back in eight of ten futures, 0.0 for none of them, None when not even an
    untouched herd is.
    """

    bed_id: str
    members: int
    share: float
    taken_kg: tuple[float, float, float]
    before: dict[str, tuple[float, float, float]]
    after: dict[str, tuple[float, float, float]]
    within_d: int
    odds_back: float
    odds_back_untouched: float
    back_on: tuple[dt.date | None, dt.date | None]
    odds_keeps_up: float
    odds_keeps_up_untouched: float
    most_share: float | None
    most_kg: float | None
    words: Words


def herd_after(case: Case, take: Take) -> HerdAfter | None:
    """The herd of ``case`` (with ``air_long`` of months) after ``take``; None for an empty bed
    or one with next to no worms."""
    herd_kg = float(np.median(case.herd_kg.sum(axis=1)))
    fed, within = fed_part(case), min(BACK_D - BACK_D % WEEK_D + WEEK_D, reach_d(case))
    if fed is None or within < 2 * WEEK_D or herd_kg < LOST_HERD_KG:
        return None
    case = picked(case, case.members(MEMBERS))
    share = _share(case, take)
    left, whole = _future(case, fed, take, share, within), _future(case, fed, take, 0.0, within)
    most = _most(case, fed, take, within) if whole.odds_back >= ENOUGH else None
    taken = _mass(case.twin.state.herd, take.taken_stages)
    found = HerdAfter(
        case.twin.bed.id, case.twin.members, float(np.median(share)), band(share * taken),
        _numbers(case.twin.state), _numbers(left.state), within, left.odds_back, whole.odds_back,
        (_by(case, left.back_d, 0.5), _by(case, left.back_d, ENOUGH)), left.odds_keeps_up,
        whole.odds_keeps_up, most, None if most is None else float(np.median(most * taken)), "",
    )  # fmt: skip
    return replace(found, words=_words(found, take))


def _share(case: Case, take: Take) -> Floats:
    """The share that goes ``[M]``: as asked, or from the mass that each member holds."""
    held = _mass(case.twin.state.herd, take.taken_stages)
    asked = (
        take.worms_kg / np.maximum(held, 1e-9) if take.worms_kg > 0.0
        else np.full_like(held, take.share)
    )  # fmt: skip
    return np.minimum(asked, MOST_HARVEST if take.with_bedding else 1.0)


def _mass(herd: Herd, stages: Sequence[str]) -> Floats:
    """Live mass of some stages ``[M]``."""
    return np.asarray(sum(getattr(herd, _OF_STAGE[s][1]).sum(axis=1) for s in stages))


def without(case: Case, take: Take, share: Floats) -> State:
    """The bed's state once ``share`` ``[M]`` of the worms, and of the bedding too where it goes
    with them, is out of every zone."""
    state = case.twin.state
    keep = (1.0 - share)[:, None]
    arrays = {name: getattr(state.herd, name) * keep
              for stage in take.taken_stages for name in _OF_STAGE[stage]}  # fmt: skip
    state = replace(state, herd=state.herd._replace(**arrays))
    if not take.with_bedding:
        return state
    rows = [plan.harvest(0, z, share=float(np.median(share))) for z in case.living]
    hour = Air(*(array[:, :1] for array in case.air_long))
    return simulate(case.twin.geometry, case.twin.params, state, hour, plan.in_order(rows),
                    hours=1).state  # fmt: skip


@dataclass(frozen=True)
class _Future:
    """``state`` right after the taking; ``back_d`` ``[M]`` the day the herd is back, infinite
    when it is not."""

    state: State
    back_d: Floats
    odds_back: float
    odds_keeps_up: float


def _future(case: Case, fed: Part, take: Take, share: Floats | float, days: int) -> _Future:
    shares = np.broadcast_to(np.asarray(share, dtype=float), (case.twin.members,))
    state = without(case, take, shares) if shares.any() else case.twin.state
    course = course_of(case, lambda _: fed.zones, days, state=state)
    goal_kg = BACK_SHARE * case.herd_kg.sum(axis=1)[:, None]
    back = course.total("worms_kg", case.living) >= goal_kg
    return _Future(state, first_day(back), float(back[:, -1].mean()), _keeps_up(case, fed, course))


def _keeps_up(case: Case, fed: Part, course: Course) -> float:
    """Odds that hardly any of the week's ration lies there when the next one is due."""
    lying = [fresh_kg(state)[:, list(fed.zones)].sum(axis=1) for state in
             course.states[-LAST_WEEKS:]]  # fmt: skip
    return float((np.mean(lying, axis=0) <= KEEPS_UP * ration_kg(case, fed.zones)).mean())


def _most(case: Case, fed: Part, take: Take, days: int) -> float:
    """The largest share to choose from that is back in time; fewer worms are back later, so that
    halving the choice finds it."""
    late = bisect_left(MAY_TAKE, True, key=lambda share: (
        _future(case, fed, take, share, days).odds_back < ENOUGH
    ))  # fmt: skip
    return MAY_TAKE[late - 1] if late else 0.0


def _numbers(state: State) -> dict[str, tuple[float, float, float]]:
    herd = state.herd
    found = {stage: band(getattr(herd, names[0]).sum(axis=1)) for stage, names in _OF_STAGE.items()}
    return {**found, "cocoons": band(herd.cocoon_n.sum(axis=(1, 2)))}


def _by(case: Case, days: Floats, share: float) -> dt.date | None:
    """The day by which ``share`` of the members have got there; None beyond what is looked at."""
    day = float(np.quantile(days, share, method="inverted_cdf"))
    return case.day(case.now + dt.timedelta(days=day)) if np.isfinite(day) else None


# --- In words ----------------------------------------------------------------------------------


def _words(found: HerdAfter, take: Take) -> Words:
    said = [_short_words(found, take), _left_words(found, take), _back_words(found)]
    base = denominator_for((found.odds_keeps_up, found.odds_keeps_up_untouched))
    said.append(say(
        "Food is eaten as fast as you feed it in {odds} futures; with none taken in {untouched}.",
        odds=odds_short(found.odds_keeps_up, found.members, base),
        untouched=odds_short(found.odds_keeps_up_untouched, found.members, base),
    ))  # fmt: skip
    return sentences(*said, _most_words(found, take))


def _of(take: Take) -> Words:
    stages = tuple(s for s in _OF_STAGE if s in take.taken_stages)
    return say(_OF[stages])


def _short_words(found: HerdAfter, take: Take) -> Words:
    """That there is not so much to take, "" where there is."""
    if take.worms_kg <= 1.05 * found.taken_kg[1]:  # a mass is said to two figures at most
        return ""
    return say("There is hardly as much as the {amount} you ask for.", amount=mass(take.worms_kg))


def _left_words(found: HerdAfter, take: Take) -> Words:
    n = {stage: number_words(middle) for stage, (_, middle, _) in found.after.items()}
    return say(
        "Taking about {amount} ({percent} % {of}) leaves about {adults} adults, {juveniles}"
        " juveniles, {hatchlings} hatchlings and {cocoons} cocoons.",
        amount=mass(found.taken_kg[1]), percent=round(100 * found.share), of=_of(take), **n,
    )  # fmt: skip


def _back_words(found: HerdAfter) -> Words:
    base = denominator_for((found.odds_back, found.odds_back_untouched))
    back = say(
        "In {days} days the herd weighs about as much as today in {odds} futures; with none taken"
        " in {untouched}.", days=found.within_d,
        odds=odds_short(found.odds_back, found.members, base),
        untouched=odds_short(found.odds_back_untouched, found.members, base),
    )  # fmt: skip
    half, most = found.back_on
    if half is None:
        return back
    when = (
        say("It first gets there by about {day} in half of all futures.", day=on_day(half))
        if most is None
        else say("It first gets there by about {day} in half of all futures, by {late} in eight of"
                 " ten.", day=on_day(half), late=on_day(most))
    )  # fmt: skip
    shrunk = found.odds_back < (0.5 if most is None else ENOUGH)
    return sentences(back, when, say("Many of these have shrunk again by the end.") if shrunk
                     else "")  # fmt: skip


def _most_words(found: HerdAfter, take: Take) -> Words:
    if found.most_share is None:
        return say("Even with none taken the herd may well shrink in this time, so that no amount"
                   " can be named that is back by then.")  # fmt: skip
    if found.most_share == 0.0:
        return say("Not even {percent} % {of} is back within {days} days in eight of ten futures.",
                   percent=round(100 * MAY_TAKE[0]), of=_of(take), days=found.within_d)  # fmt: skip
    return say("Up to {percent} % {of} (about {amount}) is back within {days} days in eight of ten"
               " futures.", percent=round(100 * found.most_share), of=_of(take),
               amount=mass(found.most_kg or 0.0), days=found.within_d)  # fmt: skip
