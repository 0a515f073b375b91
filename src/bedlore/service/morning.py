"""The main job: from a farm's description, log and weather to this morning's advice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.history import start_of
from bedlore.errors import Fault
from bedlore.facts.parameters import draw
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.ahead import WINDOW_D, Ahead, Odds, look_ahead, odds_of
from bedlore.outlook.twin import MEMBERS, RECENT_D, Past, Snapshot, Twin, bring_up
from bedlore.service.surroundings import (
    BedAir,
    Recorded,
    Surroundings,
    earliest,
    surroundings_of,
)
from bedlore.service.views import (
    OutlookView,
    ReadingView,
    Section,
    outlook_of,
    readings_of,
    section_of,
)

HORIZON_D = 90
SEED = 2024
Progress = Callable[[str, int, int], None]
Snapshots = Callable[[str], Snapshot | None]


@dataclass(frozen=True)
class Situation:
    """Everything that a bed's decisions are worked out from."""

    farm: Farm
    bed: Bed
    twin: Twin
    ahead: Ahead
    surroundings: Surroundings
    entries: Sequence[AnyEntry]


@dataclass(frozen=True)
class BedOutlook:
    """A bed now and in the coming fortnight."""

    bed_id: str
    section: Section
    outlook: OutlookView
    odds: Odds
    readings: tuple[ReadingView, ...]
    notes: tuple[str, ...]


def whole_hour(now: dt.datetime) -> dt.datetime:
    """``now`` in UTC, cut to its hour."""
    return now.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)


def beds_alive(farm: Farm, now: dt.datetime) -> tuple[list[Bed], list[Fault]]:
    """Beds that have begun by ``now``, and a remark on each that has not."""
    zone = ZoneInfo(farm.site.time_zone)
    begun, faults = [], []
    for bed in farm.beds:
        if start_of(bed, zone) < whole_hour(now):
            begun.append(bed)
        else:
            sentence = f"The bed begins on {bed.started.isoformat()}: nothing to say of it yet."
            faults.append(Fault(f"beds.{bed.id}.started", sentence))
    return begun, faults


def surround(farm: Farm, recorded: Recorded, params: NDArray[np.void], now: dt.datetime) -> Surroundings:
    """Weather around all beds of the farm from the first start to ``HORIZON_D`` days ahead."""
    zone = ZoneInfo(farm.site.time_zone)
    first = earliest([start_of(bed, zone) for bed in farm.beds])
    return surroundings_of(
        farm.site, recorded, params, min(first, whole_hour(now)), whole_hour(now),
        HORIZON_D * 24, SEED,
    )  # fmt: skip


def members_of(farm: Farm, members: int = MEMBERS) -> NDArray[np.void]:
    """The ensemble of parameters of a farm: one draw for all its beds."""
    return draw(members, SEED)


def situation_of(farm: Farm, bed: Bed, log: LogReading, surroundings: Surroundings,
                 params: NDArray[np.void], snapshot: Snapshot | None,
                 progress: Callable[[int, int], None] | None = None) -> Situation:  # fmt: skip
    """Bring a bed's twin up to now and run it a fortnight ahead."""
    start = start_of(bed, ZoneInfo(farm.site.time_zone))
    entries = log.current
    past = Past(bed, start, BedAir(surroundings, bed, start), entries)
    twin = bring_up(past, params, surroundings.now, snapshot, progress)
    hours = WINDOW_D * 24
    air = surroundings.air(bed, surroundings.now, surroundings.now + dt.timedelta(hours=hours))
    return Situation(farm, bed, twin, look_ahead(twin, air), surroundings, entries)


def outlook_for(situation: Situation) -> BedOutlook:
    """What to show of a bed now and in the coming fortnight."""
    bed = situation.bed
    since = situation.twin.now - dt.timedelta(days=RECENT_D)
    return BedOutlook(
        bed.id, section_of(situation.twin), outlook_of(situation.ahead, bed.id),
        odds_of(situation.ahead, situation.farm.limits_of(bed)),
        readings_of(situation.entries, bed.id, since), situation.twin.notes,
    )  # fmt: skip
