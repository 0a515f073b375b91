"""Entries: written once, corrected, taken back, and never lost."""

from __future__ import annotations

import datetime as dt
import time
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from bedlore.errors import FaultList, KeeperError
from bedlore.service.book import Author, Changed, LogFilter, Place, TakenId, new_entry_id
from bedlore.service.correct_entry import correct_entry, history_of
from bedlore.service.record_entry import record_entry
from bedlore.service.undo import undo
from bedlore.store.db.farm_store import DbFarmStore
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import BedRow, BedVersion, FarmRow, FarmVersion, LogEntry, ZoneRow
from tests.unit.farm.test_bed import FARM
from tests.web.conftest import INES, NOW

FEED = {"kind": "feed", "at": "2026-01-30 evening", "bed": "Sluice", "zone": "race",
        "material": "bread", "amount": "2 lb"}  # fmt: skip


def write(book: DbLog, raw: dict[str, Any] = FEED, **more: Any):
    return record_entry(book, FARM, raw, INES, NOW, **more)


def ids(book: DbLog) -> list[str]:
    return [w.entry.id for w in book.page(LogFilter(), 100)]


def test_an_entry_is_understood_and_signed(book: DbLog) -> None:
    got = write(book, client_id="phone-1")
    assert not got.repeated
    entry = got.written.entry
    assert entry.who == "Ines"
    assert entry.bed == "sluice"
    assert entry.parts[0].mass_kg == pytest.approx(0.9072, abs=1e-4)
    assert got.written.written_by == "Ines"
    assert book.find("phone-1") == got.written == book.find(entry.id)


def test_two_feeds_alike_are_two_feeds(book: DbLog) -> None:
    write(book)
    write(book)
    assert len(ids(book)) == 2


def test_sent_twice_is_written_once(book: DbLog) -> None:
    first = write(book, client_id="phone-1")
    again = write(book, client_id="phone-1")
    assert again.repeated
    assert again.written == first.written
    assert len(ids(book)) == 1
    with pytest.raises(TakenId):
        write(book, {**FEED, "amount": "3 lb"}, client_id="phone-1")
    assert LogEntry.objects.count() == 1


def test_what_cannot_be_understood_is_said_and_not_written(book: DbLog) -> None:
    with pytest.raises(FaultList) as caught:
        write(book, {"kind": "probe", "at": "2026-01-30 08:00", "bed": "slice", "temp": "hot"})
    assert {fault.path for fault in caught.value.faults} >= {"bed", "temp_c"}
    with pytest.raises(FaultList):
        write(book, client_id="../x")
    assert LogEntry.objects.count() == 0


def test_a_correction_keeps_what_was_written(book: DbLog) -> None:
    first = write(book).written.entry
    got = correct_entry(book, FARM, first.id, {"place": "lump", "note": "oops"}, Author("Udo"), NOW)
    assert ids(book) == [got.written.entry.id]
    old = book.find(first.id)
    assert old is not None
    assert not old.holds
    assert old.entry == first
    steps = history_of(book, first.id)
    assert [s.written.written_by for s in steps] == ["Ines", "Udo"]
    changed = {name: (before, after) for name, before, after in steps[1].fields}
    assert changed == {"place": ("spread", "lump"), "note": ("", "oops"), "who": ("Ines", "Udo")}


def test_whoever_was_slower_is_told(book: DbLog) -> None:
    first = write(book).written.entry
    correct_entry(book, FARM, first.id, {"note": "one"}, Author("Udo"), NOW)
    with pytest.raises(Changed, match="by Udo"):
        correct_entry(book, FARM, first.id, {"note": "two"}, INES, NOW)
    late = NOW + dt.timedelta(minutes=1)
    kept = correct_entry(book, FARM, first.id, {"note": "two"}, INES, late, strict=False)
    assert ids(book) == [kept.written.entry.id]
    assert LogEntry.objects.count() == 3


def test_undo_and_undo_of_the_undo(book: DbLog) -> None:
    first = write(book).written.entry
    void = undo(book, first.id, INES, NOW)
    assert ids(book) == []
    undo(book, void.written.entry.id, INES, NOW + dt.timedelta(seconds=1))
    assert ids(book) == [first.id]
    assert LogEntry.objects.count() == 3


def test_undo_of_a_correction_brings_back_what_stood_before(book: DbLog) -> None:
    first = write(book).written.entry
    later = NOW + dt.timedelta(seconds=1)
    second = correct_entry(book, FARM, first.id, {"note": "x"}, INES, later).written.entry
    undo(book, second.id, INES, later + dt.timedelta(seconds=1))
    assert ids(book) == [first.id]
    with pytest.raises(Changed):
        undo(book, second.id, INES, later + dt.timedelta(seconds=2))
    third = correct_entry(book, FARM, first.id, {"note": "y"}, INES,
                          later + dt.timedelta(seconds=3)).written.entry  # fmt: skip
    undo(book, third.id, INES, later + dt.timedelta(seconds=4), wholly=True)
    assert ids(book) == []
    assert [e.id for e in book.read_log(FARM).current] == []


def test_undo_of_nothing_is_a_sentence(book: DbLog) -> None:
    with pytest.raises(KeeperError, match="no entry"):
        undo(book, "none", INES, NOW)


def test_a_correction_may_name_what_the_phone_called_the_entry(book: DbLog) -> None:
    first = write(book, client_id="phone-1").written.entry
    got = write(book, {**FEED, "amends": "phone-1"}, client_id="phone-2")
    assert got.written.entry.amends == first.id


def test_the_database_refuses_to_change_an_entry(book: DbLog) -> None:
    write(book)
    for column in ("body", "at", "bed", "written_at", "entry_id"):
        value = NOW if column in ("at", "written_at") else "other"
        with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
            LogEntry.objects.update(**{column: value})


def test_pages_of_the_list_join_without_gap(book: DbLog) -> None:
    for day in range(1, 8):
        write(book, {**FEED, "at": f"2026-01-0{day}"})
    first = book.page(LogFilter(bed="sluice"), 3)
    rest = book.page(LogFilter(bed="sluice"), 10, Place(first[-1].entry.at, first[-1].number))
    assert [w.entry.at.day for w in (*first, *rest)] == [7, 6, 5, 4, 3, 2, 1]
    assert book.page(LogFilter(bed="sluice", kinds=("probe",)), 5) == []
    assert book.page(LogFilter(text="no such word"), 5) == []
    assert len(book.page(LogFilter(text="food_bread"), 50)) == 7


def test_a_farm_keeps_every_description(farm_row: FarmRow) -> None:
    store = DbFarmStore(farm_row, now=NOW)
    assert store.version == 1
    bed = FARM.beds[0]
    rebuilt = bed.model_copy(update={"fabric": not bed.fabric})
    farm = FARM.model_copy(update={"beds": (rebuilt, *FARM.beds[1:])})
    store.save_farm(farm, 1, Author("Udo"), "new floor")
    with pytest.raises(Changed, match="by Udo"):
        store.save_farm(FARM, 1, INES)
    assert store.load_farm() == farm
    assert FarmVersion.objects.count() == 2
    row = BedRow.objects.get(slug=bed.id)
    assert row.version == 2
    assert BedVersion.objects.filter(bed=row).count() == 2
    assert BedRow.objects.exclude(slug=bed.id).filter(version=1).count() == len(FARM.beds) - 1
    assert ZoneRow.objects.filter(bed=row).count() == len(bed.zones)
    store.save_farm(FARM.model_copy(update={"beds": FARM.beds[1:]}), 2, INES)
    row.refresh_from_db()
    assert row.removed_at == NOW


def test_ids_sort_by_writing_even_where_time_stands_still() -> None:
    now = dt.datetime(2026, 3, 1, 7, tzinfo=dt.UTC)
    ids = [new_entry_id(now) for _ in range(20_000)]
    assert len(set(ids)) == len(ids)
    later = [new_entry_id(now + dt.timedelta(microseconds=k)) for k in range(50)]
    assert later == sorted(later)
    first = new_entry_id(now)
    time.sleep(0.002)
    assert first < new_entry_id(now)
