"""A farm kept as files in a folder."""

from __future__ import annotations

import multiprocessing
from pathlib import Path

import pytest

from bedlore.errors import KeeperError
from bedlore.service.ports import FarmStore, LogStore
from bedlore.store import durable
from bedlore.store.durable import append_bytes, replace_file
from bedlore.store.files import FarmFolder
from tests.unit.farm.test_bed import FARM
from tests.unit.farm.test_log import entry


@pytest.fixture
def folder(tmp_path: Path) -> FarmFolder:
    found = FarmFolder(tmp_path)
    found.save_farm(FARM)
    return found


def test_it_serves_both_ports(folder: FarmFolder) -> None:
    farms: FarmStore = folder
    logs: LogStore = folder
    assert farms.load_farm() == FARM
    logs.append([entry("feed", "a")])
    assert [found.id for found in logs.read_log(FARM).entries] == ["a"]


def test_saving_keeps_the_file_before(folder: FarmFolder) -> None:
    before = folder.farm_path.read_bytes()
    folder.save_farm(FARM.model_copy(update={"name": "Other"}))
    assert folder.load_farm().name == "Other"
    assert (folder.folder / "farm.toml.before").read_bytes() == before


def test_nothing_there(tmp_path: Path) -> None:
    with pytest.raises(KeeperError, match="no such folder"):
        FarmFolder(tmp_path / "x").load_farm()
    with pytest.raises(KeeperError, match=r"no farm\.toml"):
        FarmFolder(tmp_path).load_farm()
    assert FarmFolder(tmp_path).read_log(FARM).entries == ()


def test_all_log_files_are_read_together(folder: FarmFolder) -> None:
    folder.append([entry("feed", "a")])
    (folder.folder / "log-2024.csv").write_text(
        "id,at,kind,bed,note\nb,2024-12-01,note,sluice,x\na,2024-12-02,note,sluice,y\n", "utf-8"
    )
    (folder.folder / "log.txt").write_text("not a log", "utf-8")
    reading = folder.read_log(FARM)
    assert {found.id for found in reading.entries} == {"a", "b"}
    assert len(reading.faults) == 1


def test_what_has_no_column_goes_to_another_file(folder: FarmFolder) -> None:
    path = folder.folder / "log.csv"
    path.write_text("id,at,at_error_h,kind,bed,note\n", "utf-8")
    folder.append([entry("note", "a")])
    folder.append([entry("probe", "b")])
    assert len(path.read_text("utf-8").splitlines()) == 2
    assert {found.id for found in folder.read_log(FARM).entries} == {"a", "b"}


def _write_many(folder: Path, who: int) -> None:
    for number in range(25):
        FarmFolder(folder).append([entry("note", f"w{who}-{number}", note=f"{who} {number}")])


def test_writers_at_one_time_lose_nothing(folder: FarmFolder) -> None:
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_write_many, args=(folder.folder, i)) for i in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    reading = folder.read_log(FARM)
    assert len(reading.entries) == 75
    assert reading.faults == ()


def test_a_locked_farm_is_a_sentence(folder: FarmFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(durable, "LOCK_WAIT_S", 0.05)
    with (
        durable.locked(folder.folder),
        pytest.raises(KeeperError, match="Another program"),
        durable.locked(folder.folder),
    ):
        pass


def test_a_failed_write_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.jsonl"
    append_bytes(path, b"first\n")

    def full_disk(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable.os, "fsync", full_disk)
    for write in (lambda: append_bytes(path, b"second\n"), lambda: replace_file(path, [b"x"])):
        with pytest.raises(OSError, match="space"):
            write()
        assert path.read_bytes() == b"first\n"
    assert [found.name for found in tmp_path.iterdir()] == ["log.jsonl"]
