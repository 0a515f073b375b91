"""One bed brought up to now by itself, in a few members, for what is asked between mornings."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bedlore.decide.case import Case
from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.ahead import WINDOW_D, look_ahead
from bedlore.outlook.twin import Past, Snapshot, bring_up, history_key
from bedlore.say import say
from bedlore.service.belief import NOT_LEARNT, BeliefStore, beliefs_of
from bedlore.service.morning import beds_alive, farm_members, surround, whole_hour
from bedlore.service.surroundings import Recorded, past_of
from bedlore.service.views import OutlookView, outlook_of

FEW = 60  # members: odds to about 6 in 100 at even odds


def case_now(farm: Farm, bed: Bed, log: LogReading, recorded: Recorded, now: dt.datetime,
             snapshot: Snapshot | None, store: BeliefStore | None = None, *,
             days: int = WINDOW_D) -> Case:  # fmt: skip
    """``bed`` at ``now`` in ``FEW`` members, from ``snapshot`` where it holds, with the weather
    of the coming ``days`` as the case's long air.

    The bed is as ``store`` has learnt it, if it has. Raises KeeperError before it began.
    """
    now, params = whole_hour(now), farm_members()
    if bed not in beds_alive(farm, now)[0]:
        raise KeeperError(say("The bed begins on {day}: nothing to say of it yet.",
                              day=bed.started.isoformat()),
                          f"beds.{bed.id}.started")  # fmt: skip
    some = np.linspace(0, len(params) - 1, FEW).round().astype(np.int64)
    around, rests = surround(farm, recorded, params, now), NOT_LEARNT
    if store is not None:
        belief = beliefs_of(farm, [bed], log.current, around, params, store)[bed.id]
        params, around, rests = belief.params, belief.surroundings, belief.rests
        snapshot = belief.snapshot or snapshot
    around = around.of_members(some)
    past = past_of(bed, around, log.current)
    twin = bring_up(past, params[some], now, _of_members(snapshot, past, params, some))
    day = dt.timedelta(days=1)
    return Case(
        twin=replace(twin, doubt=rests.doubt), air=around.air(bed, now, now + WINDOW_D * day),
        air_long=around.air(bed, now, now + max(days, WINDOW_D) * day),
        limits=farm.limits_of(bed), store=farm.store, containers=farm.containers,
        units=farm.preferences.units, entries=tuple(e for e in log.current if e.bed == bed.id),
        zone_info=farm.site.zone_info(),
    )  # fmt: skip


def outlook_now(case: Case) -> OutlookView:
    """The coming hour, which is the bed as it is."""
    return outlook_of(look_ahead(case.twin, case.air, hours=1, every=1), case.twin.bed.id)


def _of_members(snapshot: Snapshot | None, past: Past, params: NDArray[np.void],
                some: NDArray[np.int64]) -> Snapshot | None:  # fmt: skip
    """The state of ``some`` members of a snapshot that still holds for all of them."""
    if snapshot is None or snapshot.state.members != len(params):
        return None
    hour = past.hour_of(snapshot.at)
    if hour <= 0 or snapshot.key != history_key(past, params, hour):
        return None
    return Snapshot(snapshot.at, history_key(past, params[some], hour), snapshot.state.pick(some))
