"""Reading and writing log files in whatever state they are in."""

from __future__ import annotations

import datetime as dt
import tracemalloc
from pathlib import Path

import pytest

from bedlore.errors import KeeperError
from bedlore.farm.reading import LogReading
from bedlore.store import log_reader
from bedlore.store.log_reader import read_log
from bedlore.store.log_writer import append_entries, takes, write_entries
from tests.unit.farm.test_bed import FARM
from tests.unit.farm.test_log import entry

HEAD = "id,at,kind,bed,zone,material,amount,temp_c,word,note\n"
PROBE = "p1,2025-01-12 08:00,probe,sluice,bank-1,,,6.5,,\n"


def read(tmp_path: Path, text: str | bytes, name: str = "log.csv") -> LogReading:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    reading = read_log(path, FARM)
    assert path.read_bytes() == (text if isinstance(text, bytes) else text.encode("utf-8"))
    return reading


def sentences(reading: LogReading) -> dict[str, str]:
    return {fault.path: fault.sentence for fault in reading.faults}


def test_rows_with_one_id_are_parts_of_one_feed(tmp_path: Path) -> None:
    rows = ("f1,2025-01-11 07:30,feed,sluice,race,cafe bucket,half a bucket,,,\n"
            "+,,,,,dry card,2 lb,,,\nf1,,,,,leaf mould,1 kg,,,\n")
    reading = read(tmp_path, HEAD + rows + PROBE)
    assert reading.faults == ()
    feed = reading.entries[0]
    assert feed.kind == "feed"
    assert [part.material for part in feed.parts] == [
        "food_veg_trimmings", "bed_corrugated", "bed_leaf_mold"
    ]
    assert reading.entries[1].kind == "probe"


@pytest.mark.parametrize(("delimiter", "mass"), [(";", "1,5"), ("\t", "1.5")])
def test_other_separators_and_decimal_commas(tmp_path: Path, delimiter: str, mass: str) -> None:
    rows = [["at", "kind", "bed", "material", "mass_kg"],
            ["2025-01-11", "feed", "sluice", "bread", mass]]
    text = "\r\n".join(delimiter.join(row) for row in rows) + "\r\n"
    (feed,) = read(tmp_path, "\ufeff" + text).entries
    assert feed.kind == "feed"
    assert feed.parts[0].mass_kg == 1.5


@pytest.mark.parametrize(
    ("name", "text"),
    [("log.csv", HEAD + PROBE + "f2,2025-01-13,feed,slu"),
     ("log.csv", HEAD + PROBE + 'f2,2025-01-13,note,sluice,,,,,,"some wor'),
     ("log.jsonl", '{"id":"p1","at":"2025-01-12","kind":"probe","bed":"sluice","temp_c":6}\n'
                   '{"id":"f2","at":"2025-0')],
)
def test_a_half_written_last_line_is_skipped_and_stays(
    tmp_path: Path, name: str, text: str
) -> None:
    reading = read(tmp_path, text, name)
    assert [found.id for found in reading.entries] == ["p1"]
    (fault,) = reading.faults
    assert "unfinished" in fault.sentence
    assert reading.kept_aside[0].raw == text.splitlines()[-1]


def test_a_whole_last_line_needs_no_line_end(tmp_path: Path) -> None:
    assert len(read(tmp_path, HEAD + PROBE.rstrip("\n")).entries) == 1
    line = '{"id":"p1","at":"2025-01-12","kind":"probe","bed":"sluice","temp_c":6}'
    assert len(read(tmp_path, line, "log.jsonl").entries) == 1


@pytest.mark.parametrize("name", ["log.csv", "log.jsonl"])
def test_a_torn_line_is_never_mended_by_what_follows(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    write_entries(path, [entry("feed", "a"), entry("feed", "b")])
    whole = path.read_bytes()
    for cut in range(1, 60):
        path.write_bytes(whole[:-cut])
        append_entries(path, [entry("probe", "c")])
        reading = read_log(path, FARM)
        assert "c" in [found.id for found in reading.entries]
        assert path.read_bytes().startswith(whole[:-cut])
        for found in reading.entries:  # whole or not at all
            assert found.id == "c" or found == entry("feed", found.id)


def test_bytes_that_are_no_text_cost_one_line(tmp_path: Path) -> None:
    bad = b"x,2025-01-12,note,sluice,,,,,,caf\xe9\n"
    reading = read(tmp_path, HEAD.encode() + bad + PROBE.encode() + b"\x00\x00\x00\n")
    assert len(reading.entries) == 1
    assert "UTF-8" in sentences(reading)["log.csv line 2"]
    assert "empty bytes" in sentences(reading)["log.csv line 4"]
    assert "caf\\xe9" in reading.kept_aside[0].raw


def test_a_quote_left_open_costs_one_line(tmp_path: Path) -> None:
    rows = "".join(PROBE.replace("p1", f"p{i}") for i in range(2, 40))
    reading = read(tmp_path, HEAD + 'n,2025-01-12,note,sluice,,,,,,"open\n' + rows)
    assert "quote" in sentences(reading)["log.csv line 2"]
    assert {line.line for line in reading.kept_aside} == {2}
    assert len(reading.entries) == 38


def test_line_ends_inside_quotes_are_read(tmp_path: Path) -> None:
    (note,) = read(tmp_path, HEAD + 'n,2025-01-12,note,sluice,,,,,,"one\ntwo, ""three"""\n').entries
    assert note.note == 'one\ntwo, "three"'


def test_duplicates_are_counted_once(tmp_path: Path) -> None:
    feed = "2025-01-12,feed,sluice,race,bread,1 kg,,,\n"
    text = HEAD + f"a,{feed}a,{feed},{feed},{feed}b,{feed}a,2025-01-13,note,sluice,,,,,,x\n"
    reading = read(tmp_path, text)
    found = sentences(reading)
    assert [one.id for one in reading.entries] == ["a", "b"]
    assert set(found) == {f"log.csv line {n}" for n in (3, 4, 5, 7)}
    assert "id 'a' already" in found["log.csv line 7"]
    assert any("under another id" in note.sentence for note in reading.notes)


def test_entries_out_of_order_are_sorted_and_noted(tmp_path: Path) -> None:
    reading = read(tmp_path, HEAD + PROBE + "n,2025-01-10,note,sluice,,,,,,late\n")
    assert [found.id for found in reading.entries] == ["n", "p1"]
    assert reading.faults == ()
    assert "sorted" in reading.notes[0].sentence


def test_gaps_of_weeks_are_noted(tmp_path: Path) -> None:
    reading = read(tmp_path, HEAD + PROBE + "n,2025-03-10,note,sluice,,,,,,back\n")
    assert any("57 days" in note.sentence for note in reading.notes)


def test_future_dates_are_kept_aside(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(HEAD + PROBE, "utf-8")
    assert read_log(path, FARM, dt.datetime(2025, 1, 2, tzinfo=dt.UTC)).entries == ()
    assert len(read_log(path, FARM, dt.datetime(2025, 1, 12, tzinfo=dt.UTC)).entries) == 1


def test_amendments_of_nothing_and_twice_are_noted(tmp_path: Path) -> None:
    lines = ["id,at,kind,bed,amends,temp_c", "p,2025-01-12,probe,sluice,,5",
             "q,2025-01-12,probe,sluice,p,6", "r,2025-01-12,probe,sluice,p,7",
             "s,2025-01-12,probe,sluice,gone,8"]
    reading = read(tmp_path, "\n".join(lines) + "\n")
    notes = " ".join(note.sentence for note in reading.notes)
    assert "'gone'" in notes
    assert "more than once" in notes
    assert [found.id for found in reading.current] == ["r", "s"]


def test_an_unknown_column_is_said_once(tmp_path: Path) -> None:
    text = HEAD.replace("word", "temp_x") + PROBE + PROBE.replace("p1", "p2").replace("6.5", "6")
    reading = read(tmp_path, text)
    assert len(reading.entries) == 2
    (fault,) = reading.faults
    assert "'temp_x'" in fault.sentence


def test_units_in_column_names(tmp_path: Path) -> None:
    text = "at,kind,bed,temp_f,depth_in\n2025-01-12,probe,sluice,50,4\n"
    (probe,) = read(tmp_path, text).entries
    assert probe.kind == "probe"
    assert (probe.temp_c, probe.depth_m) == pytest.approx((10.0, 0.1016))


def test_a_cell_too_many(tmp_path: Path) -> None:
    reading = read(tmp_path, HEAD + PROBE.rstrip("\n") + ",more\n")
    assert "11 cells" in sentences(reading)["log.csv line 2"]


@pytest.mark.parametrize("name", ["log.csv", "log.jsonl"])
@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf", b"# bedlore log format 1\n"])
def test_empty_files_are_empty_logs(tmp_path: Path, name: str, data: bytes) -> None:
    assert read(tmp_path, data, name) == LogReading()


def test_a_later_format_is_said(tmp_path: Path) -> None:
    reading = read(tmp_path, "# bedlore log format 2\n" + HEAD + PROBE)
    assert "format 2" in sentences(reading)["log.csv line 1"]
    assert len(reading.entries) == 1


@pytest.mark.parametrize(
    ("line", "words"),
    [("[1]", "object"), ("{", "JSON"), ('{"kind":"note","kind":"note"}', "twice"),
     ("[" * 30000, "nested"), ('{"a":' * 900 + "1" + "}" * 900, ""), ('{"kind":NaN}', "kind"),
     ('{"kind":"note","at":"2025-01-12","bed":"sluice","note":"' + "x" * 70000 + '"}', "64 kB"),
     ('{"kind":"probe","at":"2025-01-12","bed":"sluice","temp_c":NaN}', "nan"),
     ('{"kind":"probe","at":"2025-01-12","bed":"sluice","temp_c":1' + "0" * 4400 + "}", "JSON"),
     ('{"kind":"probe","at":"2025-01-12","bed":"sluice","temp_c":1' + "0" * 400 + "}", "large")],
)
def test_json_that_is_no_entry(tmp_path: Path, line: str, words: str) -> None:
    reading = read(tmp_path, line + "\n", "log.jsonl")
    assert reading.entries == ()
    assert any(words in fault.sentence for fault in reading.faults)
    assert len(reading.kept_aside) == 1


def test_lone_surrogates_can_be_printed(tmp_path: Path) -> None:
    reading = read(tmp_path, '{"kind":"note","at":"2025-01-12","bed":"\\ud800"}\n', "log.jsonl")
    assert reading.faults[0].sentence.encode("utf-8")


def test_a_huge_file_is_read_in_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_reader, "MAX_LOG_BYTES", 2_000_000)
    path = tmp_path / "log.jsonl"
    with path.open("wb") as file:
        for _ in range(12):
            file.write(b"\x80" * 10_000_000 + b"\n")  # 120 MB and hardly a line end
    tracemalloc.start()
    reading = read_log(path, FARM)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20_000_000
    assert any("larger than" in fault.sentence for fault in reading.faults)


def test_too_many_entries_are_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_reader, "MAX_ENTRIES", 3)
    rows = "".join(f"n{i},2025-01-12,note,sluice,,,,,,{i}\n" for i in range(5))
    reading = read(tmp_path, HEAD + rows)
    assert len(reading.entries) == 3
    assert "more than 3" in reading.faults[-1].sentence


def test_a_thousand_faults_and_no_more(tmp_path: Path) -> None:
    reading = read(tmp_path, "garbage\n" * 1500, "log.jsonl")
    assert len(reading.faults) == len(reading.kept_aside) == 1000
    assert reading.faults_left_out == 500


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(KeeperError, match="cannot be read"):
        read_log(tmp_path / "log.csv", FARM)


def test_csv_without_a_column_is_not_taken(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("id,at,at_error_h,kind,bed,note\n", "utf-8")
    assert takes(path, [entry("note", "a")])
    assert not takes(path, [entry("probe", "b")])
    append_entries(path, [entry("note", "a")])
    assert path.read_text("utf-8").splitlines()[1] == "a,2025-01-11T06:30:00Z,0.0,note,sluice,hello"
    with pytest.raises(KeeperError, match="no columns"):
        append_entries(path, [entry("probe", "b")])


def test_notes_that_look_like_formulas_are_quoted_and_come_back(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    notes = ["=1+1", "'=x", "-2", "@a", "+b", "a\\n\nb\\", "'"]
    made = [entry("note", f"n{i}", note=note) for i, note in enumerate(notes)]
    write_entries(path, made)
    assert ",'=1+1" in path.read_text("utf-8")
    assert list(read_log(path, FARM).entries) == made


def test_a_line_of_stray_bytes_is_no_utf_16_file(tmp_path: Path) -> None:
    torn = read(tmp_path, (HEAD + PROBE).encode() + b"\xff\xfe\n")
    assert "bytes that are not UTF-8" in torn.faults[0].sentence
    whole = read(tmp_path, (HEAD + PROBE).encode("utf-16"))
    assert "saved as UTF-16" in whole.faults[0].sentence
