"""The sheet to print: a PDF whose words are data, never markup."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bedlore.errors import Fault
from bedlore.farm.load import load_farm
from bedlore.service.account import report_account
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import dot_count, leaf_of
from bedlore.sheets.printed import sheet_pdf
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
