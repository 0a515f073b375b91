"""Plans worth running: feeding rhythms, what protects, and both together.

A plan is a few actions with their days. Feeds keep to what is on hand and expected by their day, to
the ceiling of the first meal and one and a half times the meal before, and to three a week. Only
food meant as heat goes beyond the ceiling.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise, product

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Floats
from bedlore.decide.action_rows import FOAM, FOAM_M
from bedlore.decide.candidates import (
    LEAST_DOSE_KG_M2,
    SETPOINTS_K,
    Menu,
    candidates,
    covers,
    covers_all,
    dry_beddings,
    dry_items,
    menus,
    waters,
)
from bedlore.decide.case import Case, edible_kg
from bedlore.decide.meals import CLEARED_FACTOR, LOTS_SHARE, Table, bad_smell, peace_until
from bedlore.decide.records import Action
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.model import StoreItem
from bedlore.outlook.ahead import Ahead, Odds

Moves = tuple[Action, ...]
DAYS = 14
RHYTHMS = ((0,), (3,), (7,), (0, 7), (3, 10), (0, 4, 8), (0, 3, 7, 10), (0, 2, 4, 7, 9, 11))
SIZES = (0.25, 0.5, 0.75, 1.0)  # of what is allowed
WARM_RHYTHMS, WARM_SIZES = ((0,), (0, 7), (0, 3, 7, 10)), (0.5, 1.0, 2.0)
ROUNDING_KG = 0.01  # of the parts of a meal
LATE_DAY = 4  # where lots was left, the first feed comes no sooner (assumed)
THICK_COVER_M = 0.10
MILD_AIR_C = 8.0  # foam comes off when a week of air is milder (assumed)
DELAYS_D = (1, 3)  # by which an act is put off, to see what that does (assumed)
SMALLER = 0.7  # of water or dry bedding (assumed)
# Acts of one family say the opposite of each other, or use the same dry stuff up.
FAMILY = {"uncover": "cover", "bedding": "cover"}
COLD_PAIR_K = 1.0  # zones must differ by this for worms to be carried (assumed)


def feed_plans(case: Case, tables: Sequence[Table], *, cold: bool) -> list[Moves]:
    """Rhythms, sizes, mixes and places of feeding; the first is not to feed, then food as heat."""
    found: list[Moves] = [()]
    if cold:
        found += warm_feeds(case)
    zones = _zones_to_feed(case, tables)
    for number, menu in enumerate(menus(case)):
        for rhythm, size, places in product(RHYTHMS, SIZES, _places(zones)):
            if number > 1 and len(rhythm) > 1:  # what is rich is given once
                continue
            meals = _meals(case, menu, rhythm, size, places)
            if meals and meals not in found:
                found.append(meals)
                if cold and number == 0 and size == 1.0:
                    found.append((replace(meals[0], place="lump"), *meals[1:]))
    return found


def warm_feeds(case: Case) -> list[Moves]:
    """Food over the whole bed as a heater, more than it eats: in the cold a layer of 7.6-10 cm is
    laid to hold heat (NC State extension specialist, read).

    No ceiling by what was cleared holds here, since worms clear next to nothing in the cold and
    what lies there is the heater; sourness, heat and what is left to claim later are priced
    instead. A new bed keeps its two weeks' peace, and one that smells gets none. The zone is "":
    the whole bed.
    """
    if peace_until(case) is not None or bad_smell(case) is not None:
        return []
    week_kg = WEEKLY_SCRAPS_KG_M2 * sum(case.area_m2(z) for z in case.living)
    found: list[Moves] = []
    for menu, rhythm, size in product(menus(case)[:2], WARM_RHYTHMS, WARM_SIZES):
        gap, used, meals = min(7.0, DAYS / len(rhythm)), 0.0, []
        for day in rhythm:
            mass = min(size * week_kg * gap / 7.0, _on_hand(case, menu, day) - used)
            if mass < 0.2 * week_kg:
                break
            used += mass
            parts = tuple((item.material, round(mass * share, 3)) for item, share in menu)
            meals.append(Action("feed", "", parts, on_day=day))
        if len(meals) == len(rhythm) and tuple(meals) not in found:
            found.append(tuple(meals))
    return found


def _zones_to_feed(case: Case, tables: Sequence[Table]) -> list[Table]:
    """Zones that may be fed now or later, the hungriest first."""
    uneaten = np.median(case.uneaten_kg, axis=0)
    if peace_until(case) is not None:
        return []
    able = [t for t in tables if t.cap_kg > 0.0 or t.left == "lots"]
    return sorted(able, key=lambda t: (t.cap_kg <= 0.0, uneaten[t.position]
                                       / case.area_m2(t.position)))[:2]  # fmt: skip


def _places(zones: Sequence[Table]) -> list[tuple[Table, ...]]:
    """Always the same zone, or two in turn."""
    single: list[tuple[Table, ...]] = [(zone,) for zone in zones]
    return [*single, tuple(zones)] if len(zones) == 2 else single


def _meals(case: Case, menu: Menu, rhythm: Sequence[int], size: float,
           places: Sequence[Table]) -> Moves:  # fmt: skip
    gaps = [b - a for a, b in pairwise((*rhythm, DAYS))]
    meals, used = [], 0.0
    before: dict[int, float] = {}  # the last meal of each zone; at most all of it is cleared
    for turn, (day, gap) in enumerate(zip(rhythm, gaps, strict=True)):
        table = places[turn % len(places)]
        area = case.area_m2(table.position)
        most = WEEKLY_SCRAPS_KG_M2 * area * min(gap, 7) / 7.0
        ceiling = CLEARED_FACTOR * before.get(table.position, np.inf)
        if table.position not in before:
            if table.cap_kg <= 0.0 and day < LATE_DAY:
                return ()
            most = min(most, table.cap_kg) if table.cap_kg > 0.0 else 0.5 * most
            ceiling = CLEARED_FACTOR * table.meal.mass_kg if table.meal else np.inf
        mass = min(size * most, ceiling, _on_hand(case, menu, day) - used)
        if mass < LEAST_DOSE_KG_M2 * area:
            return ()
        used += mass
        before[table.position] = mass
        parts = tuple((item.material, round(mass * share, 3)) for item, share in menu)
        meals.append(Action("feed", case.twin.zone_ids[table.position], parts, on_day=day))
    return tuple(meals)


def _on_hand(case: Case, menu: Menu, day: int) -> float:
    """The most of a mix that there is by a day: what lies there and what comes in till then."""
    return min(
        (item.mass_kg + come_in_kg(case, item, day)) / share for item, share in menu if share > 0.0
    )


def come_in_kg(case: Case, item: StoreItem, day: int) -> float:
    """What of ``item`` comes in by ``day`` [kg]."""
    return case.share_of_store * item.per_week_kg * day / 7.0


def is_there(case: Case, moves: Moves) -> bool:
    """Whether what the moves lay on is there by the day it is wanted."""
    used: dict[str, float] = defaultdict(float)
    for action in sorted(moves, key=lambda a: a.on_day):
        for material, mass_kg in action.parts:
            if material == "water":
                continue
            used[material] += mass_kg
            there_kg = sum(item.mass_kg + come_in_kg(case, item, action.on_day)
                           for item in case.store
                           if item.material == material and not item.hold)  # fmt: skip
            if used[material] > there_kg + ROUNDING_KG:
                return False
    return True


def too_much_heat(case: Case, moves: Moves) -> bool:
    """Whether food meant as heat comes to more than a double week's ration in any seven days."""
    most_kg = max(WARM_SIZES) * WEEKLY_SCRAPS_KG_M2 * sum(case.area_m2(z) for z in case.living)
    heat = [action for action in moves if action.kind == "feed" and not action.zone_id]
    weeks = (sum(a.mass_kg for a in heat if 0 <= a.on_day - first.on_day < 7) for first in heat)
    return any(week_kg > most_kg + ROUNDING_KG for week_kg in weeks)


def protections(case: Case, bare: Odds) -> list[Moves]:
    """What can be done about cold, heat, wet and dry, singly; the first is nothing."""
    found: list[Moves] = [()]
    found += [(action,) for action in (*covers(case), *waters(case), *dry_beddings(case, bare))]
    found += list(_thick_cover(case))
    found += list(_mat(case))
    found += list(_carried(case))
    return found


def _thick_cover(case: Case) -> Iterator[Moves]:
    """Ten centimetres of what is dry, where there is enough of it."""
    for item in dry_items(case)[:1]:
        if covers_all(case, item, THICK_COVER_M):
            yield (Action("cover", material=item.material, thickness_m=THICK_COVER_M),)


def _mat(case: Case) -> Iterator[Moves]:
    """The mat off, or on at a thermostat; for the fortnight or its first or second week."""
    if case.twin.bed.heat_mat is None:
        return
    if case.mat_on:
        yield (Action("mat", material="off"),)
    for above in SETPOINTS_K:
        on = Action("mat", material="on", setpoint_c=round(case.limits.cold_c + above, 1))
        off = Action("mat", material="off", on_day=7)
        yield from ((on,), (on, off), (replace(on, on_day=7),))


def _carried(case: Case) -> Iterator[Moves]:
    """Half the worms of the worst zone to the best, where zones differ."""
    if len(case.living) < 2:
        return
    now = np.median(case.twin.recent.series("temp_mean_c")[:, -1], axis=0)
    living = sorted(case.living, key=lambda z: now[z])
    low, high = living[0], living[-1]
    if now[high] - now[low] < COLD_PAIR_K:
        return
    worst, best = (low, high) if now[low] < 12.0 else (high, low)
    if case.worms_kg[worst] > 0.1 * case.worms_kg.sum():
        yield (Action("move", case.twin.zone_ids[worst], to_zone=case.twin.zone_ids[best]),)


# Foam all round: a plan only where nothing on hand keeps the odds.
FOAMED: Moves = (Action("insulate", material=FOAM, thickness_m=FOAM_M),)


def taken_off(case: Case, moves: Moves) -> list[Floats]:
    """Foam comes off again once the air is mild on a week's mean: acts after the window."""
    if not any(action.kind == "insulate" for action in moves):
        return []
    air = np.median(case.air_long.air_c, axis=0)[case.hours :]
    weeks = air[: len(air) // 168 * 168].reshape(-1, 168).mean(axis=1)
    mild = np.flatnonzero(weeks > MILD_AIR_C)
    return [plan.set_foam(int(week) * 168, z, 0.0, 0.0) for week in mild[:1] for z in case.living]


def single_acts(case: Case, tables: Sequence[Table], bare: Odds) -> list[Moves]:
    """Everything that the quick advice weighs, so that a plan is never worse than it."""
    acts = (action for action in candidates(case, tables, bare, menus(case))
            if action.kind != "nothing")  # fmt: skip
    return [unsaid((action,)) for action in acts]


def unsaid(moves: Iterable[Action]) -> Moves:
    """The same acts without their sentences, so that one plan is not tried as two."""
    return tuple(replace(action, words="") for action in moves)


def together(feeds: Iterable[Moves], protects: Iterable[Moves]) -> Iterator[Moves]:
    """Every feeding with every protection."""
    for eaten, kept in product(feeds, protects):
        if eaten and kept:
            yield (*kept, *eaten)


def varied(moves: Moves, cap_kg: dict[str, float]) -> Iterator[Moves]:
    """A plan with a fifth more or less food, or a day later."""
    fed = [action for action in moves if action.kind == "feed"]
    if not fed:
        return
    rest = tuple(action for action in moves if action.kind != "feed")
    first = fed[0]
    for times in (0.8, 1.2):
        sized = tuple(_sized(action, times) for action in fed)
        free = times < 1.0 or not first.zone_id
        if free or sized[0].mass_kg <= cap_kg.get(first.zone_id, 0.0):
            yield (*rest, *sized)
    if fed[-1].on_day < DAYS - 1:
        yield (*rest, *(replace(action, on_day=action.on_day + 1) for action in fed))


def pairs(protects: Iterable[Moves]) -> Iterator[Moves]:
    """Two ways to protect a bed at once, of different families."""
    for one, other in combinations([moves for moves in protects if moves], 2):
        if not _families(one) & _families(other):
            yield (*one, *other)


def _families(moves: Moves) -> set[str]:
    return {FAMILY.get(action.kind, action.kind) for action in moves}


def neighbours(moves: Moves, cap_kg: dict[str, float]) -> Iterator[Moves]:
    """A plan varied in its food, with one other act changed a little, or with one act fewer."""
    yield from varied(moves, cap_kg)
    for n, action in enumerate(moves):
        before, after = moves[:n], moves[n + 1 :]
        if before or after:
            yield (*before, *after)
        if action.kind != "feed":
            yield from ((*before, changed, *after) for changed in _changed(action, moves))


def _changed(action: Action, moves: Moves) -> Iterator[Action]:
    """One act later, but not past the next of its kind; less of it; its thermostat a little off."""
    next_day = min((other.on_day for other in moves
                    if other.kind == action.kind and other.on_day > action.on_day),
                   default=DAYS)  # fmt: skip
    for days in DELAYS_D:
        if action.on_day + days < next_day:
            yield replace(action, on_day=action.on_day + days)
    if action.parts:
        yield _sized(action, SMALLER)
    if action.setpoint_c is not None:
        yield from (replace(action, setpoint_c=round(action.setpoint_c + step, 1))
                    for step in (-1.0, 1.0))  # fmt: skip


def _sized(action: Action, times: float) -> Action:
    return replace(action, parts=tuple((m, round(kg * times, 3)) for m, kg in action.parts))


def overfeeds(case: Case, moves: Moves, ahead: Ahead) -> bool:
    """Whether a later feed would find lots of the last one still there, in most futures.

    What the run counts as food before the plan begins, beyond soft food, is old bedding and casts.
    """
    fed = [action for action in moves if action.kind == "feed" and action.zone_id]
    food = ahead.run.series("food_left_kg")
    firm = np.median(edible_kg(case.twin.state) - case.uneaten_kg, axis=0)
    last: dict[str, float] = {}
    for action in sorted(fed, key=lambda a: a.on_day):
        z = case.position(action.zone_id)
        if action.on_day > 0:
            least = 2.0 / 7.0 * WEEKLY_SCRAPS_KG_M2 * case.area_m2(z)
            soft = float(np.median(food[:, action.on_day - 1, z])) - firm[z]
            if soft > LOTS_SHARE * max(last.get(action.zone_id, 0.0), least):
                return True
        last[action.zone_id] = action.mass_kg
    return False
