"""Any bytes at all: records or sentences, never another exception, and no line lost."""

from __future__ import annotations

import json
import tomllib
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bedlore.errors import KeeperError
from bedlore.farm.load import dump_farm, farm_of, load_farm, parse_farm
from bedlore.store.log_format import COLUMNS, csv_line, header_line
from bedlore.store.log_reader import read_log
from bedlore.store.log_writer import append_entries
from tests.unit.farm.test_bed import FARM
from tests.unit.farm.test_log import entry

DEMO = files("bedlore.demo").joinpath("farm.toml").read_bytes()
GOOD_LOGS = {
    "log.csv": header_line().encode() + b"a,2025-01-12T08:00Z,0,probe,sluice,race-1,,,,,,,,,,,0.1,"
    b",,,6.5,probe,0.5,,,,,,,,,,,,,,,,,,,,,cold\n",
    "log.jsonl": b'{"id":"a","at":"2025-01-12T08:00Z","kind":"feed","bed":"sluice","parts":'
    b'[{"material":"bread","amount":"half a bucket"}]}\n',
}

SCALARS = (
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
    | st.sampled_from(["24 in", "-3 kg", "400 degC", "9 m", "1e400 kg", "sluice", "race", "bread",
                       "2025-10-26 02:30", "9999-12-31", "half a bucket", "-0", "\ud800", "\x00"])
)
JSON = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(COLUMNS) | st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)


def read_log_bytes(name: str, data: bytes) -> None:
    """Reads ``data`` as a log; checks that nothing is lost and that what is said can be shown."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        reading = read_log(path, FARM)
        assert path.read_bytes() == data
        for fault in (*reading.faults, *reading.notes):
            assert fault.path
            assert fault.sentence
            str(fault).encode("utf-8")
        for line in reading.kept_aside:
            line.raw.encode("utf-8")
        assert bool(reading.kept_aside) <= bool(reading.faults)
        if name.endswith("jsonl"):
            append_entries(path, [entry("probe", "new-one")])
            assert path.read_bytes().startswith(data)
            after = read_log(path, FARM)
            assert "new-one" in [found.id for found in after.entries]


def read_farm_bytes(data: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "farm.toml"
        path.write_bytes(data)
        try:
            farm = load_farm(path)
        except KeeperError as problem:
            said = str(problem)
        else:
            assert parse_farm(dump_farm(farm)) == farm
            return
    assert said.encode("utf-8")


@given(st.binary(max_size=400), st.sampled_from(["log.csv", "log.jsonl"]))
def test_any_bytes_as_a_log(data: bytes, name: str) -> None:
    read_log_bytes(name, data)


@given(st.sampled_from(sorted(GOOD_LOGS)), st.data())
def test_a_log_damaged_anywhere(name: str, data: st.DataObject) -> None:
    good = GOOD_LOGS[name] * 2 if name.endswith("jsonl") else GOOD_LOGS[name]
    start = data.draw(st.integers(0, len(good)))
    end = data.draw(st.integers(start, len(good)))
    read_log_bytes(name, good[:start] + data.draw(st.binary(max_size=12)) + good[end:])


@given(st.dictionaries(st.sampled_from(COLUMNS) | st.just("parts"), JSON, max_size=8))
def test_any_object_as_an_entry(raw: dict[str, Any]) -> None:
    filled = {"kind": "feed", "at": "2025-01-12", "bed": "sluice", **raw}
    for candidate in (raw, filled):
        read_log_bytes("log.jsonl", json.dumps(candidate).encode("utf-8", "replace") + b"\n")


@given(st.dictionaries(
    st.sampled_from(COLUMNS),
    st.text(st.characters(codec="utf-8"), max_size=12)
    | st.sampled_from(["sluice", "feed", "probe", "move", "a", "+", "2025-01-12", "3", "some"]),
    max_size=10,
))
def test_any_cells_as_a_row(cells: dict[str, str]) -> None:
    rows = [csv_line(cells, COLUMNS), csv_line({**cells, "id": "+"}, COLUMNS)]
    read_log_bytes("log.csv", (header_line() + "".join(rows)).encode("utf-8"))


@given(st.binary(max_size=300))
def test_any_bytes_as_a_farm(data: bytes) -> None:
    read_farm_bytes(data)


@given(st.data())
def test_a_farm_file_damaged_anywhere(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(DEMO)))
    end = data.draw(st.integers(start, min(len(DEMO), start + 60)))
    read_farm_bytes(DEMO[:start] + data.draw(st.binary(max_size=12)) + DEMO[end:])


def spots(value: Any, path: tuple = ()) -> list[tuple]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) \
        if isinstance(value, list) else ()
    return [path, *(spot for key, item in inner for spot in spots(item, (*path, key)))]


RAW = tomllib.loads(DEMO.decode("utf-8"))
SPOTS = [spot for spot in spots(RAW) if spot]


@given(st.sampled_from(SPOTS), JSON)
def test_any_value_anywhere_in_a_farm(spot: tuple, value: Any) -> None:
    raw = tomllib.loads(DEMO.decode("utf-8"))
    here: Any = raw
    for step in spot[:-1]:
        here = here[step]
    here[spot[-1]] = value
    try:
        farm = farm_of(raw)
    except KeeperError as problem:
        said = str(problem)
    else:
        assert parse_farm(dump_farm(farm)) == farm
        return
    assert said.encode("utf-8", "backslashreplace")
