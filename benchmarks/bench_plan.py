"""What a fortnight's plan costs: plans tried, seconds, and what they are tried on, for each bed.

The invented farm, three beds brought up to its own moment; each plan is made from nothing kept, in
this process, after the loop is compiled. Run: ``python -m benchmarks.bench_plan``.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bedlore.bed.cells import Air
from bedlore.cli.options import worked_on
from bedlore.decide.case import Case
from bedlore.decide.plan import plan_of
from bedlore.decide.plan_records import Plan
from bedlore.decide.plan_search import Effort, try_plan
from bedlore.demo import write_demo
from bedlore.service.beds_now import BedsNow
from benchmarks.bench_loop import ns_per_cell_hour
from benchmarks.filing import file_section, table
from benchmarks.standard_bed import standard_case

AIM_S, AIM_PLANS = 10.0, 300  # on two cores that do nothing else


@dataclass(frozen=True)
class Made:
    """A bed's plan, and what it took by the clock and of both processors [s]."""

    bed: str
    plan: Plan
    clock_s: float
    processors_s: float


def beds_of(folder: Path) -> list[tuple[str, Case, Air]]:
    """The beds of the farm in ``folder``, with weather that their cases have not seen."""
    with worked_on(folder, "", "") as asked:
        work = BedsNow(asked.farm, list(asked.farm.beds), asked.log, asked.recorded, asked.now,
                       asked.keeping)  # fmt: skip
        return [(bed.name, work.case(bed), work.fresh_air(bed)) for bed in asked.farm.beds]


def made(folder: Path) -> Iterator[Made]:
    """The plan of every bed, timed alone."""
    beds = beds_of(folder)
    try_plan(beds[0][1], ())  # what is compiled or read once is no part of a plan
    for name, case, fresh_air in beds:
        clock, used = time.perf_counter(), time.process_time()
        plan = plan_of(case, fresh_air)
        yield Made(name, plan, time.perf_counter() - clock, time.process_time() - used)


def told(plans: list[Made], loop_ns: float) -> str:
    """The section to file."""
    effort = Effort()
    rows = [(m.bed, m.plan.tried, f"{m.clock_s:.1f}", f"{m.processors_s:.1f}",
             f"{1e3 * m.processors_s / m.plan.tried:.0f}") for m in plans]  # fmt: skip
    heads = ("bed", "plans tried", "clock [s]", "processors [s]", "processors a plan [ms]")
    return (
        f"The invented farm. Aim: from at least {AIM_PLANS} plans in {AIM_S:g} s on two cores that"
        f" do nothing else. All plans on {effort.few} members, the best {effort.kept_some} on"
        f" {effort.some}, the best {effort.kept_many} on {plans[0].plan.members} and"
        f" {effort.after} of them to day 90, the winner, its rival and leaving the bed alone on"
        f" {plans[0].plan.fresh} fresh futures; worths of parts and readings included. Load while"
        f" measured: {os.getloadavg()[0]:.0f}; half of the processors' time is the least that two"
        f" can take. The loop took {loop_ns:.0f} ns a cell-hour meanwhile (see The loop for what it"
        f" takes on idle cores).\n\n{table(heads, rows)}"
    )


def main() -> None:
    """Measures and files."""
    with tempfile.TemporaryDirectory() as root:
        folder = Path(root) / "farm"
        write_demo(folder)
        plans = list(made(folder))
    body = told(plans, ns_per_cell_hour(standard_case())[0])
    file_section("The fortnight's plan", body)
    print(body)


if __name__ == "__main__":
    main()
