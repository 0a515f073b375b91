"""What a morning costs: time, memory, and hours of members run, by what they are run for.

The invented farm, three beds: as its first morning is asked for (on a new machine too, where the
loop is compiled in it), asked again, after another entry,
on the next day, and worked out anew. Run: ``python -m benchmarks.bench_today``.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

from bedlore.bed.engine import Run, simulate
from bedlore.decide import harm, lifeboat
from bedlore.demo import write_demo
from bedlore.farm.log import Probe
from bedlore.learn import forward
from bedlore.outlook import ahead, twin
from bedlore.store.files import FarmFolder
from bedlore.wiring import moment_in, morning_in
from benchmarks.filing import file_section, table

AIM_S = 8.0  # after a change, on two cores that do nothing else
AIM_UNCHANGED_S = 2.5
AIM_UNCHANGED_MB = 400
# What members are run for, by the function that asks for it; the innermost one counts.
PURPOSES = {
    "bring_up": "states up to now, all members",
    "situation_of": "the fortnight with nothing done, all members",
    "_screen": "candidates, 16 members",
    "_future": "the best, rivals and foam, half of the members",
    "_run_on": "what could win, to day 90, 14 members",
    "_whole": "the winner, the other half",
    "holding": "what could hold a bed, 16 members",
    "find_card": "the if-you-find card, 12 members",
    "lifeboat_of": "boxes of the lifeboat, 16 members",
    "harms_of": "hours to harm, 64 members",
    "early_signs": "early signs, 60 members",
    "cells_of": "cells for the pictures, 8 members",
}
_ASKING: tuple[Any, ...] = (ahead, twin, harm, lifeboat, forward)


@dataclass(frozen=True)
class Cost:
    """Of one call of the command: by the clock and of both processors [s], and memory [MB]."""

    clock_s: float
    processors_s: float
    memory_mb: float


def cost_of(*words: str, cache: str = "") -> Cost:
    """``bedlore`` with these words, in a process of its own; RuntimeError when it fails.

    ``cache`` is the folder that holds the compiled loop ("": the one in use).
    """
    environment = {**os.environ, "BEDLORE_CACHE": cache} if cache else os.environ
    begun = time.perf_counter()
    child = os.posix_spawn(
        sys.executable, [sys.executable, "-m", "bedlore", *words], environment,
        file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)],
    )  # fmt: skip
    _, status, used = os.wait4(child, 0)
    if status:
        raise RuntimeError(f"bedlore {' '.join(words)} failed")
    kib = used.ru_maxrss / (1024 if sys.platform == "darwin" else 1)
    return Cost(time.perf_counter() - begun, used.ru_utime + used.ru_stime, kib * 1024 / 1e6)


@contextmanager
def counted() -> Iterator[Counter[str]]:
    """Member-hours run meanwhile, by purpose."""
    hours: Counter[str] = Counter()
    def counting(*args: Any, **more: Any) -> Run:
        run = simulate(*args, **more)
        asked = more.get("hours") or args[3].air_c.shape[1]
        hours[_purpose(sys._getframe(1))] += asked * run.state.members
        return run

    for module in _ASKING:
        module.simulate = counting
    try:
        yield hours
    finally:
        for module in _ASKING:
            module.simulate = simulate


def _purpose(frame: FrameType | None) -> str:
    while frame is not None:
        if frame.f_code.co_name in PURPOSES:
            return PURPOSES[frame.f_code.co_name]
        frame = frame.f_back
    return "other"


def log_reading(folder: Path) -> None:
    """Another line of the log: a thermometer read half an hour ago."""
    at = moment_in(folder) - dt.timedelta(minutes=30)
    store = FarmFolder(folder)
    bed = store.load_farm().beds[0].id
    store.append([Probe(id=f"bench-{at.isoformat()}", at=at, bed=bed, temp_c=5.5)])


def member_hours(folder: Path) -> Counter[str]:
    """Of a morning after another entry."""
    log_reading(folder)
    with counted() as hours:
        morning_in(folder)
    return hours


def first_ever(folder: Path) -> Cost:
    """The first morning on a machine that never ran bedlore: the loop is compiled in it."""
    with tempfile.TemporaryDirectory() as empty:
        return cost_of("today", str(folder), cache=empty)


def costs(folder: Path) -> Iterator[tuple[str, Cost]]:
    """Mornings of the farm in ``folder``, one after the other."""
    tomorrow = (moment_in(folder) + dt.timedelta(days=1)).isoformat()
    yield "the first", cost_of("today", str(folder))
    yield "asked again, nothing changed", cost_of("today", str(folder))
    log_reading(folder)
    yield "after another entry", cost_of("today", str(folder))
    yield "the next day", cost_of("today", str(folder), "--at", tomorrow)
    yield "anew from the first day (`--fresh`)", cost_of("today", str(folder), "--fresh")


def told(hours: Counter[str], found: Sequence[tuple[str, Cost]]) -> str:
    """The section to file."""
    times = [(name, f"{c.clock_s:.1f}", f"{c.processors_s:.1f}", round(c.memory_mb))
             for name, c in found]  # fmt: skip
    parts = [(name, f"{count:,}") for name, count in hours.most_common()]
    parts.append(("together", f"{hours.total():,}"))
    heads = ("morning", "clock [s]", "processors [s]", "memory [MB]")
    return (
        "The invented farm, three beds. Aims on two cores that do nothing else:"
        f" {AIM_S:g} s after a change, {AIM_UNCHANGED_S:g} s and {AIM_UNCHANGED_MB} MB when nothing"
        f" changed. Load while measured: {os.getloadavg()[0]:.0f}; half of the processors' time is"
        f" the least that two can take.\n\n{table(heads, times)}"
        "\n\nHours of members run after another entry:\n\n"
        f"{table(('for', 'member-hours'), parts)}"
    )


def main() -> None:
    """Measures and files."""
    with tempfile.TemporaryDirectory() as root:
        timed, apart, new = (Path(root) / name for name in ("timed", "counted", "new"))
        for folder in (timed, apart, new):
            write_demo(folder)
        cost_of("today", str(apart))  # compiles the loop where it is not
        # Timed first: a process is told its parent's peak of memory where that is more.
        found = [("the first on a new machine, the loop compiled in it", first_ever(new)),
                 *costs(timed)]  # fmt: skip
        body = told(member_hours(apart), found)
    file_section("Today", body)
    print(body)


if __name__ == "__main__":
    main()
