"""The if-you-find card."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

from bedlore.decide.card import BANDS, find_card, rows_of
from bedlore.decide.case import Case
from bedlore.decide.records import FindCard
from bedlore.farm.log import Feed
from bedlore.farm.model import Container

from .conftest import bed_of, case_of, feed

BED = bed_of()
SCOOP = Container(id="scoop", name="scoop", volume_l=0.8)


@cache
def fed() -> tuple[Feed, ...]:
    return tuple(feed(2 + 4 * i, BED, 1.0) for i in range(7))


@cache
def card() -> FindCard:
    return find_card(case_of(BED, feeds=fed(), containers=(SCOOP,)))


def kg(act: str) -> float:
    """The amount of scraps in a row, in scoops."""
    if not act.startswith("Feed"):
        return 0.0
    words = act.split(": ")[1].split(" + ")[0]
    parts = {"half": 0.5, "quarter": 0.25, "three quarters": 0.75, "one": 1.0}
    number = re.search(r"about (\d+)", words)
    whole = float(number.group(1)) if number else 0.0
    return whole + sum(v for k, v in parts.items() if re.search(rf"\b{k}\b", words))


def test_a_row_for_each_finding_and_band() -> None:
    found = {(row.food_left, row.band) for row in card().rows}
    assert found == {(left, band) for left in ("none", "some", "lots") for band in BANDS}


def test_lots_left_is_never_fed() -> None:
    assert all(row.act.startswith("No food") for row in rows_of(card(), "lots"))


def test_less_is_given_when_some_is_left_and_when_it_is_cold() -> None:
    none = {row.band: kg(row.act) for row in rows_of(card(), "none")}
    some = {row.band: kg(row.act) for row in rows_of(card(), "some")}
    assert all(some[band] <= none[band] for band in BANDS)
    assert none["cold"] <= none["mild"]
    assert none["mild"] > 0.0


def test_amounts_are_in_the_keepers_containers() -> None:
    fed_rows = [row for row in card().rows if row.act.startswith("Feed")]
    assert fed_rows
    assert all("scoop" in row.act for row in fed_rows)


def test_the_card_does_not_depend_on_the_forecast(make_case: Callable[..., Case]) -> None:
    other = find_card(make_case(BED, feeds=fed(), containers=(SCOOP,), ahead_c=-9.0))
    assert other.rows == card().rows
