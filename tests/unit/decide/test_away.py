"""Being away: what is weighed, how a neighbour who looks feeds, and never too much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedlore.decide.away import CUP_SHARE, Leaving, _follow, _Look, _run, _table, away, cup_words
from bedlore.decide.meals import CLEARED_FACTOR
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.log import Look
from tests.unit.decide.conftest import bed_of, case_of, feed

FED = [feed(day, bed_of(), 1.5) for day in (5, 12, 20, 27)]


@pytest.fixture(scope="module")
def mild():
    return case_of(bed_of(), ahead_c=16.0, late_c=16.0, feeds=FED)


@pytest.fixture(scope="module")
def found(mild):
    return away(mild, 2, 23)


def test_all_ways_are_weighed_on_the_same_members(found) -> None:
    ways = [found.best, *found.others]
    assert len({one.leaving for one in ways}) == len(ways) >= 6
    assert found.nothing in ways
    assert found.nothing.leaving == Leaving()
    assert found.best.points <= found.nothing.points
    visits = {one.leaving.visits for one in ways}
    assert visits == {(), (7, 14, 21)}  # five days after leaving, then weekly, none at the return


def test_food_before_leaving_keeps_the_ceiling_and_feeds_the_worms(mild, found) -> None:
    table = _table(mild)
    assert table is not None
    fed = [one for one in (found.best, *found.others) if one.leaving.before]
    assert fed
    for one in fed:
        assert sum(action.mass_kg for action in one.leaving.before) <= table.cap_kg * 1.001
        assert one.hungry_d[2] <= found.nothing.hungry_d[2]
        assert one.effect.food_left_kg[1] > found.nothing.effect.food_left_kg[1]


def test_a_neighbour_looks_before_feeding(mild) -> None:
    """By hand: lots left: nothing; some: half; none: a cup, but 1.5 times what went at most."""
    table = _table(mild)
    way = Leaving((), (7,), (("food_mixed_kitchen", 1.0),))
    members = np.arange(4)
    look = _Look(mild, way, table, (), members)
    soft = look._soft
    look._meal = np.full(4, 1.0)
    look._had = np.array([1.0, 1.0, 1.0, 0.05 + 0.2 * soft])
    share = look.share(np.array([0.7, 0.4, 0.05, 0.05]))
    few = CLEARED_FACTOR * 0.2
    assert share == pytest.approx([0.0, 0.5, min(1.0, CLEARED_FACTOR * 0.95 / soft), few])
    assert look.cups == pytest.approx(share)


def test_no_cup_is_larger_than_half_a_week_and_none_is_laid_on_much_food(mild, found) -> None:
    table = _table(mild)
    area = mild.area_m2(table.position)
    helped = next(one for one in found.others if one.leaving.visits)
    cup_kg = sum(mass for _, mass in helped.leaving.cup)
    assert cup_kg == pytest.approx(CUP_SHARE * WEEKLY_SCRAPS_KG_M2 * area, abs=0.01)
    assert helped.fed_kg[2] <= 3 * cup_kg
    full = case_of(bed_of(), ahead_c=6.0, late_c=6.0, past_c=6.0,
                   feeds=[feed(day, bed_of(), 6.0) for day in (24, 27, 29)])
    much = _follow(full, helped.leaving, 23, np.arange(full.twin.members))
    assert much.fed_kg[1] <= 0.5 * cup_kg + 1e-9  # of three cups


def test_lots_left_by_a_look_means_no_food_before(mild) -> None:
    look = Look(id="l9", at=mild.now, bed="sluice", food_left="lots")
    seen = replace(mild, entries=(*mild.entries, look))
    ways = away(seen, 0, 21)
    assert not any(a.kind == "feed" for one in (ways.best, *ways.others)
                   for a in one.leaving.before)  # fmt: skip


def test_a_run_in_pieces_is_the_run_in_one(mild) -> None:
    """Visits at which nothing is fed change nothing, in whatever order members are run."""
    some = np.array([5, 0, 3])
    none = _run(mild, Leaving(), [], 23, some)[0].run
    pieces, cups = _run(mild, Leaving((), (7, 14), (("food_mixed_kitchen", 1e-9),)), [], 23, some)
    fed = cups > 0.0
    assert np.array_equal(pieces.run.values[~fed], none.values[~fed])
    way = Leaving((), (7, 14), (("food_mixed_kitchen", 0.5),))
    three, cups = _run(mild, way, [], 23, some)
    assert (cups > 0.0).any()
    for place, member in enumerate(some):  # each as if it were run alone
        alone = _run(mild, way, [], 23, np.array([member]))[0].run
        assert np.array_equal(three.run.values[place], alone.values[0])


def test_a_dry_summer_calls_for_water_and_frost_has_its_day() -> None:
    dry_bed = bed_of(moisture=0.62)
    dry = case_of(dry_bed, ahead_c=24.0, late_c=26.0, past_c=20.0,
                  feeds=[feed(day, dry_bed, 1.5) for day in (5, 12, 20)])
    assert any(a.kind == "water" for a in away(dry, 2, 23).best.leaving.before)
    cold = case_of(bed_of(), ahead_c=12.0, late_c=[12.0] * 10 + [-6.0] * 81, feeds=FED[:3])
    first = away(cold, 1, 25).nothing.first_d
    assert first["cold"] is not None
    assert first["cold"] >= 8
    assert first["hot"] is None


def test_dates_beyond_the_weather_are_refused(mild) -> None:
    for leave, back in ((5, 5), (-1, 10), (2, 400)):
        with pytest.raises(ValueError, match="weather"):
            away(mild, leave, back)


def test_a_cup_is_said_in_containers_or_weight(mild, found) -> None:
    helped = next(one for one in found.others if one.leaving.visits)
    words = cup_words(mild, helped.leaving)
    assert "kitchen scraps" in words[0]
