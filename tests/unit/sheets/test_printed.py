"""The sheet to print: a PDF whose words are data, never markup."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest

from bedlore.errors import Fault
from bedlore.farm.load import load_farm
from bedlore.service.account import report_account
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import dot_count, leaf_of
from bedlore.sheets.printed import sheet_data, sheet_pdf
from bedlore.sheets.typeset import printed_mark
from tests.morning_fake import FARM_FILE, morning

MARKUP = '#panic("no") $x^2$ *bold* _it_ `raw` @label <tag> \\ #include "/etc/passwd" [ ] { }'


@pytest.fixture(scope="module")
def account() -> dict:
    farm = load_farm(FARM_FILE)
    bed = farm.beds[0].model_copy(update={"name": MARKUP})
    made = morning(farm.model_copy(update={"name": MARKUP, "beds": (bed,)}))
    return report_account(replace(made, faults=(Fault(MARKUP, MARKUP),), weather_note=MARKUP))


def test_markup_of_the_keeper_stays_words(account: dict) -> None:
    pdf = sheet_pdf(account)
    assert pdf.startswith(b"%PDF")
    assert len(pdf) > 20_000


@pytest.mark.parametrize(("share", "dots"), [(0, 0), (0.004, 0.5), (0.06, 1), (0.32, 3), (1, 10)])
def test_dots(share: float, dots: float) -> None:
    assert dot_count(share) == dots


def test_a_leaf_speaks_the_keepers_units(account: dict) -> None:
    leaf = leaf_of(account["beds"][0], Shown("us"), account["time_zone"])
    assert "2 in of straw" in leaf["headline"]
    assert all("°F" in words for name, words in leaf["now"] if "place" in name)
    assert len(leaf["days"]) == 14


def test_odds_of_what_else_was_weighed_are_never_nought_or_certain(account: dict) -> None:
    bed = copy.deepcopy(account["beds"][0])
    bed["advice"]["effect"]["odds"] |= {"odds_cold": 1.0, "odds_hot": 0.0, "odds_sour": 0.04,
                                        "members": 200}  # fmt: skip
    leaf = leaf_of(bed, Shown("metric"), account["time_zone"])
    assert leaf["rivals"][0][1:4] == ["nearly all", "fewer than 1 in 60", "4 in 100"]


def test_the_marks_on_paper_are_those_on_the_page(account: dict) -> None:
    data = sheet_data(account, Shown("metric"))
    leaf = data["leaves"][0]
    assert leaf["mark_svg"] == printed_mark(leaf["shape"], leaf["mark"])
