"""The beds of a farm brought up to one moment, as learnt or as is usual: on all members for what
looks further than a morning (dates, plans, shelter), on few for what is asked between mornings."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Air
from bedlore.bed.loop import model_hash
from bedlore.decide.case import Case
from bedlore.decide.course import HORIZON_D, thinned
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.ahead import WINDOW_D, look_ahead
from bedlore.outlook.twin import Past, Snapshot, bring_up, history_key
from bedlore.service.belief import Belief, BeliefStore, beliefs_of
from bedlore.service.morning import (
    SEED,
    case_around,
    farm_members,
    must_live,
    surround,
    whole_hour,
)
from bedlore.service.surroundings import Recorded, past_of, surroundings_of
from bedlore.service.views import OutlookView, outlook_of

FEW = 60  # members: odds to about 6 in 100 at even odds
FRESH_SEED = SEED + 7919  # weather that nothing was chosen in
FRESH_DRAWS = 5


class StatesKeeping(BeliefStore, Protocol):
    """Keeps states of beds and what was learnt of them."""

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """The stored state of a bed."""
        ...

    def keep_snapshot(self, bed_id: str, snapshot: Snapshot) -> None:
        """Store the state of a bed."""
        ...


class BedsNow:
    """What is asked of ``beds`` of a farm at the hour of ``now``."""

    def __init__(self, farm: Farm, beds: list[Bed], log: LogReading, recorded: Recorded,
                 now: dt.datetime, keeping: StatesKeeping) -> None:  # fmt: skip
        self.farm, self.log, self.recorded, self.now = farm, log, recorded, whole_hour(now)
        self._keeping = keeping
        usual = farm_members()
        around = surround(farm, recorded, usual, self.now)
        self._beliefs: dict[str, Belief] = beliefs_of(farm, beds, log.current, around, usual,
                                                      keeping)  # fmt: skip

    def case(self, bed: Bed) -> Case:
        """A bed with everything to decide about it; its fortnight is not run yet."""
        belief = self._beliefs[bed.id]
        begin = belief.snapshot or self._keeping.snapshot(bed.id)
        case = self._case(bed, belief, begin)
        if case.twin.snapshot is not begin:
            self._keeping.keep_snapshot(bed.id, case.twin.snapshot)
        return case

    def few_case(self, bed: Bed, *, fresh: bool = False) -> Case:
        """The same on ``FEW`` of the members, of which nothing is kept; ``fresh`` begins from no
        kept state. Raises KeeperError before the bed began, and when it was taken down."""
        must_live(self.farm, bed, self.now)
        whole = self._beliefs[bed.id]
        some = np.linspace(0, len(whole.params) - 1, FEW).round().astype(np.int64)
        belief = replace(whole, params=whole.params[some],
                         surroundings=whole.surroundings.of_members(some))  # fmt: skip
        kept = None if fresh else whole.snapshot or self._keeping.snapshot(bed.id)
        past = past_of(bed, belief.surroundings, self.log.current)
        return self._case(bed, belief, _of_members(kept, past, whole.params, some))

    def _case(self, bed: Bed, belief: Belief, begin: Snapshot | None) -> Case:
        around = belief.surroundings
        twin = bring_up(past_of(bed, around, self.log.current), belief.params, self.now, begin)
        twin = replace(twin, doubt=belief.rests.doubt)
        return case_around(self.farm, bed, twin, around, self.log.current)

    def long_case(self, bed: Bed) -> Case:
        """The same on few members, with climate weather for the coming months."""
        case = thinned(self.case(bed))
        return replace(case, air_long=self._air(bed, case.twin.params, HORIZON_D, SEED))

    def fresh_air(self, bed: Bed) -> Air:
        """``FRESH_DRAWS`` other draws of the coming fortnight for every member, one after the
        other ``[draws x M, 14 d]``."""
        params = self._beliefs[bed.id].params
        draws = [self._air(bed, params, WINDOW_D, FRESH_SEED + k) for k in range(FRESH_DRAWS)]
        return Air(*(np.concatenate(arrays) for arrays in zip(*draws, strict=True)))

    def _air(self, bed: Bed, params: NDArray[np.void], days: int, seed: int) -> Air:
        around = surroundings_of(self.farm.site, self.recorded, params, self.now, self.now,
                                 days * 24, seed)  # fmt: skip
        return around.air(bed, self.now, self.now + dt.timedelta(days=days))


def _of_members(snapshot: Snapshot | None, past: Past, params: NDArray[np.void],
                some: NDArray[np.int64]) -> Snapshot | None:  # fmt: skip
    """The state of ``some`` members of a snapshot that still holds for all of them."""
    if snapshot is None or snapshot.state.members != len(params):
        return None
    hour = past.hour_of(snapshot.at)
    if hour <= 0 or snapshot.key != history_key(past, params, hour):
        return None
    return Snapshot(snapshot.at, history_key(past, params[some], hour), snapshot.state.pick(some))


def outlook_now(case: Case) -> OutlookView:
    """The coming hour, which is the bed as it is."""
    return outlook_of(look_ahead(case.twin, case.air, hours=1, every=1), case.twin.bed.id)


def day_key(farm: Farm, bed: Bed, log: LogReading, now: dt.datetime, *asked: object) -> str:
    """Name of everything an answer of the day rests on but the weather of the day."""
    digest = hashlib.sha256(model_hash().encode())
    digest.update(farm.model_dump_json().encode())
    day = now.astimezone(farm.site.zone_info()).date()
    digest.update(f"{bed.id}|{day}|{asked}".encode())
    for entry in log.current:
        if entry.bed == bed.id and entry.at <= now:
            digest.update(entry.model_dump_json().encode())
    return digest.hexdigest()
