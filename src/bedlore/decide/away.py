"""Being away for a few weeks: what to leave, and what a neighbour should do, and when.

Every way of leaving the bed runs on the same members through the absence: food before or not, a
neighbour once a week or not, and one thing more (water, dry bedding, cover) where it helps. The
neighbour of the model looks before feeding, as the sheet asks: nothing where lots is left, half a
cup where some is, and never more than 1.5 times what has gone since the last meal.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.acts import HOUR
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, State, simulate
from bedlore.bed.plan import in_order
from bedlore.decide.action_rows import rows
from bedlore.decide.action_words import NOTHING, item_name, words_of
from bedlore.decide.candidates import Menu, covers, dry_beddings, mats, menus, waters
from bedlore.decide.case import Case, air_of, edible_in, fresh_kg, soft_in
from bedlore.decide.meals import CLEARED_FACTOR, LOTS_SHARE, SOME_SHARE, Table, tables
from bedlore.decide.records import Action, Band, Effect
from bedlore.decide.score import FOOD_PER_WORM, band, effect, score
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.outlook.ahead import Ahead, crossings

EVERY_D = 7  # a neighbour comes once a week
FIRST_D = 5  # after leaving: the first look
LEAST_BACK_D = 2  # no visit so shortly before the keeper is back
CUP_SHARE = 0.5  # of a week's ration: a neighbour errs on the little side (assumed)
FAVOUR_H = 0.75  # hours of work that a neighbour's visit counts as (assumed)
LEAST_GAIN = 1.0  # points by which something more must be better to be asked for (assumed)
CARE_MEMBERS = 20
LEAST_CUP = 0.02  # less is no meal
LONGEST_D = 60


@dataclass(frozen=True)
class Leaving:
    """One way to leave the bed: ``before`` on the day of leaving; ``visits`` are days from now;
    ``cup`` (material, mass [kg]) is what the neighbour feeds at most each time."""

    before: tuple[Action, ...] = ()
    visits: tuple[int, ...] = ()
    cup: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Left:
    """What a way of leaving comes to at the keeper's return.

    ``hungry_d`` days on which worms have too little food, ``herd_kept`` live worms then as a share
    of now's, ``fed_kg`` what the neighbour really fed; ``first_d`` the day from now by which one
    in ten members has passed a limit (None: never).
    """

    leaving: Leaving
    effect: Effect
    points: float
    hungry_d: Band
    herd_kept: Band
    fed_kg: Band
    first_d: dict[str, int | None]


@dataclass(frozen=True)
class Away:
    """The advice: the best way and all others that were weighed, ``nothing`` among them."""

    bed_id: str
    leave_d: int
    back_d: int
    best: Left
    nothing: Left
    others: tuple[Left, ...]
    zone: str
    members: int


def away(case: Case, leave_d: int, back_d: int) -> Away:
    """The best way to leave the bed of ``case`` from day ``leave_d`` to day ``back_d`` from now.

    ``case.air_long`` must reach that far. Raises ValueError otherwise.
    """
    if not 0 <= leave_d < back_d <= case.air_long.air_c.shape[1] // 24:
        raise ValueError(f"days {leave_d} to {back_d}: the weather does not reach that far")
    every = np.arange(case.twin.members)
    table, mix = _table(case), next(iter(menus(case)), None)
    ways = [_follow(case, way, back_d, every) for way in _ways(case, table, mix, leave_d, back_d)]
    nothing = ways[0]
    best = min(ways, key=lambda one: one.points)
    best, tried = _with_care(case, best, leave_d, back_d, every)
    if nothing.points - best.points < LEAST_GAIN:
        best = nothing
    others = tuple(one for one in (*ways, *tried) if one is not best)
    zone = case.zone_name(table.position) if table else ""
    return Away(case.twin.bed.id, leave_d, back_d, best, nothing, others, zone, len(every))


def _table(case: Case) -> Table | None:
    """The zone that is fed next: the one with least soft food on it for its size."""
    food = tables(case)
    uneaten = np.median(case.uneaten_kg, axis=0)
    return min(food, key=lambda t: uneaten[t.position] / case.area_m2(t.position), default=None)


def _ways(case: Case, table: Table | None, mix: Menu | None, leave_d: int,
          back_d: int) -> list[Leaving]:  # fmt: skip
    """Nothing, food before, a neighbour, both; no more than allowed of anything."""
    found = [Leaving()]
    if table is None or mix is None:
        return found
    week_kg = WEEKLY_SCRAPS_KG_M2 * case.area_m2(table.position)
    zone_id = case.twin.zone_ids[table.position]
    most = min(table.cap_kg, week_kg)
    befores: list[tuple[Action, ...]] = [()]
    for kg in (0.5 * most, most) if most > 0.0 else ():
        parts = tuple((item.material, round(kg * part, 3)) for item, part in mix)
        befores.append((Action("feed", zone_id, parts, on_day=leave_d),))
    cup = tuple((item.material, round(CUP_SHARE * week_kg * part, 3)) for item, part in mix)
    days = tuple(range(leave_d + FIRST_D, back_d - LEAST_BACK_D + 1, EVERY_D))
    for before in befores:
        if before:
            found.append(Leaving(before))
        if days:
            found.append(Leaving(before, days, cup))
    return found


def _with_care(case: Case, best: Left, leave_d: int, back_d: int,
               every: NDArray[np.int64]) -> tuple[Left, list[Left]]:  # fmt: skip
    """``best`` with the one thing more that helps most, when it clearly does."""
    some = case.members(CARE_MEMBERS)
    bare = _follow(case, best.leaving, back_d, some)
    odds = best.effect.odds
    more = [*waters(case), *dry_beddings(case, odds), *covers(case)]
    if odds.cold > case.limits.risk_cold:
        more += [action for action in mats(case, cold=False) if action.material == "on"]
    found = []
    for action in more:
        late = replace(action, on_day=leave_d)
        way = replace(best.leaving, before=(*best.leaving.before, late))
        found.append(_follow(case, way, back_d, some))
    top = min(found, key=lambda one: one.points, default=None)
    if top is None or bare.points - top.points < LEAST_GAIN:
        return best, []
    whole = _follow(case, top.leaving, back_d, every)
    return (whole, []) if best.points - whole.points >= LEAST_GAIN else (best, [whole])


def _follow(case: Case, way: Leaving, back_d: int, members: NDArray[np.int64]) -> Left:
    """Run one way of leaving to the keeper's return."""
    before = [row for action in way.before for row in rows(case, action)]
    ahead, fed = _run(case, way, before, back_d, members)
    found = score(case, NOTHING, ahead, before, members)
    # The neighbour's food is turned too, and what lies in the end is counted against it.
    cup_kg = sum(mass for _, mass in way.cup)
    turned = found.by_term["turned"] + fed * _edible_share(case, way)
    terms = {**found.by_term, "turned": turned,
             "work": np.full(len(members), _hours(way))}  # fmt: skip
    run = ahead.run
    worms = run.series("worms_kg").sum(axis=2)
    food = run.series("food_left_kg").sum(axis=2)
    short = np.maximum(1.0 - food / np.maximum(FOOD_PER_WORM * worms, 1e-6), 0.0).sum(axis=1)
    herd = case.herd_kg[members].sum(axis=1)
    return Left(
        way, effect(ahead, case.limits), replace(found, by_term=terms).points, band(short),
        band(worms[:, -1] / np.maximum(herd, 1e-9)), band(fed * cup_kg), _first_days(case, ahead),
    )  # fmt: skip


def _hours(way: Leaving) -> float:
    return FAVOUR_H * len(way.visits) + 0.25 * len(way.before)


def _edible_share(case: Case, way: Leaving) -> float:
    """Edible food of one full cup [kg, as fresh scraps]."""
    return edible_in(_cup_rows(case, way, 0)) if way.cup else 0.0


def _cup_rows(case: Case, way: Leaving, day: int) -> list[Floats]:
    table = _table(case)
    zone_id = case.twin.zone_ids[table.position] if table else ""
    return rows(case, Action("feed", zone_id, way.cup, on_day=day))


def _run(case: Case, way: Leaving, before: Sequence[Floats], back_d: int,
         members: NDArray[np.int64]) -> tuple[Ahead, Floats]:  # fmt: skip
    """Daily outputs to the return, and cups fed ``[M]``; the neighbour looks in each member."""
    state, air = case.twin.state.pick(members), air_of(case.air_long, members)
    look = _Look(case, way, _table(case), before, members)
    none = np.zeros(len(members))
    parts: list[Run] = []
    for first, last in itertools.pairwise([0, *way.visits, back_d]):
        acts = [_shifted(row, first) for row in before if first * 24 <= row[HOUR] < last * 24]
        cup = [_shifted(row, first) for row in _cup_rows(case, way, first)] if first else []
        cups = look.share(fresh_kg(state)[:, look.z]) if first in way.visits else none
        week = _Week(_between(air, first, last), acts, cup, cups)
        parts.append(_lived(case, state, members, week))
        state = parts[-1].state
    values = np.concatenate([run.values for run in parts], axis=1)
    tally = np.sum([run.tally for run in parts], axis=0)
    whole = Run(values, 24, tally, state)
    return Ahead(case.twin.now, whole, case.twin.zone_ids), look.cups


@dataclass(frozen=True)
class _Week:
    """Air ``[M, T]`` and acts from one visit to the next; ``cups`` ``[M]`` of ``cup``."""

    air: Air
    acts: Sequence[Floats]
    cup: Sequence[Floats]
    cups: Floats


def _lived(case: Case, state: State, members: NDArray[np.int64], week: _Week) -> Run:
    """A week of all members: those that are fed and those that are not run apart, since in the
    model even a crumb that is laid stirs the top of the bed."""
    fed = week.cups > LEAST_CUP
    groups = [(np.flatnonzero(mask), mask is fed) for mask in (fed, ~fed) if mask.any()]
    runs = []
    for some, is_fed in groups:
        acts = [*(week.cup if is_fed else ()), *week.acts]
        scale = np.ones((len(some), len(acts)))
        scale[:, : len(week.cup) if is_fed else 0] = week.cups[some, None]
        order = np.argsort(np.array([row[HOUR] for row in acts]), kind="stable")
        runs.append(simulate(
            case.twin.geometry, case.twin.params[members[some]], state.pick(some),
            Air(*(array[some] for array in week.air)), in_order(acts),
            scale=np.ascontiguousarray(scale[:, order.astype(np.int64)]), every=24,
        ))  # fmt: skip
    back = np.argsort(np.concatenate([some for some, _ in groups]))
    states = [run.state.arrays() for run in runs]
    joined = {name: np.concatenate([one[name] for one in states])[back] for name in states[0]}
    return Run(
        np.concatenate([run.values for run in runs])[back], 24,
        np.concatenate([run.tally for run in runs])[back], State.from_arrays(joined),
    )  # fmt: skip


class _Look:
    """The neighbour's eye: how much of a cup each member of the bed gets."""

    def __init__(self, case: Case, way: Leaving, table: Table | None, before: Sequence[Floats],
                 members: NDArray[np.int64]) -> None:  # fmt: skip
        self.z = table.position if table else 0
        self._soft = soft_in(_cup_rows(case, way, 0)) if way.cup else 0.0
        fed = soft_in(before)
        meal = fed if fed > 0.0 else table.meal.edible_kg if table and table.meal else 0.0
        self._meal = np.full(len(members), max(meal, self._soft, 1e-6))
        self._had = np.maximum(fresh_kg(case.twin.state)[members, self.z] + fed, 1e-6)
        self.cups = np.zeros(len(members))

    def share(self, lying_kg: Floats) -> Floats:
        """Cups ``[M]`` for a bed in which so much soft food lies [kg]."""
        left = lying_kg / self._meal
        share = np.where(left > LOTS_SHARE, 0.0, np.where(left > SOME_SHARE, 0.5, 1.0))
        gone = np.maximum(self._had - lying_kg, 0.0)
        share = np.minimum(share, CLEARED_FACTOR * gone / max(self._soft, 1e-6))
        share = np.where(share > LEAST_CUP, share, 0.0)
        self.cups += share
        given = share * self._soft
        self._had = np.maximum(lying_kg + given, 1e-6)
        self._meal = np.where(given > 0.0, np.maximum(given, self._soft), self._meal)
        return np.asarray(share)



def _shifted(row: Floats, day: int) -> Floats:
    moved = row.copy()
    moved[HOUR] -= day * 24
    return moved


def _between(air: Air, first: int, last: int) -> Air:
    return Air(*(np.ascontiguousarray(array[:, first * 24 : last * 24]) for array in air))


def _first_days(case: Case, ahead: Ahead) -> dict[str, int | None]:
    """Day from now by which one in ten members has passed each limit."""
    found: dict[str, int | None] = {}
    days = ahead.run.values.shape[1]
    for name in ("cold", "hot", "sour", "dry", "wet"):
        found[name] = None
        for day in range(1, days + 1):
            part = replace(ahead, run=replace(ahead.run, values=ahead.run.values[:, :day]))
            if float(crossings(part, case.limits)[name].mean()) >= 0.1:
                found[name] = day
                break
    return found


def act_words(case: Case, action: Action) -> str:
    """What to do, without its day: the sheet has the date."""
    return words_of(case, replace(action, on_day=0))


def cup_words(case: Case, way: Leaving) -> list[str]:
    """What goes into a neighbour's cup, each part in the farm's containers or by weight."""
    return [f"{case.speech.amount(m, kg)} {item_name(case, m)}" for m, kg in way.cup]

