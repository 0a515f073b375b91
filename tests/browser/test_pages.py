"""Pages in a real browser: size, reach, contrast and keyboard; axe-core as an outside judge."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from bedlore.service.book import LogFilter
from bedlore.store.db.doors import give_role
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from tests import morning_fake
from tests.browser.conftest import SIZES
from tests.unit.service.test_photographs import picture
from tests.web.below_cases import PAGE, learnt_bed, rest_dates, shelters, spring_row

PAGES = {
    "today": "today/", "bed": "beds/sluice/", "write": "write/", "feed": "write/feed/?bed=sluice",
    "probe": "write/probe/?bed=sluice", "log": "log/", "farm": "farm/", "scores": "score-card/",
    "build": "build/?pattern=trays", "carried": "carried/",
    "aid": "aid/", "aid-bed": "beds/sluice/aid/",
    "people": "people/", "account": "../../account/",
    "reading": "../../reading/", "limits": "change/limits/",
    "site": "change/site/", "store": "change/store/", "rebuild": "beds/ladder/rebuild/",
    "readings": "bring-in/readings/", "sheet": "beds/sluice/sheet/",
    "aid-told": "beds/sluice/aid/?yes=sour_smell&no=heat",
    "alerts": "alerts/", "jobs": "jobs/", "what-if": "beds/sluice/what-if/",
}  # fmt: skip
_TALL = "document.documentElement.scrollHeight"
# What can be tapped on its own; links in running text are measured by axe.
_TAPPED = (
    "button:not(.first), .tap:not(.off), .boards a, .chips label, .check label, summary, select"
)
_SMALL = """(tapped) => [...document.querySelectorAll(tapped)].filter((one) => {
  const box = one.getBoundingClientRect();
  return box.width > 0 && (box.width < 55.5 || box.height < 55.5);
}).map((one) => one.outerHTML.slice(0, 120))"""
_CLOSE = """() => [...document.querySelectorAll(".chips, .stepper, .acts, .answers, .boards ul")]
  .flatMap((group) => {
    const boxes = [...group.querySelectorAll("label, button, .tap, a, .stepper input")]
      .filter((one) => !one.closest("legend") && !one.closest(".other"))
      .map((one) => one.getBoundingClientRect()).filter((box) => box.width > 0);
    return boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) =>
      Math.max(b.left - a.right, a.left - b.right, b.top - a.bottom, a.top - b.bottom) < 11.5));
  }).length"""


@pytest.mark.parametrize("size", SIZES)
def test_every_page_passes_axe_and_can_be_tapped_with_gloves(
    size: str, page_at: Any, pictures: Path
) -> None:
    axe_api = pytest.importorskip("axe_playwright_python.sync_playwright",
                                  reason="axe-playwright-python is not installed")  # fmt: skip
    page = page_at(size)
    rules = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa"]
    wrong = []
    for name, path in PAGES.items():
        page.goto(f"/farms/mill/{path}")
        page.screenshot(path=pictures / f"{name}-{size}.png", full_page=True)
        # As tall as the page: what has scrolled under the boards is not too small.
        page.set_viewport_size({"width": SIZES[size][0], "height": page.evaluate(_TALL) + 200})
        found = axe_api.Axe().run(page, options={"runOnly": rules}).response["violations"]
        wrong += [(name, v["id"], v["nodes"][0]["target"]) for v in found]
        wrong += [(name, "too small", one) for one in page.evaluate(_SMALL, _TAPPED)]
        wrong += [(name, "too close", count) for count in [page.evaluate(_CLOSE)] if count]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wrong.append((name, "wider than the screen", ""))
        page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))
    assert wrong == []
    assert page.said == []  # no script or style was stopped by the content policy


@pytest.mark.parametrize("size", SIZES)
def test_what_jobs_keep_for_a_beds_page_fits_all_opened(
    size: str, page_at: Any, keeper: Account, pictures: Path, tmp_path: Path, settings: Any
) -> None:
    axe_api = pytest.importorskip("axe_playwright_python.sync_playwright",
                                  reason="axe-playwright-python is not installed")  # fmt: skip
    settings.DATA_FOLDER = tmp_path
    row = spring_row()
    give_role(keeper.pk, row.pk, "keeper", morning_fake.NOW)
    keeping = wiring.keeping_of(row)
    keeping.keep_learnt(learnt_bed(tmp_path / "learnt"))
    keeping.keep_dates("k", rest_dates())
    keeping.keep_shelters("k", shelters())
    page = page_at(size)
    page.goto(PAGE)
    page.screenshot(path=pictures / f"below-{size}.png", full_page=True)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.screenshot(path=pictures / f"below-open-{size}.png", full_page=True)
    page.set_viewport_size({"width": SIZES[size][0], "height": page.evaluate(_TALL) + 200})
    rules = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa", "best-practice"]
    found = axe_api.Axe().run(page, options={"runOnly": rules}).response["violations"]
    assert [(v["id"], v["nodes"][0]["target"]) for v in found] == []
    assert page.evaluate(_SMALL, _TAPPED) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert page.locator("section[aria-labelledby=learnt] table").count() == 1


def test_pages_reflow_at_320_px(page_at: Any) -> None:
    page = page_at("phone")
    page.set_viewport_size({"width": 320, "height": 640})
    for name in ("today", "bed", "probe", "log", "farm", "people", "store", "rebuild", "sheet"):
        page.goto(f"/farms/mill/{PAGES[name]}")
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, name


def test_feeding_takes_three_taps_from_today(page_at: Any, farm_row: FarmRow) -> None:
    page = page_at("phone", has_touch=True)
    page.goto("/farms/mill/today/")
    page.locator("#bed-1 .acts").get_by_role("link", name="Fed").tap()
    page.get_by_role("button", name="How much +0.5").tap()
    expect(page.locator("[name=count]")).to_have_value("1.5")
    send = page.get_by_role("button", name="Write it down for")
    box = send.bounding_box()
    boards = page.locator(".boards ul").bounding_box()
    assert 400 < box["y"] < boards["y"] - box["height"] - 11, "the button is not under the thumb"
    send.tap()
    page.wait_for_url("**/log/?written=*")
    page.get_by_role("button", name="Take it back").wait_for()
    assert len(DbLog(farm_row).page(LogFilter(kinds=("feed",)), 5)) == 1


def test_a_newcomer_describes_a_first_bed_in_forty_taps(page_at: Any) -> None:
    page, taps = page_at("phone", has_touch=True), 0
    page.goto("/start/")

    def tap(where: Any) -> None:
        nonlocal taps
        where.tap()
        taps += 1

    tap(page.get_by_role("link", name="Lined box"))
    told = {
        "What you call the bed": "Cellar", "Length inside [cm]": "100", "Name of the place": "Lane",
        "Time zone, such as Europe/Vienna": "Europe/Vienna",
        "Latitude, whole degrees will do": "47",
        "Coldest month, a usual night [°C]": "-6", "Coldest month, a usual afternoon [°C]": "1",
        "Warmest month, a usual night [°C]": "13", "Warmest month, a usual afternoon [°C]": "25",
    }  # fmt: skip
    for label, text in told.items():
        field = page.get_by_label(label)
        tap(field)
        field.fill(text)
    tap(page.get_by_role("button", name="Draw it again"))
    page.locator("figure", has_text="100 cm").wait_for()
    tap(page.locator(".chips label", has_text="a shed"))
    tap(page.get_by_role("button", name="Set it up").last)
    page.wait_for_url("**/farms/lane/today/")
    page.get_by_text("The first outlook is being worked out").wait_for()
    assert taps <= 40
    assert page.said == []


def test_everything_works_without_a_script(page_at: Any, farm_row: FarmRow) -> None:
    page = page_at("phone", java_script_enabled=False)
    page.goto("/farms/mill/write/probe/?bed=sluice")
    page.get_by_role("button", name="It reads -5".replace("-", "−")).click()
    expect(page.locator("[name=temp_c]")).to_have_value("5")
    page.locator("[name=temp_c]").press("Enter")  # Enter writes, it does not step
    page.wait_for_url("**/log/?written=*")
    assert DbLog(farm_row).page(LogFilter(), 5)[0].entry.temp_c == 5.0
    page.goto("/farms/mill/beds/sluice/")
    expect(page.locator("#plan")).to_contain_text("Mon 12 Jan, 07:00 – now")
    page.get_by_role("link", name="Half day on").click()
    expect(page.locator("#plan")).to_contain_text("Mon 12 Jan, 19:00")


def test_the_day_of_the_plan_is_swapped_in_place_by_keyboard(page_at: Any) -> None:
    page = page_at("table")
    page.goto("/farms/mill/beds/sluice/")
    page.wait_for_load_state("networkidle")  # before its script is there a link is a link
    page.evaluate("window.kept = true")
    page.get_by_role("link", name="Day on", exact=True).focus()
    page.keyboard.press("Enter")
    page.locator("#plan", has_text="Tue 13 Jan, 07:00").wait_for()
    page.locator(".htmx-settling, .htmx-added").first.wait_for(state="detached")
    page.keyboard.press("Enter")
    page.locator("#plan", has_text="Wed 14 Jan, 07:00").wait_for()
    assert page.evaluate("window.kept") is True
    assert page.evaluate("document.activeElement.id") == "day-on"


def test_focus_is_seen_and_never_under_the_boards(page_at: Any) -> None:
    page = page_at("phone")
    page.goto("/farms/mill/today/")
    hidden = []
    for _ in range(25):
        page.keyboard.press("Tab")
        seen = page.evaluate("""() => {
          const one = document.activeElement, box = one.getBoundingClientRect();
          const style = getComputedStyle(one), rail = document.querySelector(".boards ul");
          const under = !rail.contains(one) && box.top > rail.getBoundingClientRect().top;
          const marked = style.outlineStyle !== "none" || style.boxShadow !== "none";
          return [one.outerHTML.slice(0, 80), under, marked];
        }""")
        if seen[1] or not seen[2]:
            hidden.append(seen)
    assert hidden == []


def test_print_leaves_out_what_is_tapped(page_at: Any) -> None:
    page = page_at("table")
    page.goto("/farms/mill/today/")
    page.emulate_media(media="print")
    for away in (".boards", ".answers", ".acts"):
        expect(page.locator(away).first).to_be_hidden()
    expect(page.locator(".face svg").nth(1)).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_a_what_if_is_tapped_together_and_answered(
    size: str, page_at: Any, pictures: Path, farm_row: FarmRow
) -> None:
    axe_api = pytest.importorskip("axe_playwright_python.sync_playwright",
                                  reason="axe-playwright-python is not installed")  # fmt: skip
    farm_row.as_of = dt.datetime(2024, 11, 20, 8, tzinfo=dt.UTC)  # little to replay
    farm_row.save()
    page = page_at(size)
    page.goto("/farms/mill/beds/sluice/what-if/")
    page.locator("summary", has_text="Insulation").click()
    page.locator("button[value='foam_lid_m:10']").click()
    page.get_by_role("button", name="Work it out").last.click()
    page.get_by_role("heading", name="Both futures").wait_for()
    expect(page.locator(".act")).to_contain_text("10 cm of foam on top")
    expect(page.locator("figure svg:visible")).to_have_count(4)
    page.screenshot(path=pictures / f"what-if-told-{size}.png", full_page=True)
    rules = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa"]
    found = axe_api.Axe().run(page, options={"runOnly": rules}).response["violations"]
    assert [(v["id"], v["nodes"][0]["target"]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.said == []


def test_a_photograph_goes_from_the_phone_into_the_log(
    page_at: Any, pictures: Path, tmp_path: Path
) -> None:
    (tmp_path / "mites.jpg").write_bytes(picture((900, 600)).getvalue())
    page = page_at("phone")
    page.goto("/farms/mill/write/note/?bed=sluice")
    page.locator("[name=note]").fill("Mites on the lid?")
    page.locator("[name=photo]").set_input_files(tmp_path / "mites.jpg")
    page.get_by_role("button", name="Write it down for").click()
    page.wait_for_url("**/log/?written=*")
    page.locator(".photos img").scroll_into_view_if_needed()
    page.locator(".photos img").evaluate("(one) => one.decode()")  # drawn, not only there
    page.screenshot(path=pictures / "photographs-phone.png", full_page=True)
    assert page.said == []
    page.locator(".photos a").click()  # the browser's own viewer may not style itself there
    page.wait_for_url("**/photos/*.jpg")
    assert page.locator("img").evaluate("(one) => one.naturalWidth") == 900
