"""What a sale, a split or a harvest leaves of a herd, and when it is back."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from bedlore.decide.case import Case
from bedlore.decide.herd_after import (
    ENOUGH,
    MAY_TAKE,
    HerdAfter,
    Take,
    _back_words,
    herd_after,
    without,
)
from bedlore.farm.bed import Bed
from tests.unit.decide.conftest import bed_of, case_of, feed, weather

MEMBERS = 8


def case_at(ahead_c: float) -> Case:
    """A bed with room to grow: 150 g of worms a side, fed well."""
    plain = bed_of(cover=True).model_dump()
    bed = Bed.model_validate(
        {**plain, "zones": [{**zone, "worms_kg": 0.15} for zone in plain["zones"]]}
    )
    feeds = [feed(d, bed, 1.0) for d in (1, 8, 15, 22)]
    case = case_of(bed, past_c=18.0, ahead_c=ahead_c, feeds=feeds, members=MEMBERS)
    return replace(case, air_long=weather(ahead_c, 105, rh=0.85))


@pytest.fixture(scope="module")
def mild() -> Case:
    return case_at(20.0)


@pytest.fixture(scope="module")
def few_taken(mild: Case) -> HerdAfter:
    return herd_after(mild, Take(share=0.1))


def test_picked_worms_leave_hatchlings_and_cocoons(mild: Case) -> None:
    before, after = mild.twin.state.herd, without(mild, Take(share=0.5), np.full(MEMBERS, 0.5)).herd
    assert np.allclose(after.adult_kg, 0.5 * before.adult_kg)
    assert np.allclose(after.juvenile_n, 0.5 * before.juvenile_n)
    assert np.allclose(after.adult_age_d / after.adult_n, before.adult_age_d / before.adult_n)
    assert np.array_equal(after.hatchling_n, before.hatchling_n)
    assert np.array_equal(after.cocoon_n, before.cocoon_n)


def test_one_stage_alone_can_be_taken(mild: Case) -> None:
    adults = without(mild, Take(share=0.5, stages=("adults",)), np.full(MEMBERS, 0.5)).herd
    assert np.allclose(adults.adult_n, 0.5 * mild.twin.state.herd.adult_n)
    assert np.array_equal(adults.juvenile_n, mild.twin.state.herd.juvenile_n)


def test_a_split_takes_bedding_and_cocoons_too(mild: Case) -> None:
    state = mild.twin.state
    half = without(mild, Take(share=0.5, with_bedding=True), np.full(MEMBERS, 0.5))
    assert half.herd.hatchling_n.sum() == pytest.approx(0.5 * state.herd.hatchling_n.sum(), rel=0.1)
    assert half.herd.cocoon_n.sum() == pytest.approx(0.5 * state.herd.cocoon_n.sum(), rel=0.02)
    assert half.cells.ash_kg.sum() == pytest.approx(0.5 * state.cells.ash_kg.sum(), rel=0.01)


def test_a_herd_that_was_back_for_a_while_only_is_said_to_have_shrunk_again(few_taken) -> None:  # type: ignore[no-untyped-def]
    """Back by 28 Sep in most futures, and in hardly one when winter has come."""
    autumn = dt.date(2025, 9, 28), dt.date(2025, 10, 15)
    fallen = _back_words(replace(few_taken, odds_back=0.0, back_on=autumn))
    assert "by 15 Oct in eight of ten. Many of these have shrunk again by the end." in fallen
    assert "shrunk" not in _back_words(replace(few_taken, odds_back=0.9, back_on=autumn))


def test_a_mass_is_that_mass_in_every_member(mild: Case) -> None:
    found = herd_after(mild, Take(worms_kg=0.05))
    assert found.taken_kg == pytest.approx((0.05, 0.05, 0.05))
    assert found.words.startswith("Taking about 50 g")
    more = herd_after(mild, Take(worms_kg=5.0))
    assert more.words.startswith("There is hardly as much as the 5.0 kg you ask for. Taking about")
    assert more.after["adults"] == (0.0, 0.0, 0.0)


def test_the_more_is_taken_the_later_the_herd_is_back(mild: Case, few_taken: HerdAfter) -> None:
    many = herd_after(mild, Take(share=0.9))
    assert few_taken.after["adults"][1] == pytest.approx(0.9 * few_taken.before["adults"][1])
    assert many.odds_back <= few_taken.odds_back
    assert few_taken.back_on[0] is not None
    assert many.back_on[0] is None or many.back_on[0] > few_taken.back_on[0]
    # What may be taken does not hang on what was asked.
    assert many.most_share == few_taken.most_share


def test_the_share_that_may_be_taken_is_back_and_the_next_is_not(few_taken: HerdAfter,
                                                                 mild: Case) -> None:  # fmt: skip
    most = few_taken.most_share
    assert most is not None
    if most > 0.0:
        assert herd_after(mild, Take(share=most)).odds_back >= ENOUGH
        assert f"Up to {round(100 * most)} %" in few_taken.words
    if most < MAY_TAKE[-1]:
        more = MAY_TAKE[MAY_TAKE.index(most) + 1 if most else 0]
        assert herd_after(mild, Take(share=more)).odds_back < ENOUGH


def test_in_the_cold_a_herd_comes_back_more_seldom(mild: Case) -> None:
    cold, warm = herd_after(case_at(4.0), Take(share=0.5)), herd_after(mild, Take(share=0.5))
    assert cold.odds_back < warm.odds_back
    assert (cold.most_share or 0.0) <= (warm.most_share or 0.0)


def test_an_empty_bed_has_nothing_to_take(mild: Case) -> None:
    herd = mild.twin.state.herd
    none = herd._replace(**{n: np.zeros_like(getattr(herd, n)) for n in herd._fields})
    bare = replace(mild, twin=replace(mild.twin, state=replace(mild.twin.state, herd=none)))
    assert herd_after(bare, Take(share=0.5)) is None


def test_next_to_no_worms_are_none_to_take(mild: Case) -> None:
    herd = mild.twin.state.herd
    few = {n: 1e-4 * getattr(herd, n) for n in herd._fields if n not in ("where", "cocoon_where")}
    state = replace(mild.twin.state, herd=herd._replace(**few))
    assert herd_after(replace(mild, twin=replace(mild.twin, state=state)), Take(share=0.5)) is None
