"""One log line with the farm at hand: what is understood, what is said, what is kept aside."""

from __future__ import annotations

import datetime as dt

import pytest

from bedlore.farm.interpret import Interpreter, Understood
from bedlore.farm.log import Feed, Move, Probe
from tests.unit.farm.test_bed import FARM

NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
BASE = {"at": "2025-01-11 07:30", "bed": "sluice"}


def read(**raw: object) -> Understood:
    return Interpreter(FARM, NOW).read({**BASE, **raw}, "log.csv line 7")


def test_a_feed_on_one_line() -> None:
    words = "about half a blue bucket"
    found = read(kind="Feed", zone="race", material="cafe bucket", amount=words)
    assert isinstance(found.entry, Feed)
    (part,) = found.entry.parts
    assert (part.material, part.container, part.count) == ("food_veg_trimmings", "blue-bucket", 0.5)
    assert part.words == words
    assert found.entry.zone == "race"
    assert found.entry.at == dt.datetime(2025, 1, 11, 6, 30, tzinfo=dt.UTC)
    assert found.faults == found.remarks == ()


@pytest.mark.parametrize(
    ("amount", "mass_kg"),
    [({"mass_lb": "2"}, 0.90718474), ({"mass": "2 lb"}, 0.90718474), ({"mass_kg": "2"}, 2.0),
     ({"container": "flour scoop", "count": "about two", "mass_kg": 1.1}, 1.1)],
)
def test_masses_many_ways(amount: dict, mass_kg: float) -> None:
    entry = read(kind="feed", material="bread", **amount).entry
    assert isinstance(entry, Feed)
    assert entry.parts[0].mass_kg == pytest.approx(mass_kg, rel=1e-12)


def test_several_parts() -> None:
    entry = read(kind="feed", parts=[{"material": "bread", "mass_kg": 1},
                                     {"material": "dry card", "amount": "a handful"}]).entry
    assert isinstance(entry, Feed)
    assert [part.material for part in entry.parts] == ["food_bread", "bed_corrugated"]


def test_a_container_and_a_count_are_enough() -> None:
    entry = read(kind="feed", material="bread", container="flour scoop", count="about two").entry
    assert isinstance(entry, Feed)
    assert (entry.parts[0].container, entry.parts[0].count) == ("flour-scoop", 2.0)
    assert entry.parts[0].mass_error_frac > 0.25


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ({"kind": "probe", "temp_c": 400}, "temp_c", "400"),
        ({"kind": "prob", "temp_c": 4}, "kind", '"probe"'),
        ({"temp_c": 4}, "kind", "missing"),
        ({"kind": "note", "bed": "slucie"}, "bed", '"sluice"'),
        ({"kind": "note", "bed": None}, "bed", "Which bed"),
        ({"kind": "note", "at": None}, "at", "missing"),
        ({"kind": "note", "at": "soon"}, "at", "not understood"),
        ({"kind": "note", "at": "2024-07-01"}, "at", "before bed sluice was started"),
        ({"kind": "note", "at": "2062-07-01"}, "at", "still to come"),
        ({"kind": "feed", "material": "cofee", "mass_kg": 1}, "material", '"coffee"'),
        ({"kind": "feed", "material": "bread", "amount": "3 zogs"}, "amount", "container"),
        ({"kind": "feed", "material": "bread"}, "mass_kg", "missing"),
        ({"kind": "switch", "side": "roof"}, "side", "no zone 'roof'"),
        ({"kind": "move", "zone": "race-1", "to_zone": "roof", "share": 1}, "to_zone", "roof"),
        ({"kind": "move", "bed": "ladder", "order": "tray-1 tray-9"}, "order", "tray-9"),
        ({"kind": "move", "bed": "ladder", "order": "tray-2 tray-1"}, "order", "leaves out"),
        ({"kind": "mat", "bed": "weir", "state": "on"}, "kind", "no heat mat"),
        ({"kind": "squeeze", "word": "damp", "dpeth": 3}, "dpeth", '"depth'),
    ],
)
def test_what_contradicts_is_said_and_kept_aside(raw: dict, field: str, words: str) -> None:
    found = read(**raw)
    assert found.entry is None
    by_path = {fault.path: fault.sentence for fault in found.faults}
    assert words in by_path[f"log.csv line 7 {field}"]


def test_every_fault_of_a_line_at_once() -> None:
    found = read(kind="feed", bed="slucie", at="soon", material="cofee", amount="3 zogs", depth=3)
    paths = {fault.path.removeprefix("log.csv line 7 ") for fault in found.faults}
    assert paths == {"bed", "at", "material", "amount", "depth_m"}


def test_an_unknown_zone_counts_for_the_whole_bed_and_is_said() -> None:
    found = read(kind="feed", zone="rice", material="bread", mass_kg=1)
    assert isinstance(found.entry, Feed)
    assert found.entry.zone is None
    assert '"race"' in found.remarks[0].sentence


def test_a_depth_below_the_bed_is_remarked() -> None:
    found = read(kind="probe", temp_c=5, depth="60 cm")
    assert isinstance(found.entry, Probe)
    assert "deeper" in found.remarks[0].sentence


def test_trays_in_a_new_order() -> None:
    found = read(kind="move", bed="ladder", order="tray-2, tray-1 tray-3 tray-4 tray-5")
    assert isinstance(found.entry, Move)
    assert found.entry.order[:2] == ("tray-2", "tray-1")


def test_a_late_entry_keeps_its_error() -> None:
    entry = read(kind="note", at="2025-01-11", note="x").entry
    assert entry is not None
    assert entry.at_error_h == 12.0
    entry = read(kind="note", at="2025-01-11", at_error_h=3, note="x").entry
    assert entry is not None
    assert entry.at_error_h == 3.0


def test_ids_are_made_and_stay_the_same() -> None:
    one, two, other = read(kind="note", note="a"), read(kind="note", note="a"), read(kind="note")
    made = [found.entry.id for found in (one, two, other) if found.entry is not None]
    assert made[0] == made[1] != made[2]


def test_a_farm_with_one_bed_needs_no_bed_named() -> None:
    farm = FARM.model_copy(update={"beds": FARM.beds[:1]})
    entry = Interpreter(farm).read({"kind": "note", "at": "2025-01-11"}).entry
    assert entry is not None
    assert entry.bed == "sluice"


def test_an_order_of_trays_from_before_a_tray_was_added_leaves_it_on_top() -> None:
    ladder = FARM.bed("ladder")
    assert ladder is not None
    names = [zone.id for zone in ladder.zones]
    new = ladder.zones[0].model_copy(update={"id": "new", "added": dt.date(2025, 6, 1)})
    trays = (new, *ladder.zones)
    farm = FARM.model_copy(update={"beds": (FARM.beds[0], ladder.model_copy(
        update={"zones": trays}), *FARM.beds[2:])})  # fmt: skip
    said = {"kind": "move", "bed": "ladder", "order": " ".join(names)}
    before = Interpreter(farm, NOW).read({**said, "at": "2025-05-01 08:00"}).entry
    assert isinstance(before, Move)
    assert before.order == ("new", *names)
    after = Interpreter(farm, NOW).read({**said, "at": "2025-07-01 08:00"})
    assert "leaves out new" in after.faults[0].sentence
