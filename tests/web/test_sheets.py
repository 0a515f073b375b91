"""Paper and back: the shed sheet is printed, filled in, typed in once; the label opens the log."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from bedlore.service.book import LogFilter
from bedlore.service.morning import Morning
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, LogEntry
from tests.web.test_pages import NASTY, Outline

Browser = Callable[..., Client]
SHEET = "/farms/mill/beds/sluice/sheet/"
AT = SHEET + "?month=2025-12&sheet=1"


def line(number: int, **told: str) -> dict[str, str]:
    return {f"line-{number}-{name}": text for name, text in told.items()}


FULL = {
    **line(0, day="3", what="stale rye", much="half a blue bucket", where="race-1", left="some",
           temp="9,5", squeeze="damp", note="=cold"),
    **line(1, day="7.", temp="8"), **line(4, day="19", note="drips in the tray"),
    **line(9, day="31", left="none"),
}  # fmt: skip


def saved() -> int:
    return int(LogEntry.objects.count())


def test_the_page_is_well_formed_for_each_who_may_write(as_: Browser, told: Morning) -> None:
    text = as_("helper").get(SHEET).content.decode()
    outline = Outline(text)
    assert (outline.faults, outline.open) == ([], [])
    assert len(outline.ids) == len(set(outline.ids))
    assert set(outline.fields) <= outline.labels
    assert text.count("<fieldset") == 16
    assert "January 2026" in text  # the month the farm is seen in
    assert as_("viewer").get(SHEET).status_code == 403
    assert as_("viewer").post(SHEET, FULL).status_code == 403


def test_a_sheet_is_written_down_at_once_and_only_once(
    as_: Browser, book: DbLog, told: Morning
) -> None:
    browser = as_("helper")
    done = browser.post(AT, FULL, follow=True).content.decode()
    assert "7 entries were written down" in done
    entries = [one.entry for one in book.page(LogFilter(bed="sluice"), 20)]
    assert sorted(entry.kind for entry in entries) == [
        "feed", "look", "look", "note", "probe", "probe", "squeeze"]  # fmt: skip
    feed = next(entry for entry in entries if entry.kind == "feed")
    assert (feed.zone, feed.parts[0].material, feed.note) == ("race-1", "food_bread", "=cold")
    assert feed.at_error_h >= 12
    assert {entry.temp_c for entry in entries if entry.kind == "probe"} == {9.5, 8.0}
    again = browser.post(AT, {**FULL, **line(5, day="20", squeeze="runs")}, follow=True)
    assert "1 entry was written down. 7 were in the log already." in again.content.decode()
    assert saved() == 8
    text = browser.get(AT).content.decode()
    assert text.count("In the log already:") == 5
    other = browser.post(AT.replace("sheet=1", "sheet=2"), line(0, day="3", temp="9.5"))
    assert other.status_code == 302
    assert saved() == 9


def test_faults_stand_beside_their_lines_and_nothing_is_lost(
    as_: Browser, told: Morning, farm_row: FarmRow
) -> None:
    wrong = {
        **FULL, **line(1, day="32", temp="8"), **line(2, day="4", what="moon dust", much="2"),
        **line(3, day="5", what="stale rye", much="a whiff"), **line(6, day="", note="when?"),
        **line(7, day="9", temp="tepid"), **line(8, day="9", what="bread"),
    }  # fmt: skip
    answer = as_("helper").post(AT, wrong)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert saved() == 0
    rows = re.findall(r"<fieldset.*?</fieldset>", text, re.S)
    assert [k for k, row in enumerate(rows) if 'class="fault"' in row] == [1, 2, 3, 6, 7, 8]
    for name, value in wrong.items():
        number, column = name.split("-")[1:]
        if column not in ("where", "left", "squeeze"):
            assert f'name="{name}" value="{value}"' in rows[int(number)], name
    assert "moon dust" in rows[2].split('class="fault"')[1]


def test_a_line_that_says_otherwise_than_before_is_told_of(as_: Browser, told: Morning) -> None:
    browser = as_("helper")
    browser.post(AT, line(0, day="3", temp="9"))
    answer = browser.post(AT, {**line(0, day="3", temp="10"), **line(1, day="4", temp="10")})
    assert answer.status_code == 422
    assert "typed in before" in answer.content.decode()
    assert saved() == 1


def test_days_to_come_and_before_the_bed_are_refused(as_: Browser, told: Morning) -> None:
    for month in ("2026-03", "2020-01"):
        answer = as_("helper").post(f"{SHEET}?month={month}", line(0, day="3", temp="9"))
        assert answer.status_code == 422, month
    assert saved() == 0


@pytest.mark.parametrize("query", ["?month=x", "?month=9999-99", "?sheet=99999", "?sheet=0",
                                   "?month=%00&sheet=-1"])  # fmt: skip
def test_an_odd_address_gives_this_months_sheet(query: str, as_: Browser, told: Morning) -> None:
    assert as_("keeper").get(SHEET + query).status_code == 200
    assert as_("keeper").get(SHEET[:-1] + ".pdf" + query).status_code == 200


def test_whatever_is_typed_it_is_written_or_answered(as_: Browser, told: Morning) -> None:
    browser, dice = as_("helper"), random.Random(5)
    pairs = [(name, value) for name in [*FULL, "line-99-day", "line-x-day"] for value in NASTY]
    for name, value in dice.sample(pairs, 25):
        answer = browser.post(AT, {**FULL, name: value})
        assert answer.status_code in (302, 422), (name, value)
        if answer.status_code == 422:
            assert 'class="fault"' in answer.content.decode(), (name, value)


def test_sheets_and_labels_are_printed_for_all_who_may_look(as_: Browser, told: Morning) -> None:
    for path in ("sheet.pdf", "sheet.pdf?month=2026-02&sheet=3", "label.pdf"):
        answer: Any = as_("viewer").get(f"/farms/mill/beds/ladder/{path}")
        assert answer.status_code == 200
        assert answer.content.startswith(b"%PDF")
        assert answer.headers["Content-Type"] == "application/pdf"
        assert as_("stranger").get(f"/farms/mill/beds/ladder/{path}").status_code == 404


def test_before_the_first_outlook_a_sheet_has_no_card(as_: Browser, farm_row: FarmRow) -> None:
    assert as_("keeper").get(SHEET[:-1] + ".pdf").content.startswith(b"%PDF")


def test_the_code_of_a_label_opens_the_beds_log_page(as_: Browser, told: Morning) -> None:
    assert as_("helper").get("/at/mill/weir/").url == "/farms/mill/write/?bed=weir"
    assert as_("viewer").get("/at/mill/weir/").url == "/farms/mill/log/?bed=weir"
    assert as_("nobody").get("/at/mill/weir/").url == "/sign-in/?next=/at/mill/weir/"
    assert as_("stranger").get("/at/mill/weir/").status_code == 404
    assert as_("helper").get("/at/mill/none/").status_code == 404
