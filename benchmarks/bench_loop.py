"""How fast is the compiled loop, where does its time go, and how does it grow?

Processor time of one thread and ratios within one run; nothing here passes or fails by the clock.
A bed without worms still asks what each of its zones would offer them, so "without worms" holds a
little of their cost; "process alone" repeats one process on the state at the end of the run.
Run: ``python -m benchmarks.bench_loop`` (``--year`` adds 1,000 members for a year).
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from bedlore.bed.engine import simulate
from bedlore.bed.loop import run_compiled
from benchmarks.filing import file_section, table
from benchmarks.numpy_model import VectorBed
from benchmarks.processes import PROCESSES, seconds_of
from benchmarks.standard_bed import (
    Case,
    least_seconds,
    outdoor_air,
    run_case,
    standard_case,
)

HOURS = 336
MEMBERS = 200
ROUNDS = 6  # the least of so many is told: others use the machine too


def ns_per_cell_hour(*cases: Case) -> list[float]:
    """Processor time of one thread for a cell and hour of each case [ns], measured in turn."""
    jobs = [lambda c=case: run_case(c, run_compiled) for case in cases]  # type: ignore[misc]
    seconds = least_seconds(jobs, 2 * ROUNDS)
    return [1e9 * s / case.cell_hours for s, case in zip(seconds, cases, strict=True)]


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
    """The same equations in vectorised NumPy, with and without worms: time, memory, agreement."""
    rows = []
    for worms in (False, True):
        what = "with worms" if worms else "without worms"
        case = settled(worms)
        vector = VectorBed(case.geometry, case.params, case.state, case.air, worms=worms)
        vector.run(case.hours)
        _, _, end = run_case(case, run_compiled, case.hours)
        exact = end.cells.temp_c.reshape(-1, end.cells.temp_c.shape[2]).T
        gap_k = np.abs(vector.temp_c - exact).max()
        numpy_s, loop_s = least_seconds([
            lambda v=vector, h=case.hours: v.run(h),  # type: ignore[misc]
            lambda c=case: run_case(c, run_compiled, c.hours),  # type: ignore[misc]
        ], ROUNDS)
        one, two = walls_of(case)
        gain = one / two
        rows += [
            [f"{what}: largest difference after {case.hours} h, K",
             f"{gap_k:.0e}"],
            [f"{what}: NumPy, ns a cell-hour", f"{1e9 * numpy_s / case.cell_hours:.0f}"],
            [f"{what}: NumPy over loop, one thread", f"{numpy_s / loop_s:.2f}"],
            [f"{what}: loop on two threads over one (wall)", f"{gain:.2f}"],
            [f"{what}: NumPy over loop on two threads", f"{numpy_s / loop_s * gain:.2f}"],
        ]  # fmt: skip
    return rows + memory(case)


def memory(case: Case) -> list[list[str]]:
    """Most memory of three hours, from a state that is left as it was, as a plan is tried: hundreds
    of others start from it too."""

    def loop(keep_state: bool) -> object:
        return simulate(case.geometry, case.params, case.state, case.air, case.acts, hours=3,
                        every=3, keep_state=keep_state)  # fmt: skip

    start_mb = sum(array.nbytes for array in case.state.arrays().values()) / 1e6
    numpy_mb = peak_mb(lambda: VectorBed(case.geometry, case.params, case.state, case.air).run(3))
    bare_mb, whole_mb = (peak_mb(lambda keep=keep: loop(keep)) for keep in (False, True))  # type: ignore[misc]
    return [
        ["the state that both start from, MB", f"{start_mb:.1f}"],
        ["most memory beyond it, NumPy and loop, MB", f"{numpy_mb:.1f} and {bare_mb:.2f}"],
        ["most memory with it, loop over NumPy",
         f"{(start_mb + bare_mb) / (start_mb + numpy_mb):.2f}"],
        ["most memory beyond it, loop over NumPy", f"{bare_mb / numpy_mb:.2f}"],
        ["the same where the loop gives the state at the end too", f"{whole_mb / numpy_mb:.2f}"],
    ]  # fmt: skip


def settled(worms: bool) -> Case:
    """The standard bed after two weeks of feeding, left alone before its cells are next tidied."""
    fed = standard_case(MEMBERS, hours=HOURS, worms=worms)
    _, _, state = run_case(fed, run_compiled, HOURS)
    return Case(fed.geometry, fed.params, state, outdoor_air(23, 12.0, 3), fed.acts[:0], 23)


def peak_mb(job: Callable[[], object]) -> float:
    """Most memory that arrays took while ``job`` ran [MB]."""
    tracemalloc.start()
    job()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def walls_of(case: Case) -> tuple[float, float]:
    """Least wall time [s] of ``case`` in halves on one thread and on two."""
    half = case.params.shape[0] // 2

    def part(first: int) -> None:
        sub = Case(case.geometry, case.params[first : first + half],
                   case.state.pick(np.arange(first, first + half)), case.air, case.acts,
                   case.hours)  # fmt: skip
        run_case(sub, run_compiled)

    best = {1: float("inf"), 2: float("inf")}
    for _ in range(ROUNDS):
        for threads in best:
            start = time.perf_counter()
            with ThreadPoolExecutor(threads) as pool:
                list(pool.map(part, (0, half)))
            best[threads] = min(best[threads], time.perf_counter() - start)
    return best[1], best[2]


def growth() -> list[list[str]]:
    """Exponent of the cost in members, cells and hours; 1 is linear.

    Zones that hold food cost more than others, so that zones fed in turn, of which in a larger bed
    fewer have had their turn, do not show how the cost grows with size alone.
    """
    sizes = {
        "members": [standard_case(m, hours=96) for m in (50, 100, 200, 400)],
        "zones of 12 cells, all kept alike": [
            standard_case(60, z, hours=HOURS, in_turn=False) for z in (2, 4, 8, 16)
        ],
        "zones of 12 cells, fed in turn": [
            standard_case(60, z, hours=HOURS) for z in (2, 4, 8, 16)
        ],
        "cells of a zone (a part is by the zone)": [
            standard_case(60, cells=c, hours=96, worms=False) for c in (6, 12, 24, 48)
        ],
        "hours": [standard_case(60, hours=h) for h in (96, 192, 384, 768)],
    }
    rows = []
    for name, cases in sizes.items():
        cost = least_seconds([lambda c=c: run_case(c, run_compiled) for c in cases], ROUNDS)  # type: ignore[misc]
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
    with_worms, without = ns_per_cell_hour(full, bare)
    zone_share = full.state.cells.temp_c.shape[2]
    speed = [
        ["with worms and hourly outputs, ns a cell-hour", f"{with_worms:.0f}"],
        ["without worms", f"{without:.0f}"],
        ["what worms add, ns a zone-hour", f"{(with_worms - without) * zone_share:.0f}"],
        ["all in, against 120 a cell-hour and 400 a zone-hour",
         f"{with_worms / (120.0 + 400.0 / zone_share):.2f}"],
    ]  # fmt: skip
    if with_year:
        speed += a_year()
    body = "\n\n".join((
        f"{MEMBERS} members, 4 zones of 12 cells, {HOURS} h; processor time of one thread.\n\n"
        + table(("loop", "figure"), speed),
        table(("process alone", "ns a cell-hour", "ns a zone-hour"), parts_of_an_hour(full)),
        table(("against vectorised NumPy", "figure"), against_numpy()),
        table(("cost grows with", "exponent"), growth()),
    ))  # fmt: skip
    file_section("The loop", body)
    print(body)


if __name__ == "__main__":
    main("--year" in sys.argv)
