"""Each process of the hourly step compiled by itself, to see where the time goes."""

# ruff: noqa: ARG001  one signature for all, so that one loop can run any of them

# ruff: noqa: ARG001  (every process takes the same arguments)

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np

from bedlore.bed.cells import TALLY_NAMES, Air, Cells, Floats, Geometry, Work, Zones
from bedlore.bed.decay import decay_zone
from bedlore.bed.heat import exchange_sideways, heat_column
from bedlore.bed.layout import Herd
from bedlore.bed.living import live_zone, wander
from bedlore.bed.loop import (
    new_work,
    one_of_air,
    one_of_cells,
    one_of_herd,
    one_of_zones,
    run_compiled,
)
from bedlore.bed.matter import describe, describe_solids
from bedlore.bed.outputs import OUTPUT_NAMES, note_zone
from bedlore.bed.step import _move_water
from benchmarks.standard_bed import Case, run_case, thread_seconds


def properties(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air, work: Work,
               tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """What describes the cells, before and after decay."""
    describe(p, g, cells, zones, work)
    describe_solids(cells, zones, work)


def decay_and_air(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air,
                  work: Work, tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """Carbon, nitrogen and oxygen."""
    for z in range(zones.active.shape[0]):
        decay_zone(p, g, cells, zones, work, tally, z)


def worms(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air, work: Work,
          tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """Life in every zone and movement between them."""
    for z in range(zones.active.shape[0]):
        live_zone(p, g, cells, work, herd, tally, z, 0.0)
    wander(p, g, work, zones, herd)


def water(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air, work: Work,
          tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """Drainage and capillary flow."""
    _move_water(p, g, cells, zones, work, tally)


def heat(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air, work: Work,
         tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """Conduction, evaporation and exchange between columns."""
    exchange_sideways(g, cells, zones, work, tally)
    for k in range(g.column_start.shape[0]):
        heat_column(p, g, cells, zones, work, tally, k, air.air_c[hour], air.outer_c[hour],
                    air.vapour_kg_m3[hour], air.ground_c[hour])  # fmt: skip


def outputs(p: Any, g: Geometry, cells: Cells, zones: Zones, herd: Herd, air: Air, work: Work,
            tally: Floats, row: Floats, hour: int) -> None:  # fmt: skip
    """One line of outputs for every zone."""
    for z in range(zones.active.shape[0]):
        note_zone(g, cells, zones, herd, work, tally, z, True, row)


PROCESSES = (properties, decay_and_air, worms, water, heat, outputs)


def repeated(process: Callable[..., None]) -> Callable[..., None]:
    """A compiled loop that does nothing but ``process``, for members and hours."""
    compiled = numba.njit(error_model="numpy", _nrt=False)(process)

    @numba.njit(error_model="numpy", _nrt=False)
    def loop(geometry, params, cells, zones, herd, air, hours, tally, row, work):  # type: ignore[no-untyped-def]
        for m in range(cells.temp_c.shape[0]):
            mine = one_of_cells(cells, m)
            my_zones = one_of_zones(zones, m)
            my_herd = one_of_herd(herd, m)
            my_air = one_of_air(air, m)
            describe(params[m], geometry, mine, my_zones, work)
            describe_solids(mine, my_zones, work)
            for hour in range(hours):
                compiled(params[m], geometry, mine, my_zones, my_herd, my_air, work, tally[m], row,
                         hour)  # fmt: skip

    return loop  # type: ignore[no-any-return]


def seconds_of(process: Callable[..., None], case: Case, hours: int = 100) -> float:
    """Processor time [s] of ``process`` alone for an hour of the whole ensemble of ``case``.

    It starts from where the case ends, so that worms and food are where they would be.
    """
    _, _, end = run_case(case, run_compiled)
    loop = repeated(process)
    members, zones, cells = end.cells.temp_c.shape
    tally = np.zeros((members, zones, len(TALLY_NAMES)))
    row = np.zeros(len(OUTPUT_NAMES))
    work = new_work(zones, cells)

    def job(hours: int = hours) -> None:
        state = end.copy()
        loop(case.geometry, case.params, state.cells, state.zones, state.herd, case.air, hours,
             tally, row, work)  # fmt: skip

    job(1)
    return (thread_seconds(job) - thread_seconds(lambda: job(0))) / hours
