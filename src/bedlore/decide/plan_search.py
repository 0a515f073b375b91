"""The fortnight's plan of one bed: some hundred plans tried on few futures, the best on fresh ones.

1. Every feeding alone, every protection alone, every single act of the quick advice: few members.
2. The best feedings with every protection; then small changes of the best of all. Where that is
   little, pairs of protections and more neighbours of the best, up to a budget.
3. The best on half of the ensemble, and on to day 90. A plan that keeps the odds accepted comes
   before any that does not, then points decide; a plan with fewer acts wins within noise.
4. The winner and doing nothing on the other half, each member in fresh weather several times over:
   nothing of these futures took part in the choice, so that their odds are not flattered.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Air, Floats
from bedlore.decide.action_rows import foamed, rows
from bedlore.decide.action_words import NOTHING
from bedlore.decide.case import AFTER_MEMBERS, Case, picked
from bedlore.decide.course import thinned
from bedlore.decide.dial import tuned
from bedlore.decide.meals import tables
from bedlore.decide.pantry import late_points
from bedlore.decide.plan_options import (
    FOAMED,
    Moves,
    feed_plans,
    is_there,
    neighbours,
    overfeeds,
    pairs,
    protections,
    single_acts,
    taken_off,
    together,
    too_much_heat,
    unsaid,
    varied,
)
from bedlore.decide.records import Effect
from bedlore.decide.score import (
    PRICE,
    RISKS,
    WORK_H,
    Score,
    clearly_better,
    effect,
    score,
)
from bedlore.decide.standing import Standing
from bedlore.outlook.ahead import Ahead

# Standard errors by which a plan must beat doing nothing: one, since it is made anew each day and
# doing nothing is no neutral choice in a cold that needs acts week after week (assumed).
ERRORS = 1.0
_COLD = ("cold_kd", "cold_risk")
PAIRED = 7  # of the best protections that are tried two at a time
LEAST_GAIN = 0.2  # points; less is not worth a walk (assumed)
SIMPLER = 0.15  # points that a further act must gain (assumed)
# Standard errors by which the odds of what stands may pass those accepted before it gives way: one,
# or a plan near its limit would come and go with the draw (assumed).
NEAR_ERRORS = 1.0


@dataclass(frozen=True)
class Effort:
    """How hard the search tries: members of the first and the second look, plans of feeding and
    protection joined, plans tried at least (where so many differ), plans kept for the second and
    the last look, feedings weighed at most, fresh futures that the odds come from, members run on
    to day 90, and whether foam may be got where nothing on hand holds."""

    few: int = 8
    some: int = 24
    together: int = 260
    least: int = 320
    kept_some: int = 20
    kept_many: int = 6
    feeds: int = 200
    fresh: int = 500
    after: int = AFTER_MEMBERS
    foam: bool = True


@dataclass(frozen=True)
class Weighed:
    """A plan with what it costs: all that the search asks of the hundreds it drops."""

    moves: Moves
    score: Score
    late: float = 0.0

    @property
    def points(self) -> float:
        """Points lost in the window and after it."""
        return self.score.points + self.late

    @property
    def rank(self) -> tuple[bool, float]:
        """What keeps the odds accepted comes first, whatever it costs; then points."""
        return not self.score.keeps(), self.points


@dataclass(frozen=True, kw_only=True)
class Tried(Weighed):
    """A plan with how it came out, as the keeper is told."""

    effect: Effect


@dataclass(frozen=True)
class Search:
    """What the search came to. ``pool`` holds the best plans on half of the ensemble, the winner
    first; ``half`` is that half; ``fresh`` and ``fresh_without`` are the winner and doing nothing
    on the futures of ``unseen``, and ``rival`` is what the winner is held against there (None where
    nothing else was left to try)."""

    pool: tuple[Tried, ...]
    without: Tried
    half: Case
    unseen: Case
    fresh: Tried
    fresh_without: Tried
    rival: Tried | None
    tried: int

    @property
    def winner(self) -> Tried:
        """The plan chosen."""
        return self.pool[0]


def plan_rows(case: Case, moves: Moves) -> list[Floats]:
    """The acts of the model that a plan means."""
    return [row for action in moves for row in rows(case, action)]


def weigh(case: Case, moves: Moves, *, keep_state: bool = False) -> tuple[Weighed, Ahead]:
    """A plan run on all members of ``case``; ``keep_state`` where it will be run on."""
    given = plan_rows(case, moves)
    ahead = foamed(case, moves).run(given, keep_state=keep_state)
    every = np.arange(case.twin.members)
    found = score(case, NOTHING, ahead, given, every)
    work = np.full(case.twin.members, sum(WORK_H[action.kind] for action in moves))
    found = replace(found, by_term={**found.by_term, "work": work})
    return Weighed(moves, found), ahead


def try_plan(case: Case, moves: Moves) -> tuple[Tried, Ahead]:
    """The same, with how it came out."""
    weighed, ahead = weigh(case, moves, keep_state=True)
    return Tried(moves, weighed.score, effect=effect(ahead, case.limits)), ahead


class _Stage:
    """Plans tried on one set of members, each once."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.found: dict[Moves, Weighed] = {}
        self._dropped: set[Moves] = set()

    def run(self, plans: Iterable[Moves]) -> None:
        """Try plans that were not tried yet; those that overfeed, or ask for more than there is,
        are dropped."""
        for moves in plans:
            if moves in self.found or moves in self._dropped:
                continue
            if not is_there(self.case, moves) or too_much_heat(self.case, moves):
                self._dropped.add(moves)
                continue
            weighed, ahead = weigh(self.case, moves)
            if overfeeds(self.case, moves, ahead):
                self._dropped.add(moves)
            else:
                self.found[moves] = weighed

    def best(self, count: int, among: Iterable[Moves] | None = None) -> list[Moves]:
        """The plans with the least points, and in a third of the places those that pass the odds
        accepted by least: few members cannot tell what keeps them, so neither alone decides."""
        kept = set(self.found if among is None else among)
        ranked = sorted((t for m, t in self.found.items() if m in kept), key=lambda t: t.points)
        keepers = sorted(ranked, key=lambda t: t.score.excess)[: (count + 1) // 3]
        first = ranked[: count - len(keepers)]
        return list(dict.fromkeys(t.moves for t in (*first, *keepers, *ranked)))[:count]


def search(case: Case, fresh_air: Air, quick: Moves = (), effort: Effort | None = None,
           stands: Standing | None = None) -> Search:  # fmt: skip
    """The best plan; ``fresh_air`` ``[W, 14 d]`` is weather that ``case`` has not seen.

    ``quick`` is today's quick advice, tried among the rest; ``stands`` what is left of the plan of
    before, which is kept to today unless another is better by its margin.
    """
    effort, quick = effort or Effort(), unsaid(quick)
    chosen = np.arange(0, case.twin.members, 2)
    unseen = np.arange(1, case.twin.members, 2)
    half = picked(case, chosen)
    few = _Stage(thinned(half, effort.few))
    food = tables(case)
    few.run([()])
    bare = few.found[()].score.odds
    feeds = feed_plans(case, food, cold=bare.cold > 0.0)[: effort.feeds]
    protects = protections(case, bare)
    before = [] if stands is None else [stands.moves]
    few.run([*feeds, *protects, *single_acts(case, food, bare), quick, *before])
    few.run(together(few.best(feeds_kept(protects, effort), feeds), protects))
    cap = {case.twin.zone_ids[t.position]: t.cap_kg for t in food}
    few.run(change for moves in few.best(8) for change in varied(moves, cap))
    _widen(few, protects, cap, effort.least)
    some = _Stage(thinned(half, effort.some))
    some.run([(), *few.best(effort.kept_some)])
    before = [moves for moves in before if moves in few.found]  # it may overfeed by now
    best_many = some.best(effort.kept_many - len(before))
    pool = _whole(half, [(), *best_many, quick, *before], effort.after)
    tried = len(few.found)
    best = min(pool, key=lambda t: t.rank)
    if effort.foam and all(t.score.over_risk["cold_risk"] > 0.0 for t in pool):
        pool += _whole(half, [FOAMED, (*FOAMED, *best.moves)], effort.after)
        tried += 2
    pool += _dialled(half, pool, effort.after)
    without = next(t for t in pool if not t.moves)
    ranked = sorted(pool, key=lambda t: t.rank)
    winner = _stayed(_simplest(ranked, without), pool, stands)
    ranked = [winner, *(t for t in ranked if t is not winner)]
    fresh = _fresh(case, unseen, fresh_air, effort.fresh)
    idle = try_plan(fresh, ())[0]
    told = try_plan(fresh, winner.moves)[0] if winner.moves else idle
    other = _rival_of(ranked, quick)
    rival = try_plan(fresh, other)[0] if other else None
    return Search(tuple(ranked), without, half, fresh, told, idle, rival, tried)


def _widen(few: _Stage, protects: Sequence[Moves], cap_kg: dict[str, float], least: int) -> None:
    """Where fewer than ``least`` plans were tried: pairs of the best protections, then what lies
    near the best plans, the best first, until there are so many or nothing new is near."""
    if len(few.found) < least:
        few.run(pairs(few.best(PAIRED, protects)))
    asked: set[Moves] = set()
    while len(few.found) < least:
        near = [moves for moves in few.best(len(few.found)) if moves not in asked][:2]
        if not near:
            return
        asked.update(near)
        few.run(change for moves in near for change in neighbours(moves, cap_kg))


def _rival_of(ranked: Sequence[Tried], quick: Moves) -> Moves:
    """What the winner is held against beside doing nothing: today's quick act, or the next best
    plan where the winner is just that."""
    others = [quick, *(tried.moves for tried in ranked)]
    return next((moves for moves in others if moves and moves != ranked[0].moves), ())


def feeds_kept(protects: Sequence[Moves], effort: Effort) -> int:
    """How many feedings are tried with every protection."""
    return max(1, effort.together // max(len(protects) - 1, 1))


def _fresh(case: Case, unseen: NDArray[np.int64], air: Air, futures: int) -> Case:
    """Members that took no part in the choice, each in several weathers of ``air``."""
    members = np.resize(unseen, futures)
    rounds = np.arange(futures) // len(unseen)
    # Each member's building is its own: its row of every draw of weather.
    dealt = Air(*(array[(members + rounds * case.twin.members) % len(array)] for array in air))
    return picked(case, members, dealt)


def _whole(case: Case, plans: Sequence[Moves], late_members: int) -> list[Tried]:
    """Plans on half of the ensemble, and ``late_members`` of it on to day 90."""
    found = []
    after = case.members(late_members)
    for moves in dict.fromkeys(plans):
        tried, ahead = try_plan(case, moves)
        late = late_points(case, ahead, case.run_on(ahead, after, taken_off(case, moves)))
        found.append(replace(tried, late=sum(late.values())))
    return found


def _dialled(case: Case, pool: Sequence[Tried], late_members: int) -> list[Tried]:
    """The best plan of ``pool`` with its thermostat at a better setting, where there is one that
    is not in the pool yet."""
    best = min(pool, key=lambda t: t.rank)

    def at(moves: Moves) -> Tried:
        weighed = weigh(case, moves)[0]
        return replace(best, moves=moves, score=weighed.score)

    moves = tuned(case, best.moves, best, at, lambda a, b: a.rank < b.rank,
                  up=not best.score.keeps())  # fmt: skip
    known = {tried.moves for tried in pool}
    return [] if moves in known else _whole(case, [moves], late_members)


def _simplest(ranked: Sequence[Tried], without: Tried) -> Tried:
    """The plan with the fewest acts among those as good as the best worth it, or nothing."""
    able = [t for t in ranked if t is without or _worth_it(t, without)]
    best = able[0]
    if best is without:
        return without
    close = (
        t for t in able if t is not without and t.score.keeps() == best.score.keeps()
        and t.points - best.points <= SIMPLER * max(len(best.moves) - len(t.moves), 0)
    )  # fmt: skip
    return min(close, key=lambda t: (len(t.moves), t.points))


def _stayed(winner: Tried, pool: Sequence[Tried], stands: Standing | None) -> Tried:
    """The winner, or the plan of before where it asks for something else today, is close, and keeps
    the odds accepted (to within noise) where the winner does."""
    if stands is None or stands.holds_today(winner.moves):
        return winner
    close = (
        t for t in pool if t.moves == stands.moves and t.points - winner.points < stands.margin
        and (t.score.keeps(NEAR_ERRORS) or not winner.score.keeps())
    )  # fmt: skip
    return next(close, winner)


def _worth_it(one: Tried, without: Tried) -> bool:
    if one.score.keeps() and not without.score.keeps():
        return True
    if any(action.kind == "feed" and not action.zone_id for action in one.moves):
        # Food as heat must be worth it as heat.
        colder = sum(without.score.term(name) - one.score.term(name) for name in _COLD)
        if colder < LEAST_GAIN:
            return False
    least = LEAST_GAIN + max(0.0, one.late - without.late)
    return clearly_better(one.score, without.score, least, ERRORS)


def member_points(tried: Tried, without: Tried) -> Floats:
    """Points ``[M]``, each limit passed priced where more pass it than is accepted."""
    points = tried.score.member_points + tried.late
    for key, name, _ in RISKS:
        if without.score.over_risk[name] > 0.0 or tried.score.over_risk[name] > 0.0:
            points = points + PRICE[name] * tried.score.crossed[key].astype(float)
    return np.asarray(points)
