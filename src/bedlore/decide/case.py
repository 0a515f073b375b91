"""Everything one bed's advice is worked out from, and the runs it is worked out by."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import acts
from bedlore.bed.cells import FAST, MEDIUM, Air, Floats
from bedlore.bed.engine import Run, State
from bedlore.bed.living import WET_PER_CARBON
from bedlore.bed.matter import DRY_PER_CARBON
from bedlore.bed.outputs import OUTPUT_NAMES, as_fresh
from bedlore.decide.words import Speech
from bedlore.farm.bed import Limits, Zone
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Container, StoreItem
from bedlore.farm.site import Normals
from bedlore.outlook.ahead import LOST_HERD_KG, WINDOW_D, Ahead, look_ahead
from bedlore.outlook.twin import Twin

SCREEN_MEMBERS = 16
AFTER_MEMBERS = 14
AFTER_D = 90


@dataclass(frozen=True)
class Case:
    """One bed this morning.

    ``air`` ``[W, 14 d]`` surrounds it in the coming fortnight; ``air_long`` ``[W, >= 90 d]`` is
    climate weather counted from the same hour, of which the first fortnight is not used.
    ``store`` is what the farm has on hand, ``entries`` the log entries of this bed that hold,
    ``open_air`` the outdoor air (for a door left open), ``share_of_store`` this bed's part of
    what comes in each week, by floor area, ``normals`` the usual weather of the place, ``outlook``
    the fortnight with nothing done where it has been run already, ``zone_info`` the clock by which
    days are told.
    """

    twin: Twin
    air: Air
    air_long: Air
    limits: Limits
    store: tuple[StoreItem, ...] = ()
    containers: tuple[Container, ...] = ()
    entries: tuple[AnyEntry, ...] = ()
    open_air: Air | None = None
    units: str = "metric"
    share_of_store: float = 1.0
    normals: Normals | None = None
    outlook: Ahead | None = None
    zone_info: dt.tzinfo = dt.UTC

    @property
    def now(self) -> dt.datetime:
        """The moment of the advice."""
        return self.twin.now

    def day(self, moment: dt.datetime) -> dt.date:
        """The day of ``moment`` by the farm's clock."""
        return moment.astimezone(self.zone_info).date()

    @property
    def speech(self) -> Speech:
        """The keeper's units and containers."""
        return Speech("us" if self.units == "us" else "metric", self.containers)

    @cached_property
    def hours(self) -> int:
        """Hours of the window: a fortnight, or as long as there is weather."""
        return min(WINDOW_D * 24, int(self.air.air_c.shape[1]))

    @cached_property
    def living(self) -> tuple[int, ...]:
        """Positions of the zones that hold material."""
        return tuple(int(z) for z in np.flatnonzero(self.twin.state.zones.active[0] > 0.0))

    @cached_property
    def herd_kg(self) -> Floats:
        """Live worms ``[M, Z]``."""
        herd = self.twin.state.herd
        return np.asarray(herd.adult_kg + herd.juvenile_kg + herd.hatchling_kg)

    @cached_property
    def worms_kg(self) -> Floats:
        """Median live worms ``[Z]`` by position."""
        return np.asarray(np.median(self.herd_kg, axis=0))

    @cached_property
    def lost_share(self) -> float:
        """Share of the members whose herd has died out but for a worm here and there."""
        return float((self.herd_kg.sum(axis=1) < LOST_HERD_KG).mean())

    @cached_property
    def frozen(self) -> bool:
        """Whether some zone is below freezing at hand's depth, in most members."""
        now = np.median(self.twin.recent.series("temp_probe_c")[:, -1], axis=0)
        return any(now[z] < 0.0 for z in self.living)

    @cached_property
    def uneaten_kg(self) -> Floats:
        """Fresh food still lying there ``[M, Z]``, as scraps: the fast pool alone."""
        return fresh_kg(self.twin.state)

    @cached_property
    def mat_on(self) -> bool:
        """Whether the bed has a heat mat and it is on."""
        on = self.twin.state.zones.mat_on > 0.0
        return self.twin.bed.heat_mat is not None and bool(on.any())

    def zone(self, position: int) -> Zone:
        """The zone that lies at ``position``."""
        found = self.twin.bed.zone(self.twin.zone_ids[position])
        return found if found is not None else self.twin.bed.zones[position]

    def zone_name(self, position: int) -> str:
        """How the keeper calls it."""
        zone = self.zone(position)
        return zone.called

    def area_m2(self, position: int) -> float:
        """Plan area."""
        return float(self.twin.geometry.area_m2[position])

    def position(self, zone_id: str) -> int:
        """Position of a zone in the bed; -1 when it is not there."""
        return self.twin.zone_ids.index(zone_id) if zone_id in self.twin.zone_ids else -1

    def members(self, count: int) -> NDArray[np.int64]:
        """``count`` members spread evenly over the ensemble, always the same ones."""
        count = min(count, self.twin.members)
        return np.linspace(0, self.twin.members - 1, count).round().astype(np.int64)

    def run(self, acts: Sequence[Floats], members: NDArray[np.int64] | None = None,
            every: int = 24, hours: int | None = None, *,
            keep_state: bool = True) -> Ahead:  # fmt: skip
        """The coming fortnight with ``acts``, for some members or all; same weather for each."""
        hours = self.hours if hours is None else hours
        every = min(every, hours)
        if members is None:
            ready = daily(self.outlook, every, hours) if not acts else None
            if ready is not None:
                return ready
            return look_ahead(self.twin, self.air, acts, hours=hours, every=every,
                              keep_state=keep_state)  # fmt: skip
        ready = daily(part_of(self.outlook, members), every, hours) if not acts else None
        if ready is not None:
            return ready
        return look_ahead(self.twin, air_of(self.air, members), acts, hours=hours, every=every,
                          members=members, keep_state=keep_state)  # fmt: skip

    def run_on(self, ahead: Ahead, members: NDArray[np.int64],
               acts: Sequence[Floats] = ()) -> Ahead | None:  # fmt: skip
        """From the end of a run of all members on to day 90 on climate weather.

        ``acts`` count their hours from the end of the window. None when ``air_long`` does not
        reach beyond it.
        """
        hours = min(AFTER_D * 24, int(self.air_long.air_c.shape[1])) - self.hours
        if hours < 24:
            return None
        late = Air(*(array[:, self.hours :] for array in self.air_long))
        return look_ahead(self.twin, air_of(late, members), acts, hours=hours, every=24,
                          members=members, state=ahead.run.state.pick(members))  # fmt: skip


def picked(case: Case, members: NDArray[np.int64], air: Air | None = None) -> Case:
    """``case`` on some members (an index may repeat), their weather with them; ``air`` stands in
    for their fortnight, and then each wanders anew."""
    twin = case.twin
    doubt = twin.doubt.of(members) if air is None else replace(twin.doubt, members=())
    recent = replace(twin.recent, values=twin.recent.values[members],
                     tally=twin.recent.tally[members])  # fmt: skip
    return replace(
        case, outlook=None if air is not None else part_of(case.outlook, members),
        air=air_of(case.air, members) if air is None else air,
        air_long=air_of(case.air_long, members),
        twin=replace(twin, params=twin.params[members], state=twin.state.pick(members),
                     recent=recent, doubt=doubt),
    )  # fmt: skip


def part_of(ahead: Ahead | None, members: NDArray[np.int64]) -> Ahead | None:
    """Some members of a run of all of them."""
    if ahead is None:
        return None
    run = ahead.run
    part = replace(run, values=run.values[members], tally=run.tally[members],
                   last=run.state.pick(members))  # fmt: skip
    return replace(ahead, run=part)


def joined(whole: int, parts: Sequence[tuple[NDArray[np.int64], Ahead]]) -> Ahead:
    """A run of ``whole`` members from runs of some each, by their places: the inverse of
    :func:`part_of`."""
    place = np.argsort(np.concatenate([members for members, _ in parts]))
    if len(place) != whole:
        raise ValueError(f"{len(place)} members joined, {whole} wanted")
    runs = [ahead.run for _, ahead in parts]
    states = [run.state.arrays() for run in runs]
    state = {name: np.concatenate([s[name] for s in states])[place] for name in states[0]}
    run = Run(
        np.concatenate([run.values for run in runs])[place], runs[0].every,
        np.concatenate([run.tally for run in runs])[place], State.from_arrays(state),
    )  # fmt: skip
    return replace(parts[0][1], run=run)


def daily(ahead: Ahead | None, every: int, hours: int) -> Ahead | None:
    """An outlook by the hour as the run in windows of ``every`` hours would have written it.

    None when it covers other hours. Extremes are those of the window, the rest its last hour.
    """
    if ahead is None or ahead.run.every != 1 or ahead.run.values.shape[1] != hours or hours % every:
        return None
    values = ahead.run.values
    hourly = values.reshape(len(values), hours // every, every, *values.shape[2:])
    windows = hourly[:, :, -1].copy()
    for name, extreme in (("temp_coldest_c", np.min), ("temp_warmest_c", np.max)):
        i = OUTPUT_NAMES.index(name)
        windows[..., i] = extreme(hourly[..., i], axis=2)
    return Ahead(ahead.start, replace(ahead.run, values=windows, every=every), ahead.zone_ids)


def air_of(air: Air, members: NDArray[np.int64]) -> Air:
    """The weather that each of ``members`` meets."""
    return Air(*(np.ascontiguousarray(array[members % len(array)]) for array in air))


def fresh_kg(state: State) -> Floats:
    """Soft food not yet eaten ``[M, Z]`` [kg, as fresh scraps]: what a keeper sees as "left".

    The fast pool alone: firm food turns dark and is seen as bedding (assumed).
    """
    return np.asarray(WET_PER_CARBON * state.cells.carbon_kg[..., FAST].sum(axis=2))


def soft_in(given: Sequence[Floats]) -> float:
    """Soft food that acts bring [kg, as fresh scraps], counted as in :func:`fresh_kg`."""
    laid = (row for row in given if row[acts.KIND] == acts.ADD)
    return float(sum(WET_PER_CARBON * row[acts.CARBON + FAST] for row in laid))


def edible_kg(state: State) -> Floats:
    """Soft and firm food ``[M, Z]`` [kg, as fresh scraps], as the output ``food_left_kg``."""
    carbon = state.cells.carbon_kg
    return np.asarray(as_fresh(carbon[..., FAST].sum(axis=2), carbon[..., MEDIUM].sum(axis=2)))


def edible_in(given: Sequence[Floats]) -> float:
    """What acts bring of the same [kg]."""
    laid = (row for row in given if row[acts.KIND] == acts.ADD)
    return float(sum(as_fresh(row[acts.CARBON + FAST], row[acts.CARBON + MEDIUM]) for row in laid))


def dry_kg(state: State) -> Floats:
    """Dry matter ``[M, Z]``."""
    organic = (state.cells.carbon_kg * np.array(DRY_PER_CARBON)).sum(axis=(2, 3))
    return np.asarray(organic + state.cells.ash_kg.sum(axis=2))
