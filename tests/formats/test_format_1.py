"""Released files keep loading and keep their meaning. The files in data/ are never edited."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from bedlore.farm.load import load_farm, parse_farm
from bedlore.store.files import FarmFolder
from bedlore.store.log_format import entry_to_dict
from bedlore.store.log_reader import read_log
from tests.unit.farm.test_bed import FARM

DATA = Path(__file__).parent / "data" / "format-1"
DOCS = Path(__file__).parents[2] / "docs" / "formats"


def test_the_farm_means_what_it_meant() -> None:
    farm = load_farm(DATA / "farm.toml")
    frozen = json.loads((DATA / "farm.json").read_text("utf-8"))
    found = json.loads(farm.model_dump_json())
    for key, value in _leaves(frozen):
        # What has no name has since been called as its material was typed.
        said = "walnut leaf" if key == ("store", 1, "name") else value
        assert _same(_at(found, key), said), key


def test_the_log_means_what_it_meant() -> None:
    folder = FarmFolder(DATA)
    reading = folder.read_log(folder.load_farm())
    entries = [entry_to_dict(entry) for entry in reading.entries]
    # entries.jsonl is what this log was read as when the format was released
    lines = (DATA / "entries.jsonl").read_text("utf-8").splitlines()
    frozen = [json.loads(line) for line in lines]
    assert reading.faults == ()
    assert [entry["id"] for entry in entries] == [entry["id"] for entry in frozen]
    for entry, before in zip(entries, frozen, strict=True):
        for key, value in _leaves(before):
            by_volume = entry["id"] == "j1" and key[:2] == ("parts", 1)  # follows the density table
            tolerance = 1.0 if by_volume else 1e-12
            assert _same(_at(entry, key), value, tolerance), (entry["id"], key)


def test_what_was_written_as_entries_reads_back_alike() -> None:
    folder = FarmFolder(DATA)
    farm = folder.load_farm()
    assert read_log(DATA / "entries.jsonl", farm).entries == folder.read_log(farm).entries


def _same(found: Any, before: Any, tolerance: float = 1e-12) -> bool:
    if isinstance(before, float):
        return bool(found == pytest.approx(before, rel=tolerance))
    return bool(found == before)


def _leaves(value: Any, path: tuple = ()) -> list[tuple[tuple, Any]]:
    if isinstance(value, dict):
        return [leaf for key, item in value.items() for leaf in _leaves(item, (*path, key))]
    if isinstance(value, list):
        return [leaf for key, item in enumerate(value) for leaf in _leaves(item, (*path, key))]
    return [(path, value)]


def _at(value: Any, path: tuple) -> Any:
    for step in path:
        value = value[step]
    return value


def _blocks(page: str, language: str) -> list[str]:
    text = (DOCS / page).read_text("utf-8")
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def test_the_examples_in_the_docs_load(tmp_path: Path) -> None:
    assert parse_farm(_blocks("farm.md", "toml")[0]).beds[0].id == "sluice"
    for page, language, name in (("log.md", "csv", "log.csv"), ("log.md", "json", "log.jsonl")):
        (block,) = _blocks(page, language)
        path = tmp_path / name
        path.write_text(block, "utf-8")
        reading = read_log(path, FARM)
        assert reading.faults == reading.notes == ()
        assert reading.entries[0].id == "f1"
        assert len(reading.entries) >= 2
