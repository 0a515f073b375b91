"""How fast is the compiled loop, where does its time go, and how does it grow?

Processor time of one thread and ratios within one run; nothing here passes or fails by the clock.
Run: ``python -m benchmarks.bench_loop`` (``--year`` adds 1,000 members for a year).
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from bedlore.bed.cells import Air
from bedlore.bed.engine import simulate
from bedlore.bed.loop import run_compiled
from benchmarks.filing import file_section, table
from benchmarks.numpy_model import VectorBed
from benchmarks.processes import PROCESSES, seconds_of
from benchmarks.standard_bed import Case, run_case, standard_case, thread_seconds

HOURS = 336
MEMBERS = 200


def ns_per_cell_hour(case: Case, every: int = 1) -> float:
    """Processor time of one thread for a cell and hour [ns]."""
    return 1e9 * thread_seconds(lambda: run_case(case, run_compiled, every)) / case.cell_hours


def parts_of_an_hour(case: Case) -> list[list[str]]:
    """Each process alone, in the state at the end of the run."""
    per_hour = int(np.prod(case.state.cells.temp_c.shape))
    zone_hours = case.state.cells.temp_c.shape[0] * case.state.cells.temp_c.shape[1]
    rows = []
    for process in PROCESSES:
        seconds = seconds_of(process, case)
        rows.append([process.__name__.replace("_", " "), f"{1e9 * seconds / per_hour:.0f}",
                     f"{1e9 * seconds / zone_hours:.0f}"])  # fmt: skip
    return rows


def against_numpy() -> list[list[str]]:
    """The same equations without worms in vectorised NumPy: time on one thread, and memory."""
    case = standard_case(MEMBERS, hours=73, worms=False, feed=False)
    started = run_case(standard_case(MEMBERS, hours=1, worms=False, feed=False), run_compiled)[2]
    late = Air(*(array[:, 1:] for array in case.air))
    vector = VectorBed(case.geometry, case.params, started, late)
    numpy_s = thread_seconds(lambda: vector.run(72), repeats=1)
    loop = thread_seconds(lambda: run_case(case, run_compiled, 73)) * 72 / 73
    gap = np.abs(vector.temp_c - run_case(case, run_compiled)[2].cells.temp_c.reshape(-1, 12).T)
    two = wall_of(case, 1) / wall_of(case, 2)
    peaks = [peak_mb(job) for job in (
        lambda: VectorBed(case.geometry, case.params, started, late).run(3),
        lambda: simulate(case.geometry, case.params, started, late, case.acts[:0], hours=3,
                         every=3),
    )]  # fmt: skip
    return [
        ["largest difference after 72 h, K", f"{gap.max():.1e}"],
        ["NumPy over loop, one thread", f"{numpy_s / loop:.1f}"],
        ["loop on two threads over one (wall)", f"{two:.2f}"],
        ["NumPy over loop on two threads", f"{numpy_s / loop * two:.1f}"],
        ["working memory, loop over NumPy (states included)", f"{peaks[1] / peaks[0]:.2f}"],
    ]


def peak_mb(job: Callable[[], object]) -> float:
    """Most memory that arrays took while ``job`` ran [MB]."""
    tracemalloc.start()
    job()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def wall_of(case: Case, threads: int) -> float:
    """Wall time [s] of ``case`` in halves on ``threads``."""
    half = case.params.shape[0] // 2

    def part(first: int) -> None:
        sub = Case(case.geometry, case.params[first : first + half],
                   case.state.pick(np.arange(first, first + half)), case.air, case.acts,
                   case.hours)  # fmt: skip
        run_case(sub, run_compiled)

    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(part, (0, half)))
        best = min(best, time.perf_counter() - start)
    return best


def growth() -> list[list[str]]:
    """Exponent of the cost in members, cells and hours; 1 is linear."""
    sizes = {
        "members": [standard_case(m, hours=96) for m in (50, 100, 200, 400)],
        "cells": [standard_case(60, cells=c, hours=96, worms=False) for c in (6, 12, 24, 48)],
        "hours": [standard_case(60, hours=h) for h in (96, 192, 384, 768)],
    }
    rows = []
    for name, cases in sizes.items():
        cost = [thread_seconds(lambda c=c: run_case(c, run_compiled)) for c in cases]  # type: ignore[misc]
        work = [case.cell_hours for case in cases]
        rows.append([name, f"{np.polyfit(np.log(work), np.log(cost), 1)[0]:.2f}"])
    return rows


def a_year() -> list[list[str]]:
    """1,000 members, 48 cells, a year, daily outputs, two threads."""
    case = standard_case(1000, hours=8760)
    start = time.perf_counter()
    simulate(case.geometry, case.params, case.state, case.air, case.acts, every=24, threads=2)
    wall_s = time.perf_counter() - start
    return [["1,000 members x 1 year x 48 cells, two threads, s", f"{wall_s:.0f}"]]


def main(with_year: bool) -> None:
    """Every table, filed."""
    full, bare = standard_case(), standard_case(worms=False)
    run_case(bare, run_compiled)
    with_worms, without = ns_per_cell_hour(full), ns_per_cell_hour(bare)
    zone_share = full.state.cells.temp_c.shape[2]
    speed = [
        ["with worms and hourly outputs, ns a cell-hour", f"{with_worms:.0f}"],
        ["without worms", f"{without:.0f}"],
        ["what worms add, ns a zone-hour", f"{(with_worms - without) * zone_share:.0f}"],
    ]
    if with_year:
        speed += a_year()
    body = "\n\n".join((
        f"{MEMBERS} members, 4 zones of 12 cells, {HOURS} h; processor time of one thread.\n\n"
        + table(("loop", "figure"), speed),
        table(("process alone", "ns a cell-hour", "ns a zone-hour"), parts_of_an_hour(full)),
        table(("against vectorised NumPy (no worms)", "figure"), against_numpy()),
        table(("cost grows with", "exponent"), growth()),
    ))  # fmt: skip
    file_section("The loop", body)
    print(body)


if __name__ == "__main__":
    main("--year" in sys.argv)
