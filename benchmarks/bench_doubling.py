"""What does doubling the feed do? Bare, covered and foamed, winter and summer, day 7, 14 and 60.

A bed of 1.2 x 0.6 m is fed by the area rule (1 lb/ft2 a week, NC State Extension) for 60 days in
the season's air; then one copy goes on so and its twin gets double. Paired member by member.
Run: ``python -m benchmarks.bench_doubling``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, empty_state, simulate
from bedlore.decide.score import band
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import draw
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.bed import Bed
from bedlore.weather.air import vapour_density_kg_m3
from benchmarks.filing import file_section, table

MEMBERS = 40
SEED = 11
SETTLE_D = 60
LOOKED_AT_D = (7, 14, 60)
SEASONS = {"winter": 0.0, "summer": 22.0}  # mean air [degC]; a day swings 3 K either way
SWING_K = 3.0
PRACTICE = Path(__file__).parents[1] / "docs" / "practice.md"
MARKS = ("<!-- doubling: start -->", "<!-- doubling: end -->")
KINDS = ("bare", "covered", "foamed")
FOAM = [{"material": "extruded_polystyrene", "thickness_m": 0.05}]
WOOD = [{"material": "plywood", "thickness_m": 0.012}]


def bed_of(kind: str) -> Bed:
    """Two sides on legs: 12 mm plywood, or 5 cm foam all round under a tight lid."""
    foamed = kind == "foamed"
    layers = FOAM if foamed else WOOD
    return Bed.model_validate({
        "id": kind, "length_m": 1.2, "width_m": 0.6, "depth_m": 0.45, "walls": layers,
        "floor": layers, "lid": layers if foamed else [], "lid_sealed": foamed,
        "place": "indoors", "started": dt.date(2024, 1, 1),
        "zones": [{"id": "a", "side": "a"}, {"id": "b", "side": "b"}],
    })  # fmt: skip


def season(mean_c: float, days: int) -> Air:
    """Steady weather with a day's swing at 80 % humidity."""
    hour = np.arange(days * 24)
    air_c = (mean_c - SWING_K * np.cos(2.0 * np.pi * (hour - 4.0) / 24.0))[None]
    vapour = vapour_density_kg_m3(air_c, np.full_like(air_c, 0.8))
    return Air(air_c, air_c, vapour, np.full_like(air_c, mean_c))


def rations(bed: Bed, times: float, days: int) -> list[Floats]:
    """The week's ration in two meals, a side each, with a tenth of dry card."""
    week_kg = times * WEEKLY_SCRAPS_KG_M2 * bed.area_m2
    stuff = load()
    rows = []
    for week in range(days // 7 + 1):
        for zone, day in ((0, 0.0), (1, 3.5)):
            parts = [(stuff["food_mixed_kitchen"], 0.5 * week_kg, None),
                     (stuff["bed_corrugated"], 0.05 * week_kg, None)]  # fmt: skip
            rows.append(plan.add_material(int(24 * (7 * week + day)), zone, parts))
    return rows


def start_rows(kind: str) -> list[Floats]:
    """Bedding 18 cm deep, 1 lb/ft2 of worms, and the cover."""
    stuff, rows = load(), []
    for zone in (0, 1):
        parts = [(stuff["bed_leaf_mold"], 22.0, 0.75), (stuff["bed_corrugated"], 8.0, 0.75)]
        rows.append(plan.add_material(0, zone, parts, feed=False))
        rows.append(plan.stock(0, zone, 0.5 * WEEKLY_SCRAPS_KG_M2 * 0.72))
        rows.append(plan.set_cover(0, zone, 0.05 if kind == "covered" else 0.0))
    return rows


def branches(kind: str, mean_c: float) -> tuple[Run, Run]:
    """Sixty days after settling: the ration, and double."""
    bed = bed_of(kind)
    geometry, params = bed_geometry(bed), draw(MEMBERS, SEED)
    air = season(mean_c, SETTLE_D)
    settled = simulate(
        geometry, params, empty_state(MEMBERS, 2, cell_count(bed)), air,
        plan.in_order(start_rows(kind) + rations(bed, 1.0, SETTLE_D)), every=24,
    )  # fmt: skip
    once, twice = (
        simulate(geometry, params, settled.state, air,
                 plan.in_order(rations(bed, times, SETTLE_D)), every=24)
        for times in (1.0, 2.0)
    )  # fmt: skip
    return once, twice


def rows_of(name: str, kind: str, once: Run, twice: Run) -> Iterator[list[str]]:
    """One row a day looked at: bed mean, gain, warmest and coldest places, food left."""
    mean = [run.series("temp_mean_c").mean(axis=2) for run in (once, twice)]
    cold = [run.series("temp_coldest_c").min(axis=2) for run in (once, twice)]
    warm = [run.series("temp_warmest_c").max(axis=2) for run in (once, twice)]
    food = [run.series("food_left_kg").sum(axis=2) for run in (once, twice)]
    worms = [run.series("worms_kg").sum(axis=2) for run in (once, twice)]
    for day in LOOKED_AT_D:
        i = day - 1
        low, mid, high = band(mean[1][:, i] - mean[0][:, i])
        yield [
            name, kind, str(day), f"{np.median(mean[0][:, i]):.1f}",
            f"{mid:+.1f} ({low:+.1f} to {high:+.1f})",
            f"{np.median(cold[1][:, i] - cold[0][:, i]):+.1f}",
            f"{np.median(warm[1][:, i] - warm[0][:, i]):+.1f}",
            f"{np.median(food[0][:, i]):.1f}", f"{np.median(food[1][:, i]):.1f}",
            f"{np.median(worms[0][:, i]):.2f}", f"{np.median(worms[1][:, i]):.2f}",
        ]  # fmt: skip


HEADS = ("season", "bed", "day", "mean degC, ration", "gain from double, K (5-95 %)",
         "coldest place, K", "warmest place, K", "food left kg, ration", "food left kg, double",
         "worms kg, ration", "worms kg, double")  # fmt: skip


def main() -> str:
    """The table, filed under its question."""
    rows = []
    for name, mean_c in SEASONS.items():
        for kind in KINDS:
            rows += list(rows_of(name, kind, *branches(kind, mean_c)))
    body = (
        "1.2 x 0.6 m, 60 days settled on 1 lb/ft2 of scraps a week (3.5 kg), then the same or"
        f" double. Air {SEASONS['winter']:g} degC in winter, {SEASONS['summer']:g} degC in summer,"
        f" a day swings {SWING_K:g} K either way. {MEMBERS} members, medians; coldest and warmest"
        " are of the places where worms live.\n\n" + table(HEADS, rows)
    )
    file_section("Doubling the feed", body)
    put_between_marks(PRACTICE, body)
    return body


def put_between_marks(page: Path, body: str, marks: tuple[str, str] = MARKS) -> None:
    """Replace what stands between the two marks of a page."""
    head, rest = page.read_text("utf-8").split(marks[0], 1)
    tail = rest.split(marks[1], 1)[1]
    page.write_text(f"{head}{marks[0]}\n\n{body}\n\n{marks[1]}{tail}", "utf-8")


if __name__ == "__main__":
    print(main())
