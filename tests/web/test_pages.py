"""The pages: what they show, that they fit their frame, and that they write what was tapped."""

from __future__ import annotations

import datetime as dt
import gzip
import random
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.test import Client
from django.utils.translation import override

from bedlore.farm.model import Farm
from bedlore.service.book import LogFilter
from bedlore.service.first_bed import PATTERNS, normals_between
from bedlore.service.morning import Morning
from bedlore.sheets import theme
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, AdviceGiven, FarmRow, JobRun
from bedlore.web.entry_fields import FORM_KINDS
from tests import morning_fake

WEB = Path(__file__).parents[2] / "src" / "bedlore" / "web"
Browser = Callable[..., Client]
PAGES = ("today/", "beds/sluice/", "write/", "write/feed/?bed=sluice", "log/", "farm/",
         "score-card/", "build/", "build/?pattern=trays")  # fmt: skip


def url(path: str) -> str:
    return f"/farms/mill/{path}"


class Outline(HTMLParser):
    """Open elements, ids, styles, scripts and what labels what in a page."""

    VOID = frozenset(("meta", "link", "input", "br", "img", "hr", "path", "rect", "line", "circle"))

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.faults: list[str] = []
        self.labels: set[str] = set()
        self.fields: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if "style" in found or any(name.startswith("on") for name in found):
            self.faults.append(f"{tag} has inline style or script")
        if tag in ("script", "link") and "//" in (found.get("src") or found.get("href") or ""):
            self.faults.append(f"{tag} comes from elsewhere")
        if tag == "style" or (tag == "script" and "src" not in found):
            self.faults.append(f"{tag} in the page")
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag == "label" and found.get("for"):
            self.labels.add(str(found["for"]))
        if tag in ("input", "select", "textarea") and found.get("type") not in (
            "hidden", "radio", "checkbox",
        ):  # fmt: skip
            self.fields.append(str(found.get("id")))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in self.VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"{tag} closes what it did not open")


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("role", ["keeper", "viewer"])
def test_every_page_is_well_formed_light_and_keeps_the_policy(
    path: str, role: str, as_: Browser, told: Morning
) -> None:
    answer = as_(role).get(url(path))
    if role == "viewer" and path.startswith(("write", "build")):
        assert answer.status_code == 403
        return
    assert answer.status_code == 200
    text = answer.content.decode()
    outline = Outline(text)
    assert outline.faults == []
    assert outline.open == []
    assert len(outline.ids) == len(set(outline.ids)), "an id is used twice"
    assert set(outline.fields) <= outline.labels, "a field has no label"
    assert '<html lang="en"' in text
    assert text.count("<h1") == 1
    assert len(gzip.compress(answer.content)) <= 60_000


def test_first_load_is_light(as_: Browser, told: Morning) -> None:
    import django_htmx

    htmx = Path(django_htmx.__file__).parent / "static" / "django_htmx" / "htmx-2.min.js"
    own = [path.read_bytes() for path in (WEB / "static").iterdir()]
    page = as_("keeper").get(url("beds/sluice/")).content
    assert sum(len(gzip.compress(data)) for data in (htmx.read_bytes(), page, *own)) <= 200_000


def test_pages_are_drawn_once(as_: Browser, told: Morning, monkeypatch: pytest.MonkeyPatch) -> None:
    first = as_("keeper").get(url("beds/sluice/")).content

    def broken(*_: object) -> None:
        raise AssertionError("drawn again")

    monkeypatch.setattr("bedlore.web.pictures.section_svg", broken)
    monkeypatch.setattr("bedlore.web.pictures.outlook_chart", broken)
    second = as_("keeper").get(url("beds/sluice/")).content
    assert first.count(b"<svg") == second.count(b"<svg") > 8


def test_today_tells_the_most_urgent_first_with_its_odds_and_cautions(
    as_: Browser, told: Morning
) -> None:
    text = as_("keeper").get(url("today/")).content.decode()
    names = re.findall(r"<article id=\"bed-(\d)\"", text)
    due = [leaf for leaf in told.beds if leaf.advice.action.kind != "nothing"]
    assert len(names) == len(told.beds)
    marks = {bed.id: str(k + 1) for k, bed in enumerate(told.farm.beds)}
    assert set(names[: len(due)]) == {marks[leaf.bed_id] for leaf in due}
    assert "Straw is dry tinder" in text
    assert "32 in 100" in text
    assert text.count('name="food_left"') == 3 * len(told.beds)
    scales = {round(float(width) / float(box.split()[2]), 3) for box, width in re.findall(
        r'aria-labelledby="row-\dt-t[^>]+viewBox="([^"]+)" width="([\d.]+)"', text)}  # fmt: skip
    assert len(scales) == 1, "beds side by side are not drawn at one scale"


def test_without_an_outlook_today_says_so(as_: Browser) -> None:
    text = as_("keeper").get(url("today/")).content.decode()
    assert "first outlook is being worked out" in text
    assert as_("keeper").get(url("beds/sluice/")).status_code == 200


def test_an_old_outlook_says_how_old_it_is(as_: Browser, farm_row: FarmRow, told: Morning) -> None:
    from bedlore.store.db.models import OutlookRun
    from bedlore.web import wiring

    OutlookRun.objects.update(worked_at=wiring.clock() - dt.timedelta(days=3))
    text = as_("viewer").get(url("today/")).content.decode()
    assert "3 days ago" in text
    assert "check before you act" in text


def test_one_tap_answers_advice(as_: Browser, farm_row: FarmRow, told: Morning) -> None:
    browser = as_("helper")
    given = AdviceGiven.objects.get(bed="sluice")
    answered = browser.post(url("today/answer/"), {"advice": given.pk, "answer": "skipped"},
                            follow=True)  # fmt: skip
    given.refresh_from_db()
    assert given.answer == "skipped"
    text = answered.content.decode()
    assert "Skipped, helper" in text
    assert f'name="advice" value="{given.pk}"' not in text
    for bad in ({"advice": "x", "answer": "done"}, {"advice": given.pk, "answer": "maybe"}):
        assert "not understood" in browser.post(url("today/answer/"), bad,
                                                follow=True).content.decode()  # fmt: skip


def test_a_tap_on_the_card_writes_a_look_once(as_: Browser, book: DbLog, told: Morning) -> None:
    sent = {"bed": "sluice", "food_left": "lots", "client_id": "tap-7"}
    for _ in range(2):
        answer = as_("helper").post(url("today/found/"), sent, follow=True)
        assert "Take no more in" in answer.content.decode()
    (one,) = book.page(LogFilter(bed="sluice", kinds=("look",)), 9)
    assert one.entry.food_left == "lots"


def test_the_card_names_its_bands_where_they_differ(
    as_: Browser, farm_row: FarmRow, told: Morning
) -> None:
    from dataclasses import replace

    from bedlore.web import wiring

    bed = told.beds[0]
    rows = tuple(replace(row, act=f"{row.act} {row.band.upper()}") for row in bed.card.rows)
    keeping = wiring.stores_of(farm_row).keeping
    keeping.keep_advice([bed.advice])
    keeping.keep_morning(morning_fake.NOW, (replace(bed, card=replace(bed.card, rows=rows)),))
    sent = {"bed": bed.bed_id, "food_left": "some", "client_id": "tap-8"}
    said = as_("helper").post(url("today/found/"), sent, follow=True).content.decode()
    assert "Bed cold: Leave it. COLD Bed mild: Leave it. MILD" in said


def sendable(text: str) -> dict[str, str]:
    """What a form sends when nothing in it is touched."""
    form = text[text.index('<form method="post" class="entry') :]
    sent = dict(re.findall(r'<input type="hidden" name="([\w-]+)" value="([^"]*)"', form))
    sent.update(re.findall(r'type="radio" name="(\w+)" value="([^"]*)" checked', form))
    sent.update(re.findall(r'<input id="i-\w+" name="(\w+)" value="([^"]*)"', form))
    return sent


@pytest.mark.parametrize("kind", ["feed", "look", "probe"])
def test_the_three_main_acts_take_three_taps_and_no_typing(
    kind: str, as_: Browser, book: DbLog, told: Morning
) -> None:
    browser = as_("helper")
    address = url(f"write/{kind}/?bed=sluice")
    assert address.replace("&", "&amp;") in browser.get(url("today/")).content.decode()  # tap 1
    sent = sendable(browser.get(address).content.decode())
    if kind == "look":  # nothing is taken for seen that was not: this one has a tap more
        assert "food_left" not in sent
        sent["food_left"] = "lots"
    answer = browser.post(address, sent, follow=True)  # tap 2, or 3
    assert answer.status_code == 200
    assert "Written down:" in answer.content.decode()
    assert [one.entry.kind for one in book.page(LogFilter(bed="sluice"), 9)] == [kind]
    browser.post(address, sent)
    assert len(book.page(LogFilter(bed="sluice"), 9)) == 1  # the second tap writes nothing
    assert JobRun.objects.filter(kind="outlook").count() == 1


@pytest.mark.parametrize("kind", FORM_KINDS)
def test_every_kind_can_be_written_and_read_back_into_its_form(
    kind: str, as_: Browser, book: DbLog, told: Morning
) -> None:
    browser = as_("keeper")
    address = url(f"write/{kind}/?bed=sluice")
    sent = sendable(browser.get(address).content.decode())
    sent.update({"note": "a word", "zone": "race-1", "adults": "3", "when": "yesterday"})
    # What is seen or measured anew has no value to begin with.
    sent.update({"look": {"food_left": "none"}, "air": {"temp_c": "4"},
                 "moisture": {"moisture_frac": "70"}}.get(kind, {}))  # fmt: skip
    answer = browser.post(address, sent)
    assert answer.status_code == 302, answer.content.decode()[-4000:]
    (one,) = book.page(LogFilter(bed="sluice"), 9)
    assert (one.entry.kind, one.entry.note) == (kind, "a word")
    page = browser.get(url(f"log/{one.entry.id}/"))
    assert page.status_code == 200
    unchanged = browser.post(url(f"log/{one.entry.id}/"), sendable(page.content.decode())
                             | {"note": "a word"}, follow=True)  # fmt: skip
    assert "Nothing was changed" in unchanged.content.decode()


def test_what_cannot_be_used_is_kept_in_the_form_with_a_sentence(
    as_: Browser, book: DbLog, told: Morning
) -> None:
    sent = {"bed": "sluice", "temp_c": "four hundred", "depth_m": "10",
            "note": "<script>x</script>", "when": "other", "at": "2031-01-01T08:00"}  # fmt: skip
    answer = as_("helper").post(url("write/probe/?bed=sluice"), sent)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="four hundred"' in text
    assert 'aria-describedby="e-temp_c"' in text
    assert "&lt;script&gt;x" in text
    assert "<script>x" not in text
    assert book.page(LogFilter(), 9) == []


def test_steppers_work_without_a_script(as_: Browser, told: Morning) -> None:
    sent = {"bed": "sluice", "temp_c": "7.5", "depth_m": "10", "step": "temp_c:-1"}
    text = as_("helper").post(url("write/probe/?bed=sluice"), sent).content.decode()
    assert 'name="temp_c" value="6.5"' in text
    for bad in ("temp_c:x", "nothing:1", ":", "temp_c:1e999"):
        answer = as_("helper").post(url("write/probe/?bed=sluice"), {**sent, "step": bad})
        assert 'name="temp_c" value="7.5"' in answer.content.decode()


def test_us_units_are_shown_and_read(
    as_: Browser, people: dict[str, Account], book: DbLog, told: Morning
) -> None:
    browser = as_("helper")
    browser.post("/mine/", {"units": "us", "farm": "mill"})
    people["helper"].refresh_from_db()
    assert people["helper"].units == "us"
    page = browser.get(url("write/probe/?bed=sluice")).content.decode()
    assert "[°F]" in page
    browser.post(url("write/probe/?bed=sluice"), {**sendable(page), "temp_c": "50"})
    assert book.page(LogFilter(), 1)[0].entry.temp_c == pytest.approx(10.0)


def test_a_correction_keeps_the_other_parts_and_the_history(
    as_: Browser, farm_row: FarmRow, book: DbLog, told: Morning
) -> None:
    from bedlore.service.record_entry import record_entry
    from tests.web.conftest import INES

    raw = {"kind": "feed", "bed": "sluice", "at": morning_fake.NOW, "parts": [
        {"material": "coffee grounds", "amount": "1 kg"}, {"material": "bread", "amount": "2 kg"}]}
    first = record_entry(book, farm_of_row(farm_row), raw, INES, morning_fake.NOW)
    address = url(f"log/{first.written.entry.id}/")
    browser = as_("helper")
    sent = sendable(browser.get(address).content.decode())
    answer = browser.post(address, {**sent, "count": "3"}, follow=True)
    assert answer.status_code == 200
    (now,) = book.page(LogFilter(bed="sluice"), 9)
    assert [part.mass_kg for part in now.entry.parts] == [3.0, 2.0]
    history = browser.get(url(f"log/{now.entry.id}/")).content.decode()
    assert "<del>" in history
    browser.post(url(f"log/{now.entry.id}/take-back/"))
    (back,) = book.page(LogFilter(bed="sluice"), 9)
    assert [part.mass_kg for part in back.entry.parts] == [1.0, 2.0]


def test_the_log_is_found_by_bed_kind_and_words(
    as_: Browser, farm_row: FarmRow, book: DbLog, told: Morning
) -> None:
    from bedlore.service.record_entry import record_entry
    from tests.web.conftest import INES

    farm = farm_of_row(farm_row)
    for k in range(45):
        raw = {"kind": "note", "bed": "sluice", "note": f"number {k}",
               "at": morning_fake.NOW - dt.timedelta(hours=k)}  # fmt: skip
        record_entry(book, farm, raw, INES, morning_fake.NOW)
    browser = as_("viewer")
    text = browser.get(url("log/")).content.decode()
    assert text.count("<q>") == 40
    behind = re.search(r'href="(\?behind=[^"]+)"', text)
    assert behind is not None
    assert browser.get(url("log/") + behind[1]).content.decode().count("<q>") == 5
    assert "number 7<" in browser.get(url("log/"), {"text": "number 7"}).content.decode()
    assert "Nothing is written" in browser.get(url("log/"), {"kind": "feed"}).content.decode()
    for odd in ("\x00", "x" * 500, "2026-99-99"):
        for name in ("bed", "kind", "text", "since", "behind", "written"):
            assert browser.get(url("log/"), {name: odd}).status_code == 200


@pytest.mark.parametrize("pattern", [pattern.key for pattern in PATTERNS])
def test_a_newcomer_sets_up_a_first_bed(pattern: str, as_: Browser) -> None:
    browser = as_("stranger")
    page = browser.get("/start/", {"pattern": pattern})
    assert page.content.count(b"<svg") >= 2
    text = page.content.decode()
    sent = dict(re.findall(r'<input id="b-\w+"[^>]*name="(\w+)" value="([^"]*)"', text))
    sent.update(pattern=pattern, name="Cellar", farm="Thorn Lane", time_zone="Europe/Vienna",
                latitude="47", cold_night="-6", cold_day="1", warm_night="13", warm_day="25",
                building="shed", started="2025-01-01")  # fmt: skip
    half = browser.post("/start/", {**sent, "cold_night": "30", "worms": "lots"})
    assert half.status_code == 422
    assert 'value="lots"' in half.content.decode()
    made = browser.post("/start/", sent)
    assert made.status_code == 302, made.content.decode()[-3000:]
    row = FarmRow.objects.get(slug="thorn-lane")
    farm = farm_of_row(row)
    assert farm.beds[0].place == "indoors"
    assert farm.site.normals.daily_low_c[0] < farm.site.normals.daily_low_c[6]
    assert browser.get("/farms/thorn-lane/today/").status_code == 200
    added = browser.post("/farms/thorn-lane/build/",
                         {**sent, "name": "Second", "version": row.version})  # fmt: skip
    assert added.status_code == 302
    row.refresh_from_db()
    assert [bed.name for bed in farm_of_row(row).beds] == ["Cellar", "Second"]


def test_normals_between_months_keep_their_ends_and_turn_with_the_hemisphere() -> None:
    north = normals_between((-6.0, 1.0), (13.0, 25.0), 47)
    south = normals_between((-6.0, 1.0), (13.0, 25.0), -47)
    assert min(north["daily_low_c"]) == pytest.approx(-6, abs=0.4)
    assert max(north["daily_high_c"]) == pytest.approx(25, abs=0.4)
    assert north["daily_low_c"].index(min(north["daily_low_c"])) == 0
    assert south["daily_low_c"].index(min(south["daily_low_c"])) == 6
    assert all(low < high for low, high in zip(north["daily_low_c"], north["daily_high_c"],
                                               strict=True))  # fmt: skip


def test_the_score_card_shows_what_was_stored_and_nothing_else(
    as_: Browser, told: Morning, farm_row: FarmRow
) -> None:
    text = as_("viewer").get(url("score-card/")).content.decode()
    assert text.count('<th scope="row">') == len(told.beds)
    assert "can be checked against a later reading yet" in text


def test_the_style_uses_the_colours_of_the_report_at_seven_to_one() -> None:
    css = (WEB / "static" / "base.css").read_text("utf-8")
    named = dict(re.findall(r"--(\w+): (#[0-9A-F]{6})", css))
    for name in ("PAPER", "SHEET", "INK", "QUIET", "LINE", "MOSS", "CLAY", "SKY", "LEAF", "WOOD"):
        assert named[name.lower()] == getattr(theme, name), name
    pairs = [("ink", "paper"), ("ink", "wood"), ("ink", "leaf"), ("ink", "straw"),
             ("quiet", "paper"), ("clay", "sheet"), ("sky", "paper"), ("sky", "sheet"),
             ("quiet", "sheet")]  # fmt: skip
    for text, ground in pairs:
        assert theme.contrast(named[text], named[ground]) >= 7, (text, ground)
    assert theme.contrast("#FFFFFF", named["moss"]) >= 7


def test_pages_ask_for_words_in_the_readers_language(as_: Browser, told: Morning) -> None:
    answer = as_("viewer").get(url("today/"), headers={"accept-language": "es"})
    assert '<html lang="es"' in answer.content.decode()
    with override("es"):
        assert as_("viewer").get(url("log/")).status_code == 200


def test_a_farm_of_nobody_else(as_: Browser, told: Morning) -> None:
    farm: Farm = told.farm
    for bed in farm.beds:
        assert as_("stranger").get(url(f"beds/{bed.id}/")).status_code == 404
    assert as_("viewer").get(url("log/none/")).status_code == 404
    assert as_("helper").get(url("write/void/")).status_code == 404


BED_PAGES = ("", "aid/", "away/", "what-if/", "rebuild/", "sheet/", "sheet.pdf", "label.pdf")


@pytest.mark.parametrize("page", BED_PAGES)
def test_no_page_of_a_bed_that_is_not_there(page: str, as_: Browser, told: Morning) -> None:
    assert as_("keeper").get(url(f"beds/sluice/{page}")).status_code == 200
    assert as_("keeper").get(url(f"beds/none/{page}")).status_code == 404


NASTY = ("", " ", "\x00", "-1", "1e400", "nan", "inf", "٣", "²", "1,5", "9" * 40, "<b>", "'; --",
         "\ud800".encode("utf-8", "replace").decode(), "=1+1", "🪱" * 50, "on", "../..", "1:2",
         "2026-02-30", "0000-00-00T00:00", "race-1", "a" * 6000)  # fmt: skip


def some(names: list[str], seed: str) -> list[tuple[str, str]]:
    """A few of all pairs of a field and something odd in it."""
    return random.Random(seed).sample([(n, v) for n in names for v in NASTY], 14)


@pytest.mark.parametrize("kind", FORM_KINDS)
def test_whatever_is_typed_it_is_written_or_answered_with_a_sentence(
    kind: str, as_: Browser, book: DbLog, told: Morning
) -> None:
    browser = as_("helper")
    address = url(f"write/{kind}/?bed=sluice")
    fair = sendable(browser.get(address).content.decode())
    for name, value in some([*fair, "at", "note", "other_material", "advice", "step"], kind):
        more = {"when": "other"} if name == "at" else {}
        answer = browser.post(address, {**fair, **more, name: value})
        assert answer.status_code in (200, 302, 422), (name, value)
        if answer.status_code == 422:
            assert 'class="fault"' in answer.content.decode(), (name, value)


@pytest.mark.parametrize("path", ["build/?pattern=trays", "/start/?pattern=tub"])
def test_odd_descriptions_never_break_a_page(
    path: str, as_: Browser, told: Morning, farm_row: FarmRow
) -> None:
    browser = as_("keeper")
    address = path if path.startswith("/") else url(path)
    text = browser.get(address).content.decode()
    names = dict.fromkeys(re.findall(r'name="([\w-]+)"', text))
    for name, value in some(list(names), path):
        sent = {"part": "limits", "version": farm_row.version, "pattern": "tub", name: value}
        assert browser.post(address, sent).status_code in (200, 302, 422), (name, value)
