"""What a keeper does at the table, in a real browser: rebuild, bring in, type a sheet in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import FarmRow, LogEntry
from tests.web.test_bring_in import TABLE


def test_a_tray_is_added_and_drawn_before_it_is_kept(page_at: Any, farm_row: FarmRow) -> None:
    page = page_at("phone", has_touch=True)
    page.goto("/farms/mill/beds/ladder/rebuild/")
    page.get_by_role("button", name="A tray on top").tap()
    page.get_by_label("Name").first.fill("Sixth")
    page.get_by_label("Depth [cm]").first.fill("15")
    page.get_by_role("button", name="Draw it again").tap()
    page.locator("figure", has_text="90 cm").first.wait_for()
    page.get_by_role("button", name="Keep it so").last.tap()
    page.wait_for_url("**/beds/ladder/")
    farm_row.refresh_from_db()
    bed = farm_of_row(farm_row).bed("ladder")
    assert bed is not None
    assert bed.zones[0].name == "Sixth"
    assert page.said == []


def test_a_loggers_table_is_mapped_and_taken_in(page_at: Any, farm_row: FarmRow) -> None:
    page = page_at("table")
    page.goto("/farms/mill/bring-in/")
    page.get_by_role("link", name="A thermometer's readings").click()
    file = {"name": "logger 7.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    page.set_input_files("#file", files=[file])
    page.get_by_role("button", name="Look at it").click()
    page.get_by_label("Where it lay").select_option("sluice|race-1")
    page.get_by_role("button", name="Show what that gives").click()
    page.get_by_text("96 readings").wait_for()
    page.get_by_role("button", name="Take them in").click()
    page.wait_for_url("**/log/")
    page.get_by_text("96 entries were taken in").wait_for()
    assert LogEntry.objects.filter(farm=farm_row).count() == 96
    assert page.said == []


def test_a_shed_sheet_is_typed_in_by_keyboard_alone(page_at: Any, farm_row: FarmRow) -> None:
    page = page_at("table")
    page.goto("/farms/mill/beds/sluice/sheet/?month=2025-12")
    page.get_by_label("Day").first.focus()
    for word in ("3", "stale rye", "1 kg", "", "", "9.5"):
        page.keyboard.type(word)
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # in the list "Squeezed": opens it or nothing
    page.keyboard.press("Escape")
    page.locator("[name=line-0-note]").press("Enter")
    page.wait_for_url("**/log/")
    kinds = LogEntry.objects.filter(farm=farm_row).values_list("kind", flat=True)
    assert sorted(kinds) == ["feed", "probe"]


def test_pages_print_without_what_is_tapped_and_uncut(page_at: Any, tmp_path: Path) -> None:
    page = page_at("table")
    for path in ("farm/", "beds/sluice/"):
        page.goto(f"/farms/mill/{path}")
        page.emulate_media(media="print")
        expect(page.locator(".tap").first).to_be_hidden()
        wide = page.evaluate("""() => [...document.querySelectorAll(".scroll table")].filter(
          (one) => one.getBoundingClientRect().right > innerWidth + 1).length""")
        assert wide == 0, path
        assert page.pdf(path=tmp_path / "page.pdf", format="A4").startswith(b"%PDF")
        page.emulate_media(media="screen")
