"""Every adapter of the store ports does the same: files in a folder, tables in a database."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Protocol

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.service.book import Author
from bedlore.store.files import FarmFolder
from tests.property.test_log_round_trip import LOGS, WARM_FARM
from tests.unit.farm.test_bed import FARM
from tests.unit.farm.test_log import entry

NOW = dt.datetime(2026, 2, 1, 8, tzinfo=dt.UTC)


class Store(Protocol):
    """Both ports in one."""

    def load_farm(self) -> Farm: ...
    def save_farm(self, farm: Farm) -> None: ...
    def read_log(self, farm: Farm, now: dt.datetime | None = None) -> LogReading: ...
    def append(self, entries: list[AnyEntry]) -> None: ...


class Database:
    """The database adapters behind both ports."""

    def __init__(self, farm: Farm) -> None:
        from bedlore.store.db.farm_store import DbFarmStore, add_farm
        from bedlore.store.db.log_store import DbLog

        row = add_farm(farm, Author("Ines"), NOW)
        self.farms, self.log = DbFarmStore(row), DbLog(row)
        self.load_farm, self.save_farm = self.farms.load_farm, self.farms.save_farm
        self.read_log, self.append = self.log.read_log, self.log.append


def make(kind: str, farm: Farm, folder: Path) -> Store:
    if kind == "database":
        return Database(farm)
    store = FarmFolder(folder)
    store.save_farm(farm)
    return store


@pytest.fixture(params=["files", "database"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Store:
    if request.param == "database":
        request.getfixturevalue("db")
    return make(request.param, FARM, tmp_path)


def test_a_farm_is_read_as_it_was_saved(store: Store) -> None:
    assert store.load_farm() == FARM
    renamed = FARM.model_copy(update={"name": "Other"})
    store.save_farm(renamed)
    assert store.load_farm() == renamed


def test_a_new_farm_has_an_empty_log(store: Store) -> None:
    reading = store.read_log(FARM)
    assert reading.entries == ()
    assert reading.faults == ()


def test_entries_come_back_by_time(store: Store) -> None:
    late = entry("note", "late", at=dt.datetime(2025, 3, 1, tzinfo=dt.UTC))
    early = entry("feed", "early", at=dt.datetime(2025, 2, 1, tzinfo=dt.UTC))
    store.append([late])
    store.append([early])
    assert list(store.read_log(FARM).entries) == [early, late]


def test_nothing_appended_changes_nothing(store: Store) -> None:
    store.append([])
    assert store.read_log(FARM).entries == ()


def test_the_same_entry_twice_counts_once(store: Store) -> None:
    one = entry("feed", "a")
    store.append([one])
    store.append([one])
    assert list(store.read_log(FARM).entries) == [one]


def test_corrections_and_voids_hold_by_the_same_rules(store: Store) -> None:
    first = entry("probe", "a", temp="10 degC")
    better = entry("probe", "b", temp="12 degC", amends="a")
    gone = entry("note", "c")
    void = entry("void", "d", amends="c")
    store.append([first, better, gone, void])
    assert [e.id for e in store.read_log(FARM).current] == ["b"]


def test_entries_still_to_come_are_kept_aside(store: Store) -> None:
    now = dt.datetime(2025, 2, 1, tzinfo=dt.UTC)
    past = entry("note", "past", at=now - dt.timedelta(days=3))
    future = entry("note", "future", at=now + dt.timedelta(days=30))
    store.append([past, future])
    reading = store.read_log(FARM, now)
    assert [e.id for e in reading.entries] == ["past"]
    assert len(reading.faults) == len(reading.kept_aside) == 1
    assert "still to come" in reading.faults[0].sentence
    assert [e.id for e in store.read_log(FARM).entries] == ["past", "future"]


def test_entries_of_a_bed_that_is_gone_are_kept_aside(store: Store) -> None:
    store.append([entry("note", "a")])
    bed = FARM.beds[0].model_copy(update={"id": "other", "name": "Other"})
    other = FARM.model_copy(update={"beds": (bed,)})
    reading = store.read_log(other)
    assert reading.entries == ()
    assert "no bed 'sluice'" in reading.faults[0].sentence


@settings(max_examples=25, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(log=LOGS)
def test_any_log_comes_back_whole_from_the_database(db: None, log: list[AnyEntry]) -> None:
    store = make("database", WARM_FARM, Path())
    store.append(log)
    reading = store.read_log(WARM_FARM)
    assert reading.faults == ()
    assert sorted(reading.entries, key=lambda e: e.id) == sorted(log, key=lambda e: e.id)
    held = {e.id for e in reading.current}
    rows = store.log._rows().exclude(kind="void")  # type: ignore[attr-defined]
    assert {row.entry_id for row in rows if row.holds} == held
