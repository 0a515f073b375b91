"""How long does a what-if take, from the question to the page's answer?

The invented farm's largest bed, on the state its morning kept a fortnight and, at worst, four
weeks ago. Run: ``python -m benchmarks.bench_what_if``.
"""

from __future__ import annotations

import datetime as dt
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bedlore.bed.history import start_of
from bedlore.bed.warm import compile_loop
from bedlore.demo import write_demo
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.twin import Past, Snapshot, bring_up, history_key
from bedlore.service.morning import farm_members, surround, whole_hour
from bedlore.service.surroundings import BedAir, Recorded
from bedlore.service.what_if import MEMBERS, Start, read_change, start_what_if, what_if
from bedlore.service.what_if_told import what_if_account
from bedlore.sheets.futures import Shape, futures_svg
from bedlore.store.files import FarmFolder
from bedlore.store.keepsakes import Keepsakes
from bedlore.store.weather_files import recorded_weather
from bedlore.wiring import moment_in
from benchmarks.filing import file_section, table

REPEATS = 5
AIM_S = 2.0
CHANGES: dict[str, dict[str, str]] = {
    "feed": {"feed": "half a blue bucket"},
    "cover off": {"cover": "off"},
    "5 cm of foam": {"foam_walls_m": "5 cm", "foam_lid_m": "5 cm"},
    "heat mat of 60 W": {"mat": "on", "mat_watts": "60 W", "mat_setpoint_c": "12 degC"},
}


@dataclass(frozen=True)
class World:
    """A bed of the invented farm, and everything that a what-if about it rests on."""

    farm: Farm
    bed: Bed
    log: LogReading
    recorded: Recorded
    now: dt.datetime
    keeping: Keepsakes

    def start(self) -> Start:
        """The bed brought up to now from the state that is kept."""
        return start_what_if(self.farm, self.bed, self.log, self.recorded, self.now, self.keeping)

    def states(self) -> dict[int, Snapshot]:
        """What a morning may have kept, by age [d]: a fortnight old, and the oldest there is."""
        params = farm_members()
        around = surround(self.farm, self.recorded, params, self.now)
        start = start_of(self.bed, self.farm.site.zone_info())
        past = Past(self.bed, start, BedAir(around, self.bed, start), self.log.current)
        found: dict[int, Snapshot] = {}
        for days in (28, 14):
            at = self.now - dt.timedelta(days=days)
            twin = bring_up(past, params, at, found.get(28))
            found[days] = Snapshot(at, history_key(past, params, past.hour_of(at)), twin.state)
        return found


def world(folder: Path) -> World:
    """The invented farm's first bed."""
    write_demo(folder)
    store = FarmFolder(folder)
    farm, now = store.load_farm(), whole_hour(moment_in(folder))
    log = store.read_log(farm, now)
    return World(farm, farm.beds[0], log, recorded_weather(folder, farm.site), now,
                 Keepsakes(folder))  # fmt: skip


def answer(start: Start, raw: dict[str, str]) -> None:
    """Both futures, told and drawn as the page does."""
    found = what_if(start, read_change(raw, start.farm, start.bed))
    account = what_if_account(found, start.farm)
    for name in ("temp_probe_c", "temp_coldest_c", "temp_warmest_c", "moisture_frac"):
        for width in (334, 460):
            futures_svg(account, Shape(name, name, float), width, f"{name}-{width}")


def seconds(work: Callable[[], object]) -> tuple[str, str]:
    """Medians of a few goes: by the clock, and of both processors together [s]."""
    clock, busy = [], []
    for _ in range(REPEATS):
        begun, ran = time.perf_counter(), time.process_time()
        work()
        clock.append(time.perf_counter() - begun)
        busy.append(time.process_time() - ran)
    return f"{statistics.median(clock):.2f}", f"{statistics.median(busy):.2f}"


def main() -> None:
    """Measures and files."""
    compile_loop()
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        bed = world(Path(folder) / "farm")
        for days, kept in bed.states().items():
            bed.keeping.keep_snapshot(bed.bed.id, kept)
            for words, raw in CHANGES.items():
                first = seconds(lambda raw=raw: answer(bed.start(), raw))
                start = bed.start()
                answer(start, raw)  # works out the future as it is
                again = seconds(lambda start=start, raw=raw: answer(start, raw))
                rows.append((f"{words}, state {days} d old", *first, *again))
    heads = ("change", "first: clock [s]", "processors [s]", "another: clock [s]",
             "processors [s]")  # fmt: skip
    load = os.getloadavg()[0]
    body = (
        f"Both futures of a bed on {MEMBERS} members, with its words and eight pictures; the loop"
        f" is compiled. Aim: {AIM_S:g} s on two cores that do nothing else; half of the processors'"
        f" time is the least that two can take. Load while measured: {load:.0f}. The first question"
        " about a bed brings its state up to now; what comes after runs one future."
        f"\n\n{table(heads, rows)}"
    )
    file_section("A what-if", body)
    print(body)


if __name__ == "__main__":
    main()
