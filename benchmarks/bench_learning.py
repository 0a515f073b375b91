"""How long does a bed take to learn, a new reading to be taken in, and the long run?

The bed of the issue: 90 days, 4 zones of 12 cells, 200 members, four steps of the smoother. The
machine may be shared, so processor time stands beside the clock; half of it is what two idle
cores would need. Run: ``python -m benchmarks.bench_learning`` (``--long`` adds the long run).
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar
from unittest.mock import patch

from bedlore.farm import log
from bedlore.learn import correct
from bedlore.learn.calibrate import calibrate, refresh
from bedlore.outlook.twin import MEMBERS
from benchmarks.filing import file_section, table
from tests.twin_world import HOUR, make_world

DAYS, PER_FORTNIGHT, CORES = 90, 10, 6
LIMITS_S = {"learning": 10.0, "warm update": 2.5, "long run": 90.0}
T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[T, float, float]:
    """What ``work`` gives, its time by the clock and of the processor [s]."""
    wall, cpu = time.perf_counter(), resource.getrusage(resource.RUSAGE_SELF).ru_utime
    found = work()
    used = resource.getrusage(resource.RUSAGE_SELF).ru_utime - cpu
    return found, time.perf_counter() - wall, used


def main(long_run: bool = False) -> None:
    """Measure and file."""
    world = make_world(1, days=DAYS, per_fortnight=PER_FORTNIGHT, cores=CORES, cells24=False)
    lesson = world.lesson(MEMBERS)
    calibrate([world.lesson(4)])  # the loop is compiled before anything is timed
    learnt, *first = timed(lambda: calibrate([lesson])[world.bed.id])
    reading = log.Probe(id="new", at=world.now - 5 * HOUR, bed=world.bed.id, zone="z0",
                        temp_c=10.0, depth_m=0.1, device="stick")  # fmt: skip
    fresh = replace(world, entries=(*world.entries, reading)).lesson(MEMBERS)
    updated, *warm = timed(lambda: refresh(learnt, fresh))
    assert updated is not None
    assert updated.read[-1] == "new"
    rows = [("learning", *first), ("warm update", *warm)]
    if long_run:
        with patch.object(correct, "KHAT_LIMIT", -10.0):  # no weights are trusted
            long, *whole = timed(lambda: calibrate([lesson], thorough=True))
        assert long[world.bed.id].method == "particles"
        rows.append(("long run", whole[0] - first[0], whole[1] - first[1]))
    told = [[name, f"{wall:.1f}", f"{cpu:.1f}", f"{cpu / 2:.1f}", f"{LIMITS_S[name]:g}"]
            for name, wall, cpu in rows]  # fmt: skip
    file_section(
        "Learning: time",
        f"{DAYS} days, 48 cells, {MEMBERS} members, {len(lesson.readings)} readings.\n\n"
        + table(["what", "clock s", "processor s", "half of it", "asked"], told),
    )
    print(table(["what", "clock s", "processor s", "half of it", "asked"], told))


if __name__ == "__main__":
    main("--long" in sys.argv)
