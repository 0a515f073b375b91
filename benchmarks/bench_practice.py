"""What does the model say where the trade has a rule of thumb? Reported, never tuned to.

Cold and the herd, the depth of a feed layer, sides left unfed, bedding and stocking, the first
feed. Run: ``python -m benchmarks.bench_practice``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import draw
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.bed import Bed
from bedlore.weather.air import vapour_density_kg_m3
from benchmarks.bench_doubling import put_between_marks
from benchmarks.filing import file_section, table

MEMBERS = 40
SEED = 12
PRACTICE = Path(__file__).parents[1] / "docs" / "practice.md"
MARKS = ("<!-- practice: start -->", "<!-- practice: end -->")
COLD_C = (8.0, 4.0, 2.0, 0.0, -2.0, -4.0, -8.0)
COLD_D = 14
BACK_D = 150
FEED_DENSITY_KG_M3 = 500.0  # mixed kitchen scraps, facts/feedstocks.csv
POUND_A_FOOT_KG_M2 = WEEKLY_SCRAPS_KG_M2  # the same number: a pound for each square foot


def two_sides() -> Bed:
    """A box of 12 mm plywood, 1.2 x 0.6 m, two sides of two quarters each."""
    wood = [{"material": "plywood", "thickness_m": 0.012}]
    return Bed.model_validate({
        "id": "box", "length_m": 1.2, "width_m": 0.6, "depth_m": 0.45, "walls": wood,
        "floor": wood, "place": "indoors", "started": "2024-01-01",
        "zones": [{"id": f"{side}{k}", "side": side} for side in "ab" for k in (1, 2)],
    })  # fmt: skip


def steady(temp_c: float, days: int) -> Air:
    """Damp air of one temperature all day."""
    air_c = np.full((1, days * 24), temp_c)
    return Air(air_c, air_c, vapour_density_kg_m3(air_c, np.full_like(air_c, 0.9)), air_c)


def bedded(stock_kg_m2: float, temp_c: float, bedding: float = 1.0) -> list[Floats]:
    """Bedding (``bedding`` 1 is about 18 cm when laid) and worms in every quarter."""
    stuff, rows = load(), []
    for zone in range(4):
        parts = [(stuff["bed_leaf_mold"], 11.0 * bedding, 0.75),
                 (stuff["bed_corrugated"], 4.0 * bedding, 0.75)]  # fmt: skip
        rows.append(plan.add_material(0, zone, parts, feed=False, temp_c=temp_c))
        rows.append(plan.stock(0, zone, stock_kg_m2 * 0.18))
        rows.append(plan.set_cover(0, zone, 0.03))
    return rows


def fed(zones: tuple[int, ...], day: float, kg_each: float, temp_c: float) -> list[Floats]:
    """Scraps with a tenth of card on each of ``zones``."""
    stuff = load()
    parts = [(stuff["food_mixed_kitchen"], kg_each, None),
             (stuff["bed_corrugated"], 0.1 * kg_each, None)]  # fmt: skip
    return [plan.add_material(int(day * 24), z, parts, temp_c=temp_c) for z in zones]


def run(rows: list[Floats], air: Air, state: State | None = None) -> Run:
    """The standard ensemble through ``air``."""
    bed = two_sides()
    start = state or empty_state(MEMBERS, 4, cell_count(bed))
    return simulate(bed_geometry(bed), draw(MEMBERS, SEED), start, air, plan.in_order(rows),
                    every=24)  # fmt: skip


def weekly(zones: tuple[int, ...], days: int, temp_c: float, kg_m2: float) -> list[Floats]:
    """The area rule's ration on ``zones`` every week."""
    rows: list[Floats] = []
    for day in range(0, days, 7):
        rows += fed(zones, day, kg_m2 * 0.18, temp_c)
    return rows


def band(values: Floats, digits: int = 0) -> str:
    """Median with the 5 and 95 % quantiles."""
    low, mid, high = np.quantile(values, (0.05, 0.5, 0.95))
    return f"{mid:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def cold_rows() -> list[list[str]]:
    """A fortnight with the whole bed at one temperature, then spring."""
    days, at_c = 60, 16.0
    grown = run(bedded(2.0, at_c) + weekly((0, 1, 2, 3), days, at_c, 0.5 * WEEKLY_SCRAPS_KG_M2),
                steady(at_c, days))  # fmt: skip
    before = grown.series("worms_kg")[:, -1].sum(axis=1)
    cocoons_before = grown.series("cocoons_n")[:, -1].sum(axis=1)
    rows = []
    for temp_c in COLD_C:
        state = grown.state.copy()
        state.cells.temp_c[:] = temp_c
        after = run([], steady(temp_c, COLD_D), state)
        worms = after.series("worms_kg")[:, -1].sum(axis=1)
        cocoons = after.series("cocoons_n")[:, -1].sum(axis=1)
        warm = weekly((0, 1, 2, 3), BACK_D, 18.0, 0.5 * WEEKLY_SCRAPS_KG_M2)
        back = run(warm, steady(18.0, BACK_D), after.state)
        again = back.series("worms_kg")[:, -1].sum(axis=1)
        rows.append([
            f"{temp_c:g}", band(100 * worms / before), band(100 * cocoons / cocoons_before),
            band(100 * again / before),
        ])  # fmt: skip
    return rows


def layer_rows() -> list[list[str]]:
    """One layer of scraps of some depth: how fast it goes, how warm and sour it gets."""
    rows = []
    for temp_c, depths in ((18.0, (0.025, 0.038)), (5.0, (0.025, 0.038, 0.076, 0.10))):
        settled = run(bedded(2.0, temp_c), steady(temp_c, 14))
        bare = run([], steady(temp_c, 42), settled.state)
        for depth_m in depths:
            kg = depth_m * 0.18 * FEED_DENSITY_KG_M3
            given = fed((0, 1, 2, 3), 0.0, kg, temp_c)
            after = run(given, steady(temp_c, 42), settled.state)
            food = after.series("food_left_kg").sum(axis=2)
            food = food - bare.series("food_left_kg").sum(axis=2)
            gone = np.where((food < 0.5 * food[:, :1]).any(axis=1),
                            (food < 0.5 * food[:, :1]).argmax(axis=1) + 1.0, np.inf)  # fmt: skip
            lift = after.series("temp_warmest_c").max(axis=(1, 2)) - temp_c
            sour = after.series("sour_index").max(axis=(1, 2))
            shown = f"{np.median(gone):.0f}" if np.isfinite(np.median(gone)) else "over 42"
            rows.append([f"{temp_c:g}", f"{depth_m * 100:g}", f"{4 * kg:.0f}", shown,
                         band(lift, 1), band(sour, 1)])  # fmt: skip
    return rows


def unfed_rows() -> list[list[str]]:
    """One side fed, the other left: worms still in it."""
    rows = []
    for temp_c in (12.0, 15.0, 18.0, 20.0):
        start = weekly((0, 1), 60, temp_c, 0.5 * WEEKLY_SCRAPS_KG_M2)
        grown = run(bedded(1.5, temp_c) + start, steady(temp_c, 60))
        before = grown.series("worms_kg")[:, -1, :2].sum(axis=1)
        other = run(weekly((2, 3), 120, temp_c, 0.5 * WEEKLY_SCRAPS_KG_M2),
                    steady(temp_c, 120), grown.state)  # fmt: skip
        left = other.series("worms_kg")[:, :, :2].sum(axis=2)
        number = (other.series("adults_n") + other.series("juveniles_n"))[:, :, :2].sum(axis=2)
        rows.append([f"{temp_c:g}",
                     *(band(100 * left[:, day - 1] / before) for day in (21, 75, 105)),
                     band(number[:, 104])])  # fmt: skip
    return rows


def start_rows() -> list[list[str]]:
    """Bedding and stocking by the rule, fed by the area rule: the herd after half a year."""
    rows = []
    for name, depth, stocked in (("rule: 18 cm, 1 lb/ft2", 1.0, POUND_A_FOOT_KG_M2),
                                 ("half the worms", 1.0, 0.5 * POUND_A_FOOT_KG_M2),
                                 ("half the bedding", 0.5, POUND_A_FOOT_KG_M2)):  # fmt: skip
        given = bedded(stocked, 16.0, depth) + weekly((0, 1, 2, 3), 180, 16.0, WEEKLY_SCRAPS_KG_M2)
        grown = run(given, steady(16.0, 180))
        herd = grown.series("worms_kg").sum(axis=2) / 0.72
        food = grown.series("food_left_kg").sum(axis=2)
        rows.append([name, f"{stocked:.1f}", *(band(herd[:, day - 1], 1) for day in (30, 90, 180)),
                     band(food[:, -1], 1)])  # fmt: skip
    return rows


def first_feed_rows() -> list[list[str]]:
    """A quart of scraps on a new bed, then nothing for two weeks."""
    quart_kg = 0.946 * FEED_DENSITY_KG_M3 / 1000.0
    rows = []
    for temp_c in (8.0, 12.0, 18.0):
        bare = run(bedded(2.0, temp_c), steady(temp_c, 21))
        given = fed((0,), 7.0, quart_kg, temp_c)
        after = run(bedded(2.0, temp_c) + given, steady(temp_c, 21))
        food = (after.series("food_left_kg") - bare.series("food_left_kg")).sum(axis=2)
        rows.append([f"{temp_c:g}", band(100 * (1 - food[:, 13] / food[:, 7])),
                     band(100 * (1 - food[:, 20] / food[:, 7]))])  # fmt: skip
    return rows


def main() -> str:
    """All tables, filed under their question."""
    parts = (
        ("Cold. 4 degC in the bed is the level of concern (county public works FAQ and EDW04 table"
         " 18.3, read); freezing costs worms while cocoons may live and bring the herd back"
         " (newspaper science column and other species, read; *E. fetida* from memory). The whole"
         f" bed held at one temperature for {COLD_D} days, then {BACK_D} days fed at 18 degC; share"
         " of what was there before, %.",
         ("bed degC", "worms alive, %", "cocoons alive, %", "herd after spring, % of before"),
         cold_rows()),
        ("Feed layer. 2.5-3.8 cm, the next when it is gone; 7.6-10 cm in the cold to hold heat (NC"
         " State extension specialist, read). One layer over the whole of a bed with 2 kg/m2 of"
         " worms under 3 cm of dry cover.",
         ("air degC", "layer cm", "scraps kg", "days till half is gone", "warmest above air, K",
          "sourness index, worst (limit 3)"), layer_rows()),
        ("Sides. Swapped every 2-3 months; about a dozen worms left after 3-4 months unfed (city"
         " composting programme, read). One side fed for 60 days, then only the other; worm mass"
         " still in the first, % of what it held, and juveniles and adults at day 105.",
         ("degC", "day 21, %", "day 75, %", "day 105, %", "worms left, number"), unfed_rows()),
        ("Start. 15-20 cm of bedding and 1 lb/ft2 of worms (NC State extension specialist, read),"
         " fed by the area rule at 16 degC. Live worms, kg/m2.",
         ("start", "stocked", "day 30", "day 90", "day 180", "food left at day 180, kg"),
         start_rows()),
        ("First feed. About one quart, then two weeks' wait (public sheet, issuer not shown, read)."
         " On a bed of 0.72 m2, a week old; share of it gone, %.",
         ("degC", "after 1 week", "after 2 weeks"), first_feed_rows()),
    )  # fmt: skip
    body = "\n\n".join(f"{text}\n\n{table(heads, rows)}" for text, heads, rows in parts)
    body += f"\n\n{MEMBERS} members; medians with the 5 and 95 % quantiles."
    file_section("Practice figures", body)
    put_between_marks(PRACTICE, body, MARKS)
    return body


if __name__ == "__main__":
    print(main())
