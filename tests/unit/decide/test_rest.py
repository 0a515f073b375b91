"""Dates of rest, switch and harvest: the tests of readiness, the cold, the branches."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed.cells import Air
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.decide import date_words
from bedlore.decide.course import (
    Course,
    _a_week,
    course_of,
    fed_part,
    parts_of,
    resting_since,
    thinned,
)
from bedlore.decide.date_records import Taking, Targets
from bedlore.decide.drying import SCREEN_MOISTURE, spread_drying_d
from bedlore.decide.rescue import WAYS, rescues
from bedlore.decide.rest import first_day, rest_dates, switch_day
from bedlore.farm.bed import Bed
from bedlore.farm.log import Switch, Water
from tests.unit.decide.conftest import bed_of, case_of, feed, weather

MEMBERS = 8


def quartered() -> Bed:
    """Two sides of two quarters."""
    bed = bed_of().model_dump()
    zones = [
        {**bed["zones"][side], "id": f"{name}-{k}", "name": "", "side": name, "length_m": 0.3,
         "worms_kg": 0.4}
        for side, name in enumerate(("race", "bank")) for k in (1, 2)
    ]  # fmt: skip
    return Bed.model_validate({**bed, "zones": zones})


def switched(day: float, side: str, bed: Bed) -> Switch:
    at = dt.datetime(2024, 3, 1, 12, tzinfo=dt.UTC) + dt.timedelta(days=day)
    return Switch.model_validate({"id": f"s{day:g}", "at": at, "bed": bed.id, "side": side})


def resting_case(ahead_c: float, days_ahead: int = 105, **more):  # type: ignore[no-untyped-def]
    """The race side rests since day 20 of 30, the bank side is fed."""
    bed = quartered()
    feeds = [feed(d, bed, 1.0, "race-1") for d in (1, 8)] + [feed(22, bed, 1.0, "bank-1")]
    case = case_of(bed, past_c=15.0, ahead_c=ahead_c, feeds=feeds, members=MEMBERS,
                   logged=[switched(20, "bank", bed)], **more)  # fmt: skip
    return replace(case, air_long=weather(ahead_c, days_ahead))


@pytest.fixture(scope="module")
def warm():  # type: ignore[no-untyped-def]
    case = resting_case(17.0)
    return case, rest_dates(case, Targets(0.4, 0.3), by=case.now.date() + dt.timedelta(days=60))


def test_the_resting_side_is_found_from_the_log() -> None:
    case = resting_case(15.0)
    race, bank = parts_of(case)
    assert fed_part(case) == bank
    assert resting_since(case, bank) is None
    assert (case.now - resting_since(case, race)).days == 10  # type: ignore[operator]


def test_in_warm_weather_the_side_empties_in_weeks_and_later_when_more_is_asked(warm) -> None:  # type: ignore[no-untyped-def]
    case, found = warm
    dates = {m.kind: m for m in found.milestones if m.part_id == "race"}
    emptied = dates["emptied"].middle
    assert emptied is not None
    assert 20 < (emptied - case.now.date()).days < 105
    assert dates["worms"].middle <= emptied
    easy = rest_dates(case, Targets(worms_share=0.7, cocoons_share=0.6))
    assert easy.of_kind("emptied")[0].middle < emptied  # type: ignore[operator]
    shares = [share for _, share in dates["emptied"].odds]
    assert shares == sorted(shares)
    assert shares[-1] > 0.5


def test_no_date_is_claimed_below_ten_degrees() -> None:
    found = rest_dates(resting_case(7.0, 63))
    for kind in ("warm", "worms", "emptied", "ready"):
        assert all(m.dates[2] is None for m in found.of_kind(kind))  # type: ignore[arg-type]
    assert any("no date is claimed" in note for note in found.notes)


def test_taking_it_says_what_would_go_with_it_and_what_a_rescue_saves(warm) -> None:  # type: ignore[no-untyped-def]
    _, found = warm
    (taking,) = found.takings
    assert taking.part_id == "race"
    assert 0.0 < taking.worms_kg[1] < 0.8
    assert 0.0 <= taking.odds_ready <= taking.odds_worms <= 1.0
    bait, light, cones = taking.rescues
    assert bait.saved_kg[1] < light.saved_kg[1] < cones.saved_kg[1] < taking.worms_kg[2]
    assert cones.hours > bait.hours


def test_without_a_day_of_the_keepers_it_is_taken_when_it_is_likely_empty() -> None:
    found = rest_dates(resting_case(17.0), Targets(0.4, 0.3))
    (taking,) = found.takings
    assert taking.on == found.of_kind("emptied")[0].middle
    assert taking.rescues
    cold = rest_dates(resting_case(7.0, 63))
    assert cold.takings[0].on == cold.until  # not before the end of what is looked at
    assert [one.name for one in cold.takings[0].rescues] == ["light", "cones"]  # none comes to bait


def test_each_date_is_told_once_in_short_or_with_the_rest(warm) -> None:  # type: ignore[no-untyped-def]
    _, found = warm
    short, rest = date_words.brief(found), date_words.the_rest(found)
    assert found.last_feeds is not None
    assert found.last_feeds.words in rest
    assert sorted([*short, *rest]) == sorted([*(m.words for m in found.milestones),
                                              found.last_feeds.words])  # fmt: skip


def test_the_last_feeds_go_beside_the_next_side(warm) -> None:  # type: ignore[no-untyped-def]
    _, found = warm
    assert found.last_feeds is not None
    assert found.last_feeds.zone_id == "bank-1"  # the quarter of the bank that touches the race
    assert found.last_feeds.left_share[1] <= found.last_feeds.left_share_evenly[1]


def test_a_bed_not_yet_switched_is_looked_at_as_if_it_were_today() -> None:
    bed = quartered()
    case = case_of(bed, past_c=15.0, ahead_c=16.0, members=MEMBERS,
                   feeds=[feed(d, bed, 0.6, z) for d in (20, 27) for z in ("race-1", "bank-1")])
    case = replace(case, air_long=weather(16.0, 70))
    found = rest_dates(case, by=case.now.date() + dt.timedelta(days=50))
    (taking,) = found.takings
    assert taking.after_switch
    assert taking.part_id == "race"


def test_switching_waits_for_the_next_side_and_for_this_one_to_be_used() -> None:
    case = resting_case(15.0)  # switched ten days ago
    full, free = np.array([10.0, np.inf, np.inf]), np.array([0.0, 0.0, 90.0])
    assert switch_day(case, full, free).tolist() == [10.0, 65.0, 90.0]


def test_food_is_topped_up_to_the_ration_and_winter_cover_comes_off() -> None:
    bed = quartered()
    case = case_of(bed, past_c=12.0, ahead_c=12.0, members=MEMBERS, store=())
    state = case.twin.state
    state.zones.foam_r[:] = 1.5
    long = replace(case, air_long=weather(24.0, 42))
    course = course_of(long, lambda _: (0, 1), 42)
    assert float(course.states[-1].zones.foam_r.max()) == 0.0
    food = course.total("food_left_kg", (0, 1))
    ration = 0.25 * 4.882 * 0.36  # a quarter of the area rule, no feed in the log
    assert float(food.max()) < float(food[:, 0].max()) + 3.0 * ration


def test_the_months_ahead_are_watered_where_they_are_fed_as_of_late() -> None:
    """What rests is left to dry."""
    case = resting_case(17.0)
    days = [case.now - dt.timedelta(days=6 * i + 1) for i in range(4)]
    water = [Water(id=f"w{i}", at=at, bed="sluice", mass_kg=2.0) for i, at in enumerate(days)]
    watered = replace(case, entries=(*case.entries, *water))
    dry, moist = (course_of(one, lambda _: (2, 3), 28).series("moisture_frac", range(4))[:, -1]
                  for one in (case, watered))  # fmt: skip
    assert (moist[:, 2:] > dry[:, 2:] + 0.005).all()
    assert np.allclose(moist[:, :2], dry[:, :2], atol=0.003)


@pytest.mark.parametrize(("age_d", "week_kg"), [(80, 1.0), (28, 2.0), (3, 8.0)])
def test_the_pace_of_a_young_bed_counts_from_its_start(age_d: int, week_kg: float) -> None:
    """Eight kilograms in eight weeks are one a week, in four weeks two, in three days a week's."""
    case = resting_case(17.0, 14)
    bed = case.twin.bed.model_copy(
        update={"started": case.now.date() - dt.timedelta(days=age_d)}
    )
    young = replace(case, twin=replace(case.twin, bed=bed))
    assert _a_week(young, 8.0) == pytest.approx(week_kg)


def test_a_stack_is_told_when_the_next_tray_goes_on() -> None:
    bed = Bed.model_validate({
        "id": "ladder", "kind": "stack", "length_m": 0.5, "width_m": 0.5, "place": "indoors",
        "walls": [{"material": "pine", "thickness_m": 0.018}], "started": dt.date(2024, 3, 1),
        "zones": [
            {"id": "top", "depth_m": 0.15, "worms_kg": 0.3,
             "bedding": [{"material": "bed_leaf_mold", "depth_m": 0.11}]},
            {"id": "low", "depth_m": 0.15, "worms_kg": 0.1,
             "bedding": [{"material": "bed_leaf_mold", "depth_m": 0.10}]},
        ],
    })  # fmt: skip
    case = case_of(bed, past_c=15.0, ahead_c=15.0, members=MEMBERS,
                   feeds=[feed(d, bed, 0.5, "top") for d in (10, 20, 27)])
    found = rest_dates(replace(case, air_long=weather(15.0, 70)))
    kinds = {m.kind: m for m in found.milestones}
    assert kinds["add tray"].part_id == "top"
    assert kinds["emptied"].part_id == "low"
    assert "switch" not in kinds


def test_ensembles_are_thinned_with_their_weather() -> None:
    case = case_of(bed_of(), members=24)
    few = thinned(case, 6)
    chosen = case.members(6)
    assert few.twin.members == 6
    assert np.array_equal(few.air.air_c, case.air.air_c[chosen % len(case.air.air_c)])
    assert np.array_equal(few.herd_kg, case.herd_kg[chosen])


def test_first_day_counts_from_tomorrow() -> None:
    passed = np.array([[False, False], [True, False], [False, True]])
    assert first_day(passed).tolist() == [np.inf, 1.0, 2.0]


def test_a_pinch_of_worms_is_not_told_to_the_gram() -> None:
    """Not "About 0 g of worms (0 in 100 of the herd)"."""
    taking = Taking(
        "bank", "the bank", dt.date(2026, 6, 10), 0.9, 0.5, 0.0, 0.0, (0.0, 0.004, 0.02), 0.003,
        (0.0, 5.0, 9.0), 0.06, (0.7, 0.74, 0.8), None, (), after_switch=False, words="",
    )  # fmt: skip
    pinch = date_words._loss_words(taking)
    assert pinch.startswith("Less than 10 g of worms and 6 in 100 of the cocoons would go")
    more = date_words._loss_words(replace(taking, worms_kg=(0.0, 0.03, 0.1), herd_share=0.05))
    assert more.startswith("About 30 g of worms (5 in 100 of the herd) and 6 in 100")


def test_ranges_say_what_lies_beyond_the_time_looked_at() -> None:
    until = dt.date(2026, 7, 26)
    a, b, c = (dt.date(2026, 4, d) for d in (3, 14, 20))
    assert date_words.range_of((a, a, b, b, c), until) == (
        "between 3 Apr and 20 Apr, most likely 14 Apr"
    )
    assert date_words.range_of((a, a, a, None, None), until) == (
        "most likely about 3 Apr, perhaps after 26 Jul"
    )
    assert "perhaps after 26 Jul" in date_words.range_of((a, a, b, None, None), until)
    assert "more likely after 26 Jul" in date_words.range_of((a, None, None, None, None), until)
    assert "not before 26 Jul" in date_words.range_of((None,) * 5, until)


def test_the_test_that_comes_last_is_named() -> None:
    inf = np.inf
    days = {"worms": np.array([5.0, 5.0, 9.0]), "cocoons": np.array([4.0, 8.0, 4.0]),
            "dry": np.array([9.0, inf, inf])}  # fmt: skip
    assert date_words.last_test(days).startswith("drying")


def test_bait_is_left_out_in_the_cold_and_no_way_finds_more_than_there_is() -> None:
    worms, herd = np.full(60, 0.2), np.full(60, 2.0)
    assert [r.name for r in rescues(worms, herd, 0.5, 0.1)] == ["light", "cones"]
    for way, found in zip(WAYS, rescues(worms, herd, 0.5, 1.0), strict=True):
        assert found.saved_kg[1] == pytest.approx(way.found[1] * 0.2, rel=0.02)
        assert found.herd_share == pytest.approx(way.found[1] * 0.1, rel=0.02)
        assert found.saved_kg[2] < 0.2


def test_castings_dry_sooner_in_dry_warm_air_and_only_when_wet() -> None:
    case = case_of(bed_of(), members=6)
    days = []
    for temp_c, rh in ((12.0, 0.75), (20.0, 0.5)):
        air = weather(temp_c, 45, rh=rh)
        found = spread_drying_d(replace(case, air_long=air), 0.68, 1)
        assert found is not None
        days.append(found[1])
    assert days[1] < 0.6 * days[0]
    assert spread_drying_d(replace(case, air_long=weather(12.0, 45)), SCREEN_MOISTURE, 1) is None


def test_a_course_tells_totals_of_its_zones() -> None:
    values = np.zeros((2, 3, 4, len(OUTPUT_NAMES)))
    values[..., OUTPUT_NAMES.index("worms_kg")] = 1.0
    course = Course(values, ())
    assert course.total("worms_kg", (0, 2)).tolist() == [[2.0] * 3] * 2
    assert course.days == 3


def test_the_air_is_cut_into_weeks_without_changing_it() -> None:
    case = case_of(bed_of(), members=4, past_c=12.0)
    air = weather(14.0, 28)
    whole = course_of(replace(case, air_long=air), lambda _: (), 28)
    cut = course_of(replace(case, air_long=Air(*(a[:, 336:] for a in air))), lambda _: (), 14,
                    state=whole.states[2])  # fmt: skip
    assert np.allclose(whole.values[:, 14:], cut.values)
