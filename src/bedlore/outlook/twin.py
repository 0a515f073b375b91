"""The twin of a bed: an ensemble brought up to now by replaying its log under past weather."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.acts import HOUR
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats, Geometry
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.bed.history import History, history_of
from bedlore.bed.loop import model_hash
from bedlore.facts.parameters import PARAMETERS
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.outlook.doubt import NO_DOUBT, Doubt

MEMBERS = 200
RECENT_D = 42  # how far back the twin keeps its daily outputs
_HOUR = dt.timedelta(hours=1)
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Snapshot:
    """A state stored at a whole hour, good as long as everything before it stays the same."""

    at: dt.datetime
    key: str
    state: State


@dataclass(frozen=True)
class Twin:
    """A bed's ensemble at ``now``.

    ``zone_ids`` names the zone at each position (trays change places). ``recent`` holds daily
    outputs of the last ``RECENT_D`` days at most, ``recent_start`` the time of the first.
    ``doubt`` widens what is told of its future.
    """

    bed: Bed
    geometry: Geometry
    params: NDArray[np.void]
    state: State
    now: dt.datetime
    zone_ids: tuple[str, ...]
    recent: Run
    recent_start: dt.datetime
    snapshot: Snapshot
    notes: tuple[str, ...] = ()
    doubt: Doubt = NO_DOUBT

    @property
    def members(self) -> int:
        """Number of members."""
        return self.state.members


class PastAir(Protocol):
    """The surroundings that a bed had, hour by hour from its start."""

    def between(self, first: int, last: int) -> Air:
        """Surroundings ``[M, last - first]`` of these hours."""
        ...

    def room_c(self, hour: int) -> float:
        """Usual air temperature around the bed at an hour: how warm feed is when it comes."""
        ...

    def key(self, hour: int) -> str:
        """A name that changes when anything before ``hour`` does."""
        ...


@dataclass(frozen=True)
class Past:
    """What a bed went through from ``start`` (a whole hour): its air and its log."""

    bed: Bed
    start: dt.datetime
    air: PastAir
    entries: Sequence[AnyEntry]

    def hour_of(self, when: dt.datetime) -> int:
        """Whole hours from ``start`` to ``when``."""
        return int((when - self.start) / _HOUR)


def bring_up(
    past: Past,
    params: NDArray[np.void],
    now: dt.datetime,
    snapshot: Snapshot | None = None,
    progress: Progress | None = None,
) -> Twin:
    """Replay a bed's log to ``now``, from ``snapshot`` when it still holds.

    A snapshot holds when the description of the bed, the entries and weather before it, the
    parameters and the model are what they were. The twin carries a snapshot for next time.
    """
    geometry = bed_geometry(past.bed)
    history = history_of(past.bed, past.entries, past.start, past.air.room_c)
    acts, factors = history.table(), history.factors(params)
    end = max(past.hour_of(now), 1)
    first, state = 0, empty_state(len(params), len(past.bed.zones), cell_count(past.bed))
    if snapshot is not None and _still_holds(snapshot, past, params, end):
        first, state = past.hour_of(snapshot.at), snapshot.state
    keep_at = _next_snapshot_hour(first, end)
    middle = _segment(geometry, params, state, past.air, acts, factors, first, keep_at, progress)
    kept = snapshot if keep_at == first and snapshot is not None else None
    if kept is None:
        rounded = _as_stored(middle.state)
        kept = Snapshot(
            past.start + keep_at * _HOUR, history_key(past, params, keep_at), rounded
        )
    recent = _segment(geometry, params, kept.state, past.air, acts, factors, keep_at, end,
                      progress)  # fmt: skip
    known = _joined(middle, recent)
    days = recent.values.shape[1] - known.values.shape[1]
    return Twin(
        bed=past.bed, geometry=geometry, params=params, state=recent.state, now=now,
        zone_ids=_zones_in_place(history), recent=known,
        recent_start=past.start + (keep_at + 24 * days) * _HOUR, snapshot=kept,
        notes=tuple(history.notes),
    )  # fmt: skip


def _still_holds(snapshot: Snapshot, past: Past, params: NDArray[np.void], end: int) -> bool:
    hour = past.hour_of(snapshot.at)
    return 0 < hour <= end and snapshot.key == history_key(past, params, hour)


def _next_snapshot_hour(first: int, end: int) -> int:
    """Keep a state a fortnight back, at midnight-to-midnight distance, but not before ``first``.

    Late entries rarely reach back further, and replaying a fortnight is quick.
    """
    if end - first <= 28 * 24:
        return first
    return end - 14 * 24 - (end - first) % 24


def _segment(geometry: Geometry, params: NDArray[np.void], state: State, air: PastAir,
             acts: Floats, factors: Floats, first: int, last: int,
             progress: Progress | None) -> Run:  # fmt: skip
    """Run from hour ``first`` to ``last``; acts of hour 0 belong to a run from the start."""
    due = (acts[:, HOUR] >= first) & (acts[:, HOUR] < last)
    mine = acts[due].copy()
    mine[:, HOUR] -= first
    return simulate(
        geometry, params, state, air.between(first, max(last, first + 1)), mine,
        scale=np.ascontiguousarray(factors[:, due]), hours=last - first, every=24,
        first_hour=first, progress=progress,
    )  # fmt: skip


def _joined(a: Run, b: Run) -> Run:
    """Daily outputs of two runs in a row, the last ``RECENT_D`` days; the rest is let go."""
    whole = [run.values[:, -RECENT_D:] for run in (a, b) if run.tally.size and run.values.any()]
    values = np.concatenate(whole, axis=1) if whole else b.values
    return Run(values[:, -RECENT_D:].copy(), 24, a.tally + b.tally, b.state)


def _as_stored(state: State) -> State:
    """The state as single precision gives it back, so that a resumed run repeats a fresh one."""
    single = {name: array.astype(np.float32) for name, array in state.arrays().items()}
    return State.from_arrays({name: array.astype(np.float64) for name, array in single.items()})


def _zones_in_place(history: History) -> tuple[str, ...]:
    by_place = sorted(history.position.items(), key=lambda item: item[1])
    return tuple(zone for zone, _ in by_place)


def history_key(past: Past, params: NDArray[np.void], hour: int) -> str:
    """Hash of everything that decides the state at ``hour``."""
    until = past.start + hour * _HOUR
    digest = hashlib.sha256(model_hash().encode())
    digest.update(past.bed.model_dump_json(exclude=_LATER).encode())
    for entry in sorted(past.entries, key=lambda e: (e.at, e.id)):
        if entry.at < until and entry.bed == past.bed.id and entry.kind not in _READINGS:
            digest.update(entry.model_dump_json().encode())
    digest.update(past.air.key(hour).encode())
    digest.update(np.ascontiguousarray(params).tobytes())
    digest.update(json.dumps([parameter.name for parameter in PARAMETERS]).encode())
    return digest.hexdigest()


# What says only what comes later, or how the log is read.
_LATER: Any = {"ended": True, "zones": {"__all__": {"added"}}}
# Kinds that change nothing in the bed: a late reading must not cost a new replay.
_READINGS = frozenset({"probe", "squeeze", "look", "core", "sighting", "note", "air", "depth",
                       "moisture", "dig"})  # fmt: skip


def save_snapshot(path: Path, snapshot: Snapshot) -> None:
    """Write a snapshot (compressed, single precision)."""
    arrays = {name: a.astype(np.float32) for name, a in snapshot.state.arrays().items()}
    path.parent.mkdir(parents=True, exist_ok=True)
    about = json.dumps({"at": snapshot.at.isoformat(), "key": snapshot.key})
    temporary = path.with_suffix(".tmp.npz")
    np.savez_compressed(temporary, allow_pickle=False, about=np.array(about), **arrays)
    temporary.replace(path)


def load_snapshot(path: Path) -> Snapshot | None:
    """The snapshot stored at ``path``, or None when there is none that can be read."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            about = json.loads(str(stored["about"]))
            arrays = {n: stored[n].astype(np.float64) for n in stored.files if n != "about"}
        at = dt.datetime.fromisoformat(about["at"])
        return Snapshot(at, about["key"], State.from_arrays(arrays))
    except (OSError, ValueError, KeyError, EOFError, BadZipFile):
        return None
