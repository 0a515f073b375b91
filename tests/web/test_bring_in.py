"""Files on their way in through the pages: looked at, mended, taken once."""

from __future__ import annotations

import os
import random
import re
import time
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from bedlore.farm.load import dump_farm
from bedlore.service.book import Author, LogFilter
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, LogEntry
from tests.web.test_change import sendable
from tests.web.test_files_in import LOG
from tests.web.test_pages import NASTY, Outline

Browser = Callable[..., Client]
AT = "/farms/mill/bring-in/"
TABLE = "Zeit;Temperatur (°C);Feuchte\n" + "".join(
    f"{day:02d}.01.2026 {hour:02d}:{minute:02d};{7 + day / 10:.1f};60\n".replace(".1;", ",1;")
    for day in range(5, 9) for hour in range(24) for minute in (0, 30)
)  # fmt: skip


def posted(browser: Client, path: str, data: bytes | str, name: str = "a.csv", **more: str) -> Any:
    content = data.encode() if isinstance(data, str) else data
    return browser.post(AT + path, {"file": SimpleUploadedFile(name, content), **more})


def kept(text: str) -> str:
    found = re.search(r'name="kept" value="([^"]+)"', text)
    assert found is not None
    return unescape(found[1])


def entries() -> int:
    return int(LogEntry.objects.count())


@pytest.mark.parametrize("path", ["", "log/", "farm/", "readings/", "/farms/restore/"])
def test_pages_are_well_formed(path: str, as_: Browser) -> None:
    text = as_("keeper").get(path if path.startswith("/") else AT + path).content.decode()
    outline = Outline(text)
    assert (outline.faults, outline.open) == ([], [])
    assert set(outline.fields) <= outline.labels


def test_who_may_bring_in_what(as_: Browser, farm_row: FarmRow) -> None:
    for path, roles in (("", ("helper", "keeper")), ("log/", ("helper", "keeper")),
                        ("readings/", ("helper", "keeper")), ("farm/", ("keeper",))):  # fmt: skip
        for role in ("viewer", "helper", "keeper"):
            assert (as_(role).get(AT + path).status_code == 200) == (role in roles), (path, role)


def test_a_log_is_looked_at_then_taken_once(as_: Browser, book: DbLog) -> None:
    browser = as_("helper")
    text = posted(browser, "log/", LOG, "mine.CSV").content.decode()
    assert entries() == 0
    assert "2 new entries" in text
    assert "What cannot be used" in text
    assert Outline(text).faults == []
    sent = {"act": "take", "kept": kept(text)}
    done = browser.post(AT + "log/", sent, follow=True).content.decode()
    assert "2 entries were taken in" in done
    assert "already" in browser.post(AT + "log/", sent, follow=True).content.decode()
    assert entries() == 2
    assert {row.written_by for row in LogEntry.objects.all()} == {"helper"}


@pytest.mark.parametrize(("data", "said"), [
    (b"", "empty"), (b"\xff\xfe", "UTF-16"), (b"PK\x03\x04\x00\xff", "cannot be used"),
    (b"no,columns\n1,2\n", "cannot be used"),
])  # fmt: skip
def test_a_file_that_is_no_log_is_answered_beside_the_field(
    data: bytes, said: str, as_: Browser, farm_row: FarmRow
) -> None:
    answer = posted(as_("keeper"), "log/", data)
    text = answer.content.decode()
    assert answer.status_code in (200, 422)
    assert said in text
    assert entries() == 0
    missing = as_("keeper").post(AT + "log/", {})
    assert missing.status_code == 422
    assert re.search(r'type="file"[^>]*>\s*<div class="fault"', missing.content.decode())


def test_a_file_is_found_again_by_whom_it_was_sent_alone(
    as_: Browser, farm_row: FarmRow
) -> None:
    word = kept(posted(as_("keeper"), "log/", LOG).content.decode())
    for role, given in (("helper", word), ("keeper", word[:-2] + "xx"), ("keeper", "x" * 5000)):
        answer = as_(role).post(AT + "log/", {"act": "take", "kept": given})
        assert answer.status_code == 422
        assert "no longer here" in answer.content.decode()
    assert entries() == 0
    for path in (Path(settings.DATA_FOLDER) / "incoming").iterdir():
        os.utime(path, (time.time() - 90_000,) * 2)
    posted(as_("keeper"), "log/", LOG + b"\n")
    gone = as_("keeper").post(AT + "log/", {"act": "take", "kept": word})
    assert "no longer here" in gone.content.decode()


def test_files_have_their_largest_size_and_so_has_what_waits(
    as_: Browser, farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bedlore.web.views.bring_in.MAX_LOG_BYTES", 10)
    assert "larger than" in posted(as_("keeper"), "log/", LOG).content.decode()
    monkeypatch.setattr("bedlore.web.views.bring_in.MAX_LOG_BYTES", 10**6)
    monkeypatch.setattr("bedlore.web.incoming.MOST_BYTES", 100)
    assert "Too many files wait" in posted(as_("keeper"), "log/", LOG).content.decode()
    monkeypatch.setattr("bedlore.web.uploads.OTHER_BYTES", 100)  # of the whole form
    assert "larger than" in posted(as_("keeper"), "log/", LOG).content.decode()


def test_readings_are_mapped_shown_and_taken_once(as_: Browser, book: DbLog) -> None:
    browser = as_("helper")
    text = posted(browser, "readings/", TABLE, "logger 7.csv").content.decode()
    outline = Outline(text)
    assert (outline.faults, outline.open) == ([], [])
    assert set(outline.fields) <= outline.labels
    sent = sendable(text)
    assert (sent["time"], sent["temp"], sent["order"]) == ("0", "1", "day-month-year")
    assert (sent["delimiter"], sent["skip"]) == ("semicolon", "1")
    nowhere = browser.post(AT + "readings/", {**sent, "act": "look"})
    assert nowhere.status_code == 422
    assert "Choose where it lay" in nowhere.content.decode()
    looked = browser.post(AT + "readings/", {**sent, "act": "look", "bed": "sluice|race-1",
                                             "depth": "15", "device": "left post"})  # fmt: skip
    text = looked.content.decode()
    assert "96 readings" in text
    assert "from 192 lines" in text
    assert 'value="left post"' in text
    assert entries() == 0
    for _k in range(2):
        done = browser.post(AT + "readings/", {**sendable(text), "act": "take"})
        assert done.status_code == 302
    assert entries() == 96
    (one,) = book.page(LogFilter(bed="sluice"), 1)
    assert one.entry.kind == "probe"
    assert (one.entry.zone, one.entry.depth_m, one.entry.device) == ("race-1", 0.15, "left post")
    assert one.entry.temp_c == pytest.approx(7.8)


def test_columns_that_cannot_be_right_are_told_beside_their_fields(
    as_: Browser, farm_row: FarmRow
) -> None:
    browser = as_("helper")
    sent = sendable(posted(browser, "readings/", TABLE).content.decode())
    wrong = {**sent, "act": "take", "bed": "sluice|race-1", "temp": "0", "depth": "deep",
             "error": "99", "skip": "many"}  # fmt: skip
    text = browser.post(AT + "readings/", wrong).content.decode()
    for name in ("r-depth", "r-error", "r-skip"):
        assert re.search(rf'id="{name}"[^>]*>\s*<div class="fault"', text), name
    assert 'value="deep"' in text
    text = browser.post(AT + "readings/", {**wrong, "depth": "10", "error": "1", "skip": "1"})
    assert "two different columns" in text.content.decode()
    assert entries() == 0


def test_a_farm_file_shows_what_would_change_and_takes_its_place(
    as_: Browser, farm_row: FarmRow
) -> None:
    browser = as_("keeper")
    before = farm_of_row(farm_row)
    text_of = dump_farm(before.model_copy(update={"name": "Second Mill", "beds": before.beds[:2]}))
    text = posted(browser, "farm/", text_of, "farm.toml").content.decode()
    assert "Second Mill" in text
    assert "no longer names" in text
    sent = {"act": "take", "kept": kept(text), "version": str(farm_row.version)}
    store = DbFarmStore(farm_row)
    store.save_farm(before, None, Author("Mara"))
    stale = browser.post(AT + "farm/", sent)
    assert stale.status_code == 422
    assert "changed meanwhile by Mara" in stale.content.decode()
    assert browser.post(AT + "farm/", {**sent, "version": str(store.version)}).status_code == 302
    farm_row.refresh_from_db()
    assert farm_of_row(farm_row).name == "Second Mill"


def test_a_farm_file_with_faults_tells_them_all(as_: Browser, farm_row: FarmRow) -> None:
    bad = dump_farm(farm_of_row(farm_row)).replace("width_m = 0.75", 'width_m = "wide"')
    answer = posted(as_("keeper"), "farm/", bad + "\n[odd]\na = 1\n", "farm.toml")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "beds.sluice.width_m" in text
    assert "odd" in text


def test_whatever_is_sent_it_is_answered_with_a_sentence(as_: Browser, farm_row: FarmRow) -> None:
    browser, dice = as_("keeper"), random.Random(3)
    sent = sendable(posted(browser, "readings/", TABLE).content.decode())
    sent["bed"] = "sluice|race-1"
    for name in [*sent, "act"]:
        value = dice.choice(NASTY)
        answer = browser.post(AT + "readings/", {**sent, "act": "look", name: value})
        assert answer.status_code in (200, 422), (name, value)
    for path in ("log/", "farm/", "readings/"):
        for _k in range(6):
            junk = dice.randbytes(300) + TABLE[dice.randrange(300):][:200].encode()
            answer = posted(browser, path, junk, dice.choice(("x", "../../a.csv", "b.jsonl")))
            assert answer.status_code in (200, 422)
            if answer.status_code == 422:
                assert 'class="fault"' in answer.content.decode()


def test_an_archive_that_is_none_is_told_beside_the_field(as_: Browser, farm_row: FarmRow) -> None:
    browser = as_("stranger")
    assert browser.get("/farms/restore/").status_code == 200
    for sent in ({}, {"archive": SimpleUploadedFile("a.zip", b"no zip at all")}):
        answer = browser.post("/farms/restore/", sent)
        assert answer.status_code == 422
        assert re.search(r'type="file"[^>]*>\s*<div class="fault"', answer.content.decode())
