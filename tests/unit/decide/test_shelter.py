"""Shelter: every way run against the same weather, ranked, in degrees and odds."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed.matter import DRY_HEAT_J_KGK, WATER_HEAT_J_KGK
from bedlore.decide import shelter
from bedlore.decide.case import dry_kg
from bedlore.decide.shelter import MOST_CARRIED_KG, bed_kg, ice_cold_j, shelters_of
from bedlore.farm.bed import Limits
from bedlore.outlook.doubt import Doubt
from tests.unit.decide.conftest import bed_of, case_of

MAT = {"watts": 80.0, "setpoint_c": 8.0, "share_of_floor": 1.0}


@pytest.fixture(scope="module")
def cold():  # type: ignore[no-untyped-def]
    return shelters_of(case_of(bed_of(heat_mat=MAT), past_c=8.0, ahead_c=[8.0] * 4 + [-6.0] * 10,
                               members=12))  # fmt: skip


def test_a_cold_snap_is_named_with_its_day_and_every_way_is_ranked(cold) -> None:  # type: ignore[no-untyped-def]
    assert cold.threat == "cold"
    assert cold.odds > 0.5
    assert cold.when is not None
    assert (cold.when - cold.made_at.date()).days >= 4
    names = [way.name for way in cold.ways]
    assert set(names) >= {"straw", "leaves", "foam", "feed", "mat", "foam and mat"}
    keys = [(not way.holds, round(way.odds, 2)) for way in cold.ways]
    assert keys == sorted(keys)


def test_more_insulation_is_warmer_and_says_by_how_much(cold) -> None:  # type: ignore[no-untyped-def]
    ways = {way.name: way for way in cold.ways}
    assert ways["leaves"].kelvin > ways["straw"].kelvin > -0.2
    assert ways["foam and mat"].kelvin >= ways["foam"].kelvin - 0.1
    assert ways["foam"].helps
    assert "warmer" in ways["foam"].words
    assert any("local code" in caution for caution in cold.cautions)


def test_a_light_bed_may_be_moved_and_is_then_out_of_the_cold() -> None:
    bed = bed_of(length_m=0.5, width_m=0.4, zones=[
        {"id": "all", "worms_kg": 0.2, "bedding": [{"material": "bed_leaf_mold", "depth_m": 0.15}]}
    ])  # fmt: skip
    case = case_of(bed, past_c=8.0, ahead_c=-5.0, members=12)
    assert bed_kg(case) < MOST_CARRIED_KG
    found = shelters_of(case)
    assert found.ways[0].name == "indoors"
    assert found.ways[0].odds < found.odds


def test_in_heat_ice_cools_and_more_ice_cools_more() -> None:
    limits = Limits(hot_c=27.0)
    found = shelters_of(case_of(bed_of(place="outdoors", stand="legs"), past_c=22.0, ahead_c=29.0,
                                limits=limits, members=12))  # fmt: skip
    assert found.threat == "hot"
    few, many = sorted((w for w in found.ways if w.name == "ice"), key=lambda w: w.amount)
    assert many.kelvin > few.kelvin > 0.0
    assert {"shade", "water", "uncover"} <= {w.name for w in found.ways}
    assert "feed" not in {w.name for w in found.ways}


def test_where_nothing_threatens_nothing_is_offered() -> None:
    found = shelters_of(case_of(bed_of(), past_c=14.0, ahead_c=14.0, members=12))
    assert found.threat == ""
    assert found.ways == ()


def test_a_room_against_heat_is_called_as_cool_as_it_is_tried() -> None:
    """Also where autumn cools the air of the fortnight: the bed may still be too hot today."""
    bed = bed_of(length_m=0.5, width_m=0.4, zones=[
        {"id": "all", "worms_kg": 0.2, "bedding": [{"material": "bed_leaf_mold", "depth_m": 0.15}]}
    ])  # fmt: skip
    found = shelters_of(case_of(bed, past_c=20.0, ahead_c=[20.0] * 2 + [8.0] * 12,
                                limits=Limits(hot_c=16.0), members=12))  # fmt: skip
    assert found.threat == "hot"
    (room,) = (way for way in found.ways if way.name == "indoors")
    assert "a room of 20 degC" in room.takes


def test_ice_is_as_doubtful_as_what_it_is_held_against() -> None:
    case = case_of(bed_of(), past_c=24.0, ahead_c=24.0, members=4)
    sure, _ = shelter._iced(case, 4)()
    doubted, _ = shelter._iced(
        replace(case, twin=replace(case.twin, doubt=Doubt(wander_k=2.0))), 4
    )()
    warmest = [ahead.run.series("temp_warmest_c") for ahead in (sure, doubted)]
    assert not np.allclose(*warmest)


def test_odds_of_a_bed_are_counted_in_as_many_throughout(cold) -> None:  # type: ignore[no-untyped-def]
    counts = set(re.findall(r"in (10+)\b", " ".join([cold.words, *(w.words for w in cold.ways)])))
    assert len(counts) <= 1


def test_what_a_way_draws_or_saves_is_told(cold) -> None:  # type: ignore[no-untyped-def]
    ways = {way.name: way for way in cold.ways}
    assert f"; {round(ways['mat'].energy_kwh, 1)} kWh more." in ways["mat"].words
    assert f"; {round(-ways['straw'].energy_kwh, 1)} kWh less." in ways["straw"].words
    bare = replace(ways["straw"], energy_kwh=0.0)
    assert "kWh" not in shelter._way_words(bare, "cold", cold.odds, cold.members, 10)


def test_cold_of_a_bottle_by_hand() -> None:
    assert ice_cold_j(1, 30.0) == pytest.approx(1.5 * (2050 * 18 + 334e3 + 4180 * 30))
    assert ice_cold_j(1, 30.0) == pytest.approx(745e3, rel=1e-3)


def test_the_cold_taken_out_is_that_of_the_bottles() -> None:
    case = case_of(bed_of(), past_c=24.0, ahead_c=24.0, members=4)
    state = case.twin.state
    before = state.cells.temp_c.copy()
    after = shelter._cooled(state, 2.0)
    organic_and_ash = dry_kg(state)
    water = state.cells.water_kg.sum(axis=2)
    holds = (organic_and_ash * DRY_HEAT_J_KGK + water * WATER_HEAT_J_KGK).sum(axis=1)
    down = (before - after.cells.temp_c)[:, 0, 0]
    assert np.allclose(holds * down, [ice_cold_j(2, t) for t in _means(case)], rtol=0.02)
    assert np.array_equal(state.cells.temp_c, before)


def _means(case):  # type: ignore[no-untyped-def]
    return [float(t) for t in case.twin.state.cells.temp_c.mean(axis=(1, 2))]
