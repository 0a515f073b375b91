"""Farm files, log files and loggers' tables on their way in."""

from __future__ import annotations

import datetime as dt

import pytest

from bedlore.errors import FaultList, KeeperError
from bedlore.farm.load import dump_farm
from bedlore.service.book import LogFilter
from bedlore.service.farm_file import export_farm, import_farm, preview_farm
from bedlore.service.log_file import export_log, import_log, preview_log
from bedlore.service.readings_file import (
    Columns,
    import_readings,
    look_at_table,
    preview_readings,
    with_bed,
)
from bedlore.store.db.farm_store import DbFarmStore
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, LogEntry
from bedlore.store.log_codec import LogFiles
from tests.unit.farm.test_bed import FARM
from tests.web.conftest import INES, NOW

CODEC = LogFiles()
LOG = (b"id,at,kind,bed,note,temp_c\na,2026-01-01 08:00,note,sluice,hello,\n"
       b"b,2026-01-02 08:00,probe,sluice,,7\nc,2026-01-02 08:00,probe,nowhere,,7\n")  # fmt: skip


def test_a_farm_file_goes_in_and_out(farm_row: FarmRow) -> None:
    store = DbFarmStore(farm_row)
    assert import_farm(store, export_farm(store).encode(), INES) == FARM
    renamed = FARM.model_copy(update={"beds": (
        FARM.beds[0].model_copy(update={"id": "new"}),
        FARM.beds[1].model_copy(update={"note": "x"}), *FARM.beds[2:],
    )})  # fmt: skip
    told = preview_farm(dump_farm(renamed).encode(), before=FARM)
    assert told.beds_added == ("new",)
    assert told.beds_changed == (FARM.beds[1].id,)
    assert told.beds_removed == (FARM.beds[0].id,)
    with pytest.raises(KeeperError):
        import_farm(store, b"\xff\xfe", INES)
    assert store.load_farm() == FARM


def test_a_log_file_is_looked_at_and_then_taken_once(book: DbLog) -> None:
    told = preview_log(book, CODEC, FARM, LOG, "mine.CSV", NOW)
    assert [entry.id for entry in told.new] == ["a", "b"]
    assert len(told.faults) == len(told.kept_aside) == 1
    assert not LogEntry.objects.exists()
    import_log(book, CODEC, FARM, LOG, "mine.CSV", INES, NOW)
    again = import_log(book, CODEC, FARM, LOG, "mine.CSV", INES, NOW)
    assert (len(again.new), again.known) == (0, 2)
    assert LogEntry.objects.count() == 2
    other = LOG.replace(b"hello", b"bye")
    clash = import_log(book, CODEC, FARM, other, "mine.csv", INES, NOW)
    assert any("another entry with this id" in fault.sentence for fault in clash.faults)
    assert book.find("a").entry.note == "hello"  # type: ignore[union-attr]


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_a_log_goes_out_and_in_the_same(book: DbLog, form, farm_row: FarmRow) -> None:
    import_log(book, CODEC, FARM, LOG, "mine.csv", INES, NOW)
    text = "".join(export_log(book, CODEC, FARM, form)).encode()
    before = book.read_log(FARM).entries
    LogEntry.objects.all().delete()
    import_log(book, CODEC, FARM, text, f"x.{form}", INES, NOW)
    assert book.read_log(FARM).entries == before


@pytest.mark.parametrize(
    ("text", "temps", "first"),
    [
        ("Date Time,Temperature (°C),RH\n2026-01-05 10:00,7.5,80\n2026-01-05 11:00,7.0,81\n",
         [7.5, 7.0], "2026-01-05T09:00"),
        ("logger 12\nserial;x\nZeit;Temp °C\n15.01.2026 10:00;7,5\n15.01.2026 11:00;-0,5\n",
         [7.5, -0.5], "2026-01-15T09:00"),
        ("date,time,probe_F\n1/25/2026,10:00 AM,50\n1/25/2026,11:00 PM,32\n",
         [10.0, 0.0], "2026-01-25T09:00"),
        ("t\ttemp\n2026-01-05T10:00:00Z\t7.5\n", [7.5], "2026-01-05T10:00"),
    ],
)  # fmt: skip
def test_columns_are_guessed(text: str, temps: list[float], first: str) -> None:
    table = look_at_table(text.encode(), "logger.csv")
    told = preview_readings(FARM, text.encode(), with_bed(table.guess, "sluice"), "logger.csv", NOW)
    assert told.faults == ()
    assert [entry.temp_c for entry in told.entries] == pytest.approx(temps)
    assert told.entries[0].at == dt.datetime.fromisoformat(f"{first}:00+00:00")


def test_one_reading_an_hour_is_kept_and_only_once(book: DbLog) -> None:
    rows = [f"2026-01-05 {m // 60:02d}:{m % 60:02d},{m / 10}" for m in range(0, 180, 10)]
    data = "\n".join(["time,temp_c", *rows, "2026-01-05 03:00,wet", "2026-01-05"]).encode()
    table = look_at_table(data, "l.csv")
    told = preview_readings(FARM, data, with_bed(table.guess, "sluice", "race"), "l.csv", NOW)
    assert told.rows == 20
    assert [entry.temp_c for entry in told.entries] == [3.0, 9.0, 15.0]
    assert told.temps_c == (3.0, 15.0)
    assert len(told.faults) == 2
    assert import_readings(book, told, INES, NOW) == 3
    assert import_readings(book, told, INES, NOW) == 0
    assert len(book.page(LogFilter(zone="race"), 9)) == 3


def test_what_cannot_be_a_table_is_a_sentence() -> None:
    for data in (b"", b"no,table\n", b"\xff\xfe\x00", b'"' * 9000):
        with pytest.raises(KeeperError):
            look_at_table(data, "x.csv")
    with pytest.raises(FaultList) as caught:
        preview_readings(FARM, b"", Columns(0, 0, bed="nowhere", unit="K"), "x.csv", NOW)
    assert {fault.path for fault in caught.value.faults} == {"bed", "unit", "temp"}
