"""Run an ensemble of a bed: state, threads, outputs."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.air import AIR_OXYGEN_KG_M3
from bedlore.bed.cells import POOLS, TALLY_NAMES, Air, Cells, Floats, Geometry, Zones
from bedlore.bed.layout import Herd, new_herd
from bedlore.bed.loop import run_compiled
from bedlore.bed.outputs import OUTPUT_NAMES

THREADS = 2
_MOST_BLOCK = 16  # members between two reports of progress


@dataclass
class State:
    """Every array of an ensemble with a leading member axis, and the hour it stands at."""

    cells: Cells
    zones: Zones
    herd: Herd

    @property
    def members(self) -> int:
        """Number of members."""
        return int(self.cells.temp_c.shape[0])

    def copy(self) -> State:
        """A state that shares nothing with this one."""
        return self.pick(np.arange(self.members))

    def part(self, first: int, last: int) -> State:
        """Members ``first`` to ``last - 1``, shared with this state."""
        return State(
            Cells(*(array[first:last] for array in self.cells)),
            Zones(*(array[first:last] for array in self.zones)),
            Herd(*(array[first:last] for array in self.herd)),
        )

    def pick(self, members: NDArray[np.int64]) -> State:
        """The members with these indices, copied; an index may repeat."""
        return State(
            Cells(*(array[members] for array in self.cells)),
            Zones(*(array[members] for array in self.zones)),
            Herd(*(array[members] for array in self.herd)),
        )

    def arrays(self) -> dict[str, Floats]:
        """All arrays by name, for storing."""
        named: dict[str, Floats] = {}
        for prefix, group in (("cells", self.cells), ("zones", self.zones), ("herd", self.herd)):
            for name, array in group._asdict().items():
                named[f"{prefix}.{name}"] = array
        return named

    @classmethod
    def from_arrays(cls, named: Mapping[str, Floats]) -> State:
        """Inverse of :meth:`arrays`; KeyError when one is missing."""

        def group(kind: Any, prefix: str) -> Any:
            return kind(*(np.array(named[f"{prefix}.{name}"]) for name in kind._fields))

        return cls(group(Cells, "cells"), group(Zones, "zones"), group(Herd, "herd"))


def empty_state(members: int, zones: int, cells: int) -> State:
    """A bed with nothing in it; the first acts fill it."""
    shape = (members, zones, cells)

    def nothing() -> Floats:
        return np.zeros(shape)

    one = new_herd(zones, cells)
    state = State(
        Cells(
            temp_c=nothing(), carbon_kg=np.zeros((*shape, POOLS)),
            nitrogen_kg=np.zeros((*shape, POOLS)), ash_kg=nothing(), water_kg=nothing(),
            ammonia_kg=nothing(), nitrate_kg=nothing(), starch_kg=nothing(),
            quality_kg=nothing(), oxygen_kg_m3=np.full(shape, AIR_OXYGEN_KG_M3),
        ),
        Zones(*(np.zeros((members, zones)) for _ in Zones._fields)),
        Herd(*(np.repeat(array[None], members, axis=0) for array in one)),
    )  # fmt: skip
    state.zones.lid_on[:] = 1.0
    return state


@dataclass(frozen=True)
class Run:
    """Outputs of a run: ``values`` ``[M, W, Z, V]``, one window of ``every`` hours each."""

    values: Floats
    every: int
    tally: Floats  # [M, Z, TALLY]
    last: State | None  # at the end, where it was kept

    @property
    def state(self) -> State:
        """The state at the end; ValueError where it was not kept."""
        if self.last is None:
            raise ValueError("the state at the end of this run was not kept")
        return self.last

    def series(self, name: str) -> Floats:
        """One output ``[M, W, Z]`` by its name in ``OUTPUT_NAMES``."""
        return self.values[..., OUTPUT_NAMES.index(name)]

    def total(self, name: str) -> Floats:
        """One tally ``[M, Z]`` by its name in ``TALLY_NAMES``."""
        return self.tally[..., TALLY_NAMES.index(name)]


def simulate(
    geometry: Geometry,
    params: NDArray[np.void],
    state: State,
    air: Air,
    acts: Floats,
    *,
    scale: Floats | None = None,
    hours: int | None = None,
    every: int = 1,
    first_hour: int = 0,
    threads: int = THREADS,
    keep_state: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """Run every member of ``state`` for ``hours`` (default: as long as ``air``).

    ``params`` ``[M]`` (or ``[1]``, shared) records of the parameter table; ``air`` arrays
    ``[W, T]`` dealt to the members in turn; ``acts`` ``[A, ACT_SIZE]`` sorted by hour, ``scale``
    ``[M, A]`` each member's factor on amounts. ``first_hour`` is the hour that ``state`` stands
    at, so that a run in two pieces repeats the whole one. ``state`` is left as it was. The answer
    does not depend on ``threads``. Without ``keep_state`` only a few members' states are held at a
    time. ``progress`` is told (members done, members). ValueError where the weather is too short
    or there are neither as many sets of parameters as members nor one.
    """
    hours = int(air.air_c.shape[1]) if hours is None else hours
    if hours > air.air_c.shape[1]:
        raise ValueError(f"{hours} hours asked, weather for {air.air_c.shape[1]}")
    members = state.members
    if len(params) not in (1, members):
        raise ValueError(f"{len(params)} sets of parameters for {members} members")
    params = np.repeat(params, members) if len(params) == 1 and members > 1 else params
    scale = np.ones((members, len(acts))) if scale is None else scale
    after = state.copy() if keep_state else None
    n_zones = len(geometry.area_m2)
    values = np.zeros((members, max(hours // every, 1), n_zones, len(OUTPUT_NAMES)))
    tally = np.zeros((members, n_zones, len(TALLY_NAMES)))
    air = Air(*(np.ascontiguousarray(array) for array in air))

    # Even a small ensemble gives every thread about the same to do.
    size = max(1, min(_MOST_BLOCK, -(-members // (2 * threads))))

    def block(first: int) -> int:
        last = min(first + size, members)
        mine = state.pick(np.arange(first, last)) if after is None else after.part(first, last)
        run_compiled(0, last - first, geometry, params[first:last], mine.cells, mine.zones,
                     mine.herd, _dealt(air, first, last), acts, scale[first:last], hours, every,
                     values[first:last], tally[first:last], first_hour)  # fmt: skip
        return last - first

    starts = range(0, members, size)
    done = 0
    many = threads > 1 and members > 1
    for count in (_pool(threads, os.getpid()).map if many else map)(block, starts):
        done += count
        if progress:
            progress(done, members)
    return Run(values, every, tally, after)


@cache
def _pool(threads: int, process: int) -> ThreadPoolExecutor:
    """The threads that all runs of a process share; a forked process has none of its parent's."""
    del process
    return ThreadPoolExecutor(threads)


def _dealt(air: Air, first: int, last: int) -> Air:
    """The weather of members ``first`` to ``last - 1``: as views where its rows lie together."""

    def rows(array: Floats) -> Floats:
        begin, count = first % len(array), last - first
        if len(array) == 1 or begin + count <= len(array):
            return array[begin : begin + count]
        return array[np.arange(first, last) % len(array)]

    return Air(*(rows(array) for array in air))
