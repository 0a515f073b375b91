"""Whatever the records hold: CSV, JSON Lines and records are the same log."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bedlore.farm.bed import HeatMat
from bedlore.farm.log import ENTRY, ENTRY_KINDS, SIGHTINGS, AnyEntry, current_entries
from bedlore.store.log_reader import read_log
from bedlore.store.log_writer import append_entries, write_entries
from tests.unit.farm.test_bed import FARM

MATERIALS = st.sampled_from(["food_bread", "man_goat_sheep", "bed_corrugated", "food_eggshell"])
IDS = st.from_regex(r"[a-z0-9][a-z0-9_.:+-]{0,12}", fullmatch=True)
MASS = st.floats(0, 5000)
SHARE = st.floats(0, 1)
TEXT = st.text(max_size=40)
TIMES = st.datetimes(
    dt.datetime(2024, 9, 20), dt.datetime(2100, 1, 1), timezones=st.just(dt.UTC)
)
PART = st.fixed_dictionaries(
    {"material": MATERIALS, "mass_kg": MASS},
    optional={"mass_error_frac": st.floats(0, 3), "container": IDS,
              "count": st.floats(0, 10000), "words": TEXT},
)
DEPTH = st.floats(0, 0.4)
ON_OFF = st.sampled_from(["on", "off"])
COUNT = st.integers(0, 1000)
COVER = {"material": st.sampled_from(["hessian", "bed_straw_general"]), "state": st.just("on"),
         "thickness_m": st.floats(0.0005, 1)}
BODIES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "feed": ({"parts": st.lists(PART, min_size=1, max_size=4)},
             {"place": st.sampled_from(["spread", "lump"]), "depth_m": DEPTH}),
    "bedding": ({"parts": st.lists(PART, min_size=1, max_size=4)}, {"depth_m": DEPTH}),
    "water": ({"mass_kg": MASS}, {"mass_error_frac": st.floats(0, 3)}),
    "cover": (COVER, {"lid": ON_OFF}),
    "probe": ({"temp_c": st.floats(-40, 90)},
              {"depth_m": DEPTH, "device": TEXT, "error_k": st.floats(0.01, 20)}),
    "squeeze": ({"word": st.sampled_from(["crumbly", "damp", "drops", "runs"])},
                {"depth_m": DEPTH}),
    "look": ({"food_left": st.sampled_from(["none", "some", "lots"])},
             {"smell": st.sampled_from(["earthy", "sour", "sharp"])}),
    "core": ({"volume_l": st.floats(0.02, 200), "adults": COUNT},
             {"juveniles": COUNT, "hatchlings": COUNT, "worms": COUNT, "cocoons": COUNT,
              "worms_kg": st.floats(0, 100)}),
    "harvest": ({"share": SHARE}, {"mass_kg": MASS, "mass_error_frac": st.floats(0, 3),
                                   "moisture_frac": SHARE, "worms_left_share": SHARE}),
    "move": ({"zone": st.just("race-1"), "to_zone": st.just("bank-2"), "share": SHARE},
             {"worms_kg": st.floats(0, 500), "to_bed": st.just("sluice")}),
    "sighting": ({"what": st.sampled_from(SIGHTINGS)}, {"count": COUNT}),
    "stock": ({"worms_kg": st.floats(-2000, 2000)}, {"worms_error_frac": st.floats(0, 3)}),
    "switch": ({"side": st.sampled_from(["race", "bank"])}, {}),
    "mat": ({"state": ON_OFF}, {"setpoint_c": st.floats(0, 30)}),
    "note": ({}, {}),
    "air": ({"low_c": st.floats(-60, 0)}, {"high_c": st.floats(0, 60), "temp_c": st.floats(-60, 60),
                                          "device": TEXT, "error_k": st.floats(0.01, 20)}),
    "depth": ({"depth_m": DEPTH}, {}),
    "moisture": ({"wet_kg": st.floats(1, 100), "dry_kg": st.floats(0.01, 1)},
                 {"moisture_frac": SHARE, "depth_m": DEPTH}),
    "dig": ({"found": st.sampled_from(["yes", "no"])},
            {"depth_m": DEPTH, "volume_l": st.floats(0.02, 200)}),
    "void": ({"amends": IDS}, {}),
}
MAT = HeatMat(watts=40.0, setpoint_c=12.0)
WARM_FARM = FARM.model_copy(
    update={"beds": tuple(bed.model_copy(update={"heat_mat": MAT}) for bed in FARM.beds)}
)


@st.composite
def entries(draw: st.DrawFn, kind: str) -> AnyEntry:
    needed, optional = BODIES[kind]
    common = {"id": IDS, "at": TIMES, "kind": st.just(kind), "bed": st.just("sluice")}
    more = {"at_error_h": st.floats(0, 8784), "zone": st.sampled_from(["race", "bank-1"]),
            "who": TEXT, "note": TEXT, "amends": IDS}
    optional = {key: value for key, value in {**more, **optional}.items() if key not in needed}
    raw = draw(st.fixed_dictionaries({**common, **needed}, optional=optional))
    if raw.get("amends") == raw["id"]:
        raw["id"] += "1"
    return ENTRY.validate_python(raw)


LOGS = st.lists(
    st.sampled_from(sorted(BODIES)).flatmap(lambda kind: entries(kind=kind)),
    max_size=8, unique_by=lambda entry: entry.id,
)


def test_every_kind_is_drawn() -> None:
    assert set(BODIES) == set(ENTRY_KINDS)


@given(LOGS)
def test_csv_json_lines_and_records_are_one_log(log: list[AnyEntry]) -> None:
    by_time = sorted(log, key=lambda entry: entry.at)
    with TemporaryDirectory() as name:
        for file in ("log.csv", "log.jsonl"):
            path = Path(name) / file
            write_entries(path, log)
            reading = read_log(path, WARM_FARM)
            assert reading.faults == ()
            assert list(reading.entries) == by_time
            # and once more from what was read, into the other encoding
            other = path.with_name("other.jsonl" if file == "log.csv" else "other.csv")
            write_entries(other, reading.entries)
            assert list(read_log(other, WARM_FARM).entries) == by_time


@given(LOGS, st.data())
def test_adding_piece_by_piece_is_writing_at_once(log: list[AnyEntry], data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(log)))
    with TemporaryDirectory() as name:
        for file in ("log.csv", "log.jsonl"):
            whole, pieces = Path(name) / f"whole-{file}", Path(name) / file
            write_entries(whole, log)
            write_entries(pieces, [])
            append_entries(pieces, log[:cut])
            append_entries(pieces, log[cut:])
            assert read_log(pieces, WARM_FARM).entries == read_log(whole, WARM_FARM).entries


@given(LOGS, st.randoms())
def test_what_holds_does_not_depend_on_the_order_of_writing(log: list[AnyEntry], random) -> None:
    shuffled = list(log)
    random.shuffle(shuffled)
    assert current_entries(shuffled) == current_entries(log)
