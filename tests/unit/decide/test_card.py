"""The if-you-find card."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import cache

import pytest

from bedlore.bed.history import start_of
from bedlore.decide.card import BANDS, find_card, rows_of
from bedlore.decide.case import Case
from bedlore.decide.meals import tables
from bedlore.decide.records import FindCard
from bedlore.farm.log import Feed
from bedlore.farm.model import Container, StoreItem
from bedlore.say import on_day

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


def scraps_kg(act: str) -> float:
    """What a row says to feed, in kilograms; no container is known where it is used."""
    masses = re.findall(r"([\d.]+) (kg|g)\b", act) if act.startswith("Feed") else []
    return sum(float(number) * (1.0 if unit == "kg" else 0.001) for number, unit in masses)


def test_no_row_gives_more_than_the_ceiling_after_such_a_look() -> None:
    """0.5 kg and 0.05 kg of card were the last meal: 1.5 times that, 0.9 where some is left."""
    case = case_of(BED, feeds=[feed(2 + 4 * i, BED, 0.5) for i in range(7)], past_c=16.0)
    found = find_card(case)
    least_fed = min(tables(case), key=lambda t: case.uneaten_kg[:, t.position].mean())
    assert least_fed.meal is not None
    for left, share in (("none", 1.5), ("some", 0.9)):
        given = [scraps_kg(row.act) for row in rows_of(found, left)]  # type: ignore[arg-type]
        assert max(given) <= share * least_fed.meal.mass_kg * 1.05  # said to two figures
    assert max(scraps_kg(row.act) for row in found.rows) > 0.0


def test_a_first_meal_is_no_more_than_the_quart_the_advice_allows() -> None:
    """About a quart to the bed (0.473 kg at 500 kg/m3), not one and a half."""
    case = case_of(BED, days=10, past_c=16.0)
    given = [scraps_kg(row.act) for row in find_card(case).rows]
    assert 0.0 < max(given) <= sum(table.cap_kg for table in tables(case)) * 1.05


def test_of_what_wants_care_no_more_than_a_tenth_of_the_ration() -> None:
    """A tenth of 1 lb/ft2 over 0.36 m2 is 0.18 kg."""
    rice = StoreItem(material="food_rice_cooked", mass_kg=6.0)
    case = case_of(BED, feeds=fed(), store=[rice], past_c=16.0)
    assert max(scraps_kg(row.act) for row in find_card(case).rows) <= 0.19


@pytest.mark.parametrize("left", ["none", "some", "lots"])
def test_a_new_bed_is_left_alone_until_its_two_weeks_are_over(left: str) -> None:
    case = case_of(BED, feeds=[feed(20, BED, 0.45)])
    until = (start_of(BED, dt.UTC) + dt.timedelta(days=34)).date()
    found = find_card(case)
    acts = {row.act for row in rows_of(found, left)}  # type: ignore[arg-type]
    assert acts == {f"New bed: leave it until {on_day(until)}."}
    assert found.good_until == until
    over = find_card(case_of(BED, feeds=[feed(13, BED, 0.45)]))
    assert not any("New bed" in row.act for row in over.rows)
