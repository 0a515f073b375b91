"""The coming months of a bed kept as it is kept now: fed and watered week by week, one part
resting.

Food is topped up once a week in every future to what the keeper usually gives, so that a cold bed
is not buried and a hungry one not starved. Runs go on from week to week, so that a change of plan
can branch off at any Monday.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import State, simulate
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.decide.action_rows import FOOD_COVER_W_MK
from bedlore.decide.candidates import menus
from bedlore.decide.case import Case, fresh_kg, picked
from bedlore.decide.meals import fed_positions
from bedlore.facts.building import MATERIALS
from bedlore.facts.feedstocks import Feedstock, load
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.log import AnyEntry, Feed, Harvest, Switch, Water
from bedlore.say import say

WEEK_D = 7
HORIZON_D = 147  # whole weeks
USUAL_D = 56  # the keeper's pace is that of the last eight weeks
LEAST_RATION = 0.25  # of the area rule: what a winter's pace becomes in spring (assumed)
LEAST_SCALE = 0.05
MILD_C = 18.0  # from here on winter's foam and thick cover come off (assumed)
TOO_WARM_C = (24.0, 28.0)  # from full rations to none (assumed)
MEMBERS = 60
Fed = Callable[[int], Sequence[int]]  # positions fed in the week that begins on a day


@dataclass(frozen=True)
class Part:
    """What rests and is taken together: a side, a tray or a stretch; ``zones`` are positions."""

    id: str
    name: str
    zones: tuple[int, ...]


@dataclass(frozen=True)
class Course:
    """Daily outputs ``[M, D, Z, V]`` from ``first`` (days from now) and the state each week."""

    values: Floats
    states: tuple[State, ...]
    first: int = 0

    def series(self, name: str, zones: Sequence[int]) -> Floats:
        """One output ``[M, D, zones]``."""
        return self.values[..., list(zones), OUTPUT_NAMES.index(name)]

    def total(self, name: str, zones: Sequence[int]) -> Floats:
        """One output summed over zones ``[M, D]``."""
        return np.asarray(self.series(name, zones).sum(axis=2))

    @property
    def days(self) -> int:
        """Days covered."""
        return int(self.values.shape[1])


def thinned(case: Case, count: int = MEMBERS) -> Case:
    """``case`` on ``count`` members spread evenly; the weather goes with its members."""
    return picked(case, case.members(count))


def reach_d(case: Case) -> int:
    """Days that can be looked ahead, in whole weeks."""
    days = min(HORIZON_D, int(case.air_long.air_c.shape[1]) // 24)
    return days - days % WEEK_D


def parts_of(case: Case) -> tuple[Part, ...]:
    """Sides of a box, trays of a stack from the top, stretches of a wedge from the face."""
    bed = case.twin.bed
    if bed.kind != "sides":
        return tuple(Part(case.zone(z).id, case.zone_name(z), (z,)) for z in case.living)
    sides: dict[str, list[int]] = {}
    for z in case.living:
        sides.setdefault(case.zone(z).side, []).append(z)
    return tuple(Part(side, _side_name(case, side, zones), tuple(zones))
                 for side, zones in sides.items())  # fmt: skip


def _side_name(case: Case, side: str, zones: Sequence[int]) -> str:
    return case.zone_name(zones[0]) if len(zones) == 1 else say("the {side} side", side=side)


def fed_part(case: Case) -> Part | None:
    """The part that is fed now."""
    fed = set(fed_positions(case))
    return next((part for part in parts_of(case) if fed & set(part.zones)), None)


def resting_since(case: Case, part: Part) -> dt.datetime | None:
    """When a part was last fed, switched from or filled; None where it is fed now."""
    fed = fed_part(case)
    if fed is None or fed.id == part.id:
        return None
    names = {part.id, *(case.zone(z).id for z in part.zones)}
    side, since = fed.id, None
    switches = [e for e in case.entries if isinstance(e, Switch)]
    first = switches[0].at if switches else None
    for entry in case.entries:
        if entry.at > case.now:
            break
        if isinstance(entry, Switch):
            side = entry.side
            if side != part.id:
                since = entry.at if since is None or _was_fed(switches, entry, part) else since
        elif isinstance(entry, Feed) and (
            entry.zone in names or (entry.zone is None and first is not None and side == part.id
                                    and entry.at >= first)
        ):
            since = entry.at
    started = dt.datetime.combine(case.twin.bed.started, dt.time(12), dt.UTC)
    return since or started


def _was_fed(switches: Sequence[Switch], now: Switch, part: Part) -> bool:
    """Whether ``part`` was the fed side up to a switch away from it."""
    before = [s for s in switches if s.at < now.at]
    return not before or before[-1].side == part.id


def last_taken(case: Case, part: Part) -> dt.datetime | None:
    """When a part was last harvested."""
    names = {part.id, *(case.zone(z).id for z in part.zones)}
    taken = [e.at for e in case.entries
             if isinstance(e, Harvest) and e.zone in names and e.at <= case.now]
    return taken[-1] if taken else None


def _of_late(case: Case) -> list[AnyEntry]:
    """Entries that tell of the keeper's pace."""
    since = case.now - dt.timedelta(days=USUAL_D)
    return [entry for entry in case.entries if since <= entry.at <= case.now]


def _a_week(case: Case, of_late_kg: float) -> float:
    """What was given of late as a week's pace; of a younger bed since it began, a week at least."""
    age_d = (case.now.date() - case.twin.bed.started).days
    return of_late_kg * WEEK_D / min(max(age_d, WEEK_D), USUAL_D)


def ration_kg(case: Case, zones: Sequence[int]) -> float:
    """What the keeper gives these zones in a week: the pace of late, within the area rule."""
    rule = WEEKLY_SCRAPS_KG_M2 * sum(case.area_m2(z) for z in zones)
    fed_kg = sum(part.mass_kg for entry in _of_late(case) if isinstance(entry, Feed)
                 for part in entry.parts)  # fmt: skip
    coming = case.share_of_store * sum(i.per_week_kg for i in case.store if not i.hold)
    usual = max(_a_week(case, fed_kg), coming)
    return float(np.clip(usual, LEAST_RATION * rule, rule))


def course_of(case: Case, fed: Fed, days: int, *, first: int = 0, state: State | None = None,
              extra: Sequence[Floats] = ()) -> Course:  # fmt: skip
    """Run from day ``first`` for ``days`` (whole weeks), topping up the ``fed`` zones weekly and
    watering them; what rests is left to dry.

    ``extra`` are acts besides, hours counted from day ``first``.
    """
    state = case.twin.state if state is None else state
    weeks = max(days // WEEK_D, 1)
    values, states = [], [state]
    mix = feed_parts(case)
    for week in range(weeks):
        day = first + week * WEEK_D
        air = _slice(case.air_long, 24 * day, 24 * (day + WEEK_D))
        rows, scale = _meals(case, state, fed(day), mix, float(air.air_c[:, :24].mean()))
        due = _light_cover(case, state) + _water(case, fed(day)) + _of_week(extra, week)
        rows += due
        scale += [np.ones(state.members) for _ in due]
        table = plan.in_order(rows)
        order = np.argsort([row[0] for row in rows], kind="stable").tolist() if rows else []
        factors = np.ascontiguousarray(np.array([scale[i] for i in order]).T) if rows else None
        run = simulate(case.twin.geometry, case.twin.params, state, air, table, scale=factors,
                       hours=24 * WEEK_D, every=24)  # fmt: skip
        values.append(run.values)
        state = run.state
        states.append(state)
    return Course(np.concatenate(values, axis=1), tuple(states), first)


def _water(case: Case, zones: Sequence[int]) -> list[Floats]:
    """A week's water at the keeper's pace of late, by area: a bed never watered dries out in
    months, and its herd shrinks for no fault of the plan."""
    given_kg = sum(entry.mass_kg for entry in _of_late(case) if isinstance(entry, Water))
    week_kg = _a_week(case, given_kg)
    if week_kg <= 0.0:
        return []
    area = sum(case.area_m2(z) for z in zones)
    return [plan.give_water(1, z, week_kg * case.area_m2(z) / area) for z in zones]


def _of_week(extra: Sequence[Floats], week: int) -> list[Floats]:
    """The acts of a week, with hours counted from its start."""
    start = week * WEEK_D * 24
    mine = [row.copy() for row in extra if start <= row[0] < start + WEEK_D * 24]
    for row in mine:
        row[0] -= start
    return mine


def _light_cover(case: Case, state: State) -> list[Floats]:
    """Winter's foam off, and a thick cover down to the bed's own, once the bed is mild."""
    if float(np.median(zone_temp_c(state)[:, list(case.living)])) < MILD_C:
        return []
    own_m = own_cover_m(case)
    laid, foam = state.zones.cover_m[0], state.zones.foam_r[0] + state.zones.foam_top_r[0]
    rows = [plan.set_foam(0, z, 0.0, 0.0) for z in case.living if foam[z] > 0.0]
    return rows + [plan.set_cover(0, z, own_m) for z in case.living if laid[z] > own_m]


def own_cover_m(case: Case) -> float:
    """Thickness of the cover that belongs to the bed, as the model counts it."""
    cover = case.twin.bed.cover
    if cover is None:
        return 0.0
    known = MATERIALS.get(cover.material)
    return cover.thickness_m * (FOOD_COVER_W_MK / known.k_w_mk if known else 1.0)


def zone_temp_c(state: State) -> Floats:
    """Plain mean of a zone's cells ``[M, Z]``."""
    return np.asarray(state.cells.temp_c.mean(axis=2))


def _slice(air: Air, first: int, last: int) -> Air:
    return Air(*(array[:, first:last] for array in air))


def feed_parts(case: Case) -> list[tuple[Feedstock, float, float | None]]:
    """What the bed is fed, as shares of a kilogram: the first mix on hand, else mixed scraps."""
    found = menus(case)
    if found:
        return [(load()[item.material], share, item.moisture_frac) for item, share in found[0]]
    stuff = load()
    return [(stuff["food_mixed_kitchen"], 0.9, None), (stuff["bed_corrugated"], 0.1, None)]


def _meals(case: Case, state: State, zones: Sequence[int],
           mix: Sequence[tuple[Feedstock, float, float | None]],
           temp_c: float) -> tuple[list[Floats], list[Floats]]:  # fmt: skip
    """A week's ration on each zone, less what lies there uneaten in each member."""
    if not zones:
        return [], []
    week_kg = ration_kg(case, zones)
    area = sum(case.area_m2(z) for z in zones)
    lying, warm = fresh_kg(state), zone_temp_c(state)
    rows, scales = [], []
    for z in zones:
        full = week_kg * case.area_m2(z) / area
        parts = [(stock, share * full, moisture) for stock, share, moisture in mix]
        rows.append(plan.add_material(0, z, parts, temp_c=max(0.5, temp_c)))
        bears = np.interp(warm[:, z], TOO_WARM_C, (1.0, 0.0))
        scales.append(np.clip(bears * (1.0 - lying[:, z] / full), LEAST_SCALE, 1.0))
    return rows, scales
