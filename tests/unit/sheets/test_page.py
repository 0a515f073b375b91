"""The page: well-formed, self-contained, nothing injected, readable without colour or script."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedlore.errors import Fault
from bedlore.farm.load import load_farm
from bedlore.service.account import report_account
from bedlore.sheets.page import dots_svg, mark_svg, page_html
from tests.morning_fake import FARM_FILE, morning

NASTY = "<script>alert(1)</script>\"'&{{ 7*7 }}#let x = 1 $x$ \\u{202e}"
_VOID = {"meta", "br", "link", "img", "hr", "input"}


class Reader(HTMLParser):
    """Collects tags and text, and fails on tags that do not close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open[-1] == tag, f"</{tag}> closes <{self.open[-1]}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def nasty_page() -> str:
    """One bed with hostile words in every place a keeper writes."""
    farm = load_farm(FARM_FILE)
    bed = farm.beds[0].model_copy(update={"name": NASTY})
    made = morning(farm.model_copy(update={"name": NASTY, "beds": (bed,)}))
    made = replace(made, faults=(Fault(NASTY, NASTY),), weather_note=NASTY)
    return page_html(report_account(made))


@pytest.fixture(scope="module")
def page() -> str:
    """The two other beds as they are."""
    farm = load_farm(FARM_FILE)
    return page_html(report_account(morning(farm.model_copy(update={"beds": farm.beds[1:]}))))


def test_it_is_well_formed_and_names_its_language(page: str) -> None:
    reader = read(page)
    assert dict(reader.tags)["html"] == {"lang": "en"}
    ids = [attrs["id"] for _, attrs in reader.tags if "id" in attrs]
    assert len(ids) == len(set(ids)), "an id is there twice"


def test_nothing_is_fetched_and_nothing_runs(page: str, nasty_page: str) -> None:
    for html in (page, nasty_page):
        for tag, attrs in read(html).tags:
            assert tag not in ("script", "link", "iframe", "object", "embed", "img")
            for name, value in attrs.items():
                assert not name.startswith("on")
                if name in ("href", "src", "xlink:href"):
                    assert (value or "").startswith("#"), value
        assert "@import" not in html
        assert re.findall(r"url\((?!#)", html) == []


def test_what_the_keeper_wrote_is_only_words(nasty_page: str) -> None:
    reader = read(nasty_page)
    assert "<script" not in nasty_page
    assert "49" not in "".join(w for w in reader.words if "7*7" in w)
    assert any("<script>alert(1)</script>" in words for words in reader.words)


def test_every_picture_has_words(page: str) -> None:
    reader = read(page)
    for tag, attrs in reader.tags:
        if tag == "svg":
            told = {"aria-labelledby", "aria-hidden", "aria-label", "aria-roledescription"}
            assert told & set(attrs) or "mark" in (attrs.get("class") or ""), attrs
    captions = sum(tag == "figcaption" for tag, _ in reader.tags)
    assert captions == sum(tag == "figure" for tag, _ in reader.tags)
    assert sum(tag == "details" for tag, _ in reader.tags) == 2


def test_the_account_is_all_there(page: str) -> None:
    words = " ".join(read(page).words).replace("\N{NO-BREAK SPACE}", " ")
    for said in (
        "Lay 5 cm of straw over the whole of Weir", "Straw is dry tinder", "32 in 100", "4 in 100",
        "fewer than 1 in 60", "Feed half a blue bucket", "Take 250 g of worms", "When you dig:",
        "grams of joy", "How this is worked out", "Sources", "your cold limit, 4 °C",
        "drawn from the normals", "Nothing yet: let it be",
    ):
        assert said in words, said


def test_it_promises_nothing(page: str) -> None:
    words = " ".join(read(page).words)
    assert re.search(r"\b(safe|safely|guaranteed|cures?|kills?)\b", words, re.IGNORECASE) is None


def test_both_widths_are_there_and_letters_are_large(page: str) -> None:
    assert page.count('class="wide"') == page.count('class="narrow"') == 6
    sizes = [float(s) for s in re.findall(r'class="cell-temp"[^>]*|font-size="([\d.]+)px"', page)
             if s]  # fmt: skip
    assert min(sizes) >= 14


@given(st.floats(0, 10))
def test_dots_are_ten(filled: float) -> None:
    assert dots_svg(filled).count("<circle") == 10


@settings(max_examples=20)
@given(st.sampled_from(["round", "square", "triangle", "diamond", "hexagon"]), st.integers(1, 99))
def test_marks_show_their_numeral(shape: str, mark: int) -> None:
    assert f">{mark}</text>" in mark_svg(shape, mark)
