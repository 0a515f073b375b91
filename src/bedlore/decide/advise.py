"""Today's advice for one bed: candidates screened, the best tried whole, the winner explained.

1. Some thirty candidates run over the fortnight on the same 16 members (common random numbers).
2. The best and what could rival it run on half of the members; what beats doing nothing there
   beyond noise runs on to day 90 on climate weather, as does doing nothing.
3. The winner must still beat doing nothing then, or the advice is "nothing yet"; its odds are told
   from all members.
4. Yesterday's advice stands unless something changed that can be named.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Floats
from bedlore.decide.action_rows import foamed, rows
from bedlore.decide.action_words import NOTHING, words_of
from bedlore.decide.candidates import candidates, menus
from bedlore.decide.case import AFTER_MEMBERS, SCREEN_MEMBERS, Case, joined, picked
from bedlore.decide.change import causes, inputs_of, sentence
from bedlore.decide.explain import Findings, explain
from bedlore.decide.hold import Limit, Measure, helps, holding, mean_shift_k, shift_k
from bedlore.decide.meals import tables
from bedlore.decide.pantry import late_points
from bedlore.decide.records import Action, Advice, Effect
from bedlore.decide.score import (
    STAY_MARGIN,
    Score,
    clearly_better,
    could_beat,
    effect,
    score,
)
from bedlore.outlook.ahead import Ahead
from bedlore.say import clause, say

LEAST_GAIN = 0.2  # points; less is not worth a walk (assumed)
SAME = 0.05  # points by which two futures of each member may differ and be one (assumed)
RIVALS = 2


@dataclass(frozen=True, eq=False)
class Future:
    """One action run on half of the members; ``late`` are its points to day 90, where it was run
    on so far."""

    action: Action
    given: Sequence[Floats]
    ahead: Ahead
    score: Score
    effect: Effect
    late: Mapping[str, float] = field(default_factory=dict)

    @property
    def points(self) -> float:
        """Points lost in the window and after it."""
        return self.score.points + sum(self.late.values())


def advise(case: Case, yesterday: Advice | None = None) -> Advice:
    """Advice for the bed of ``case``; ``yesterday`` is the last advice given for it."""
    members = case.members(SCREEN_MEMBERS)
    food = tables(case)
    bare_ahead = case.run([], members)
    bare = score(case, NOTHING, bare_ahead, [], members)
    tried = candidates(case, food, bare.odds, menus(case))
    tried += _planned(case, yesterday, tried)
    bare_effect = effect(bare_ahead, case.limits)
    found = _screen(case, tried, members, bare, bare_effect)
    some = case.members(case.twin.members // 2)
    half = picked(case, some)
    changed = [] if yesterday is None else causes(case, yesterday)
    futures = [_future(half, action) for action in _best(found, yesterday, stays=not changed)]
    without = next(f for f in futures if f.action.kind == "nothing")
    measures = _what_would_hold(case, members, bare, bare_effect, without)
    futures += _insulation(half, futures, measures)
    futures, without = _run_on(half, futures, without)
    winner, cause = _settled(futures, without, yesterday, changed)
    rivals = sorted((f for f in futures if f is not winner), key=lambda f: f.score.points)[:RIVALS]
    told, nothing = (_whole(case, future, some) for future in (winner, without))
    return explain(
        case, food,
        Findings(
            action=winner.action, score=told[0], effect=told[1],
            without=nothing[1], without_score=nothing[0],
            rivals=tuple((f.action, f.effect) for f in rivals), measures=measures,
            cause=cause, inputs=inputs_of(case),
        ),
    )  # fmt: skip


def _screen(case: Case, tried: Sequence[Action], members: NDArray[np.int64], bare: Score,
            bare_effect: Effect) -> list[Score]:  # fmt: skip
    """Scores on the screening members, without remedies that would not help."""
    found = [bare]
    for action in tried:
        if action.kind == "nothing":
            continue
        given = rows(case, action)
        ahead = case.run(given, members)
        one = score(case, action, ahead, given, members)
        came = effect(ahead, case.limits)
        if not _empty_remedy(one, bare, came, bare_effect, case.hours / 24.0):
            found.append(one)
    return found


# Terms by which an action counts as a remedy, with the limit that it is a remedy for.
_REMEDIES: dict[Limit, tuple[str, str]] = {
    "cold": ("cold_kd", "cold_risk"), "hot": ("heat_kd", "heat_risk"),
}  # fmt: skip


def _empty_remedy(one: Score, bare: Score, came: Effect, bare_effect: Effect,
                  days: float) -> bool:  # fmt: skip
    """Whether its points come mostly from cold or heat that it does not really change."""
    gain = bare.points - one.points
    for limit, terms in _REMEDIES.items():
        part = sum(bare.term(name) - one.term(name) for name in terms)
        shift = shift_k(came, bare_effect, limit)
        mean = mean_shift_k(one, bare, limit, days)
        if part > 0.0 and gain - part < LEAST_GAIN and not helps(one, bare, limit, shift, mean):
            return True
    return False


def _best(found: Sequence[Score], yesterday: Advice | None, *, stays: bool) -> list[Action]:
    """The best, what could rival it, what was said yesterday, and "nothing"; ``found`` begins
    with doing nothing. A thermostat ``stays`` as it was said where nothing changed."""
    bare, ranked = found[0], sorted(found, key=lambda one: one.points)
    chosen: dict[str, Score] = {}
    for one in ranked:
        if len(chosen) < RIVALS and one is not bare and _could_rival(one, chosen.values(), bare):
            chosen.setdefault(one.action.key, one)
    actions = {key: one.action for key, one in chosen.items()}
    if yesterday is not None:
        same = [one.action for one in ranked if one.action.key == yesterday.action.key]
        if same:
            nearest = min(same, key=lambda a: (a.setpoint_c != yesterday.action.setpoint_c,
                                               abs(a.mass_kg - yesterday.action.mass_kg)))
            if stays and nearest.kind == "mat":
                actions[nearest.key] = nearest
            actions.setdefault(nearest.key, nearest)
    actions.setdefault(NOTHING.key, NOTHING)
    return list(actions.values())


def _could_rival(one: Score, better: Collection[Score], bare: Score) -> bool:
    """Whether a future is worth a second look beside ``better`` ones of other kinds or places:
    not when it comes to the same for every member, or can hardly be worth a walk."""
    if not better:
        return True
    apart = (np.abs(one.member_points - other.member_points).max() for other in better)
    return min(apart) > SAME and could_beat(one, bare, LEAST_GAIN)


def _planned(case: Case, yesterday: Advice | None, tried: Sequence[Action]) -> list[Action]:
    """What was put off to a day that draws nearer, on that day."""
    if yesterday is None or yesterday.action.on_day == 0:
        return []
    passed = (case.now.date() - yesterday.made_at.date()).days
    day = max(0, yesterday.action.on_day - passed)
    same = [a for a in tried if a.key == yesterday.action.key and a.on_day > 0 and a.on_day != day]
    moved = [replace(action, on_day=day) for action in same]
    return [replace(action, words=words_of(case, action)) for action in moved]


def _future(half: Case, action: Action) -> Future:
    """The fortnight of an action on half of the members."""
    given = rows(half, action)
    ahead = foamed(half, [action]).run(given)
    every = np.arange(half.twin.members)
    return Future(action, given, ahead, score(half, action, ahead, given, every),
                  effect(ahead, half.limits))  # fmt: skip


def _run_on(half: Case, futures: Sequence[Future],
            without: Future) -> tuple[list[Future], Future]:  # fmt: skip
    """``futures`` and ``without``, with what could still win against it run on to day 90.

    What does not win within the window cannot win later: later points can only take back.
    """
    after = half.members(AFTER_MEMBERS)

    def on(one: Future) -> Future:
        return replace(one, late=late_points(half, one.ahead, half.run_on(one.ahead, after)))

    could = [f for f in futures if clearly_better(f.score, without.score, LEAST_GAIN)]
    if not could:
        return list(futures), without
    nothing = on(without)
    return [nothing if f is without else on(f) if f in could else f for f in futures], nothing


def _whole(case: Case, future: Future, some: NDArray[np.int64]) -> tuple[Score, Effect]:
    """A future on all members, as the odds are told; ``some`` are the half it was run on."""
    every, action, given = np.arange(case.twin.members), future.action, future.given
    if given:
        others = np.setdiff1d(every, some)
        rest = foamed(case, [action]).run(given, others)
        ahead = joined(len(every), [(some, future.ahead), (others, rest)])
    else:
        ahead = case.run(given)
    return score(case, action, ahead, given, every), effect(ahead, case.limits)


def _settled(futures: Sequence[Future], without: Future, yesterday: Advice | None,
             changed: Sequence[str]) -> tuple[Future, str]:  # fmt: skip
    """The winner, and why it is another one than yesterday ("" when it is not); ``changed`` are
    the causes that there are."""
    worthy = [f for f in futures if f is without or _worth_it(f, without)]
    best = min(worthy, key=lambda f: f.points)
    if yesterday is None or _same(best.action, yesterday.action):
        return best, ""
    before = next((f for f in futures if f is not best and f.action.key == yesterday.action.key),
                  None)  # fmt: skip
    if before is not None:
        close = before.points - best.points < STAY_MARGIN
        if not changed or (close and before in worthy):
            return before, ""
    if not changed:
        changed = [say('what was advised before ("{action}") no longer fits the bed or what is on'
                       " hand", action=clause(yesterday.action.words))]  # fmt: skip
    return best, sentence(changed)


def _same(one: Action, other: Action) -> bool:
    """Whether two actions are told as one: doses may differ, settings of a thermostat not."""
    return one.key == other.key and one.setpoint_c == other.setpoint_c


def _worth_it(one: Future, without: Future) -> bool:
    """Better than nothing beyond noise in the window, and not given back later."""
    late = sum(one.late.values()) - sum(without.late.values())
    return clearly_better(one.score, without.score, LEAST_GAIN + max(0.0, late))


def _what_would_hold(case: Case, members: NDArray[np.int64], bare: Score, bare_effect: Effect,
                     without: Future) -> tuple[Measure, ...]:  # fmt: skip
    """What-ifs, where doing nothing breaks a limit."""
    if without.score.over_risk["cold_risk"] > 0.0:
        return holding(case, "cold", bare, bare_effect, members)
    if without.score.over_risk["heat_risk"] > 0.0:
        return holding(case, "hot", bare, bare_effect, members)
    return ()


def _insulation(half: Case, futures: Sequence[Future],
                measures: Sequence[Measure]) -> list[Future]:  # fmt: skip
    """Foam as an action to advise, where nothing at hand holds the bed and foam helps."""
    foam = next((m for m in measures if m.name == "foam" and m.helps), None)
    if foam is None or any(f.score.over_risk["cold_risk"] <= 0.0 for f in futures):
        return []
    return [_future(half, foam.action)]
