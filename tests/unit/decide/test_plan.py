"""The fortnight's plan: what is tried, what is chosen, on which futures, and what readings add."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from bedlore.bed.cells import Air
from bedlore.decide import plan_search
from bedlore.decide.action_words import words_of, words_of_all
from bedlore.decide.candidates import menus
from bedlore.decide.case import Case
from bedlore.decide.change import inputs_of
from bedlore.decide.meals import tables
from bedlore.decide.plan import AS_HEAT, Told, _cautions, plan_of
from bedlore.decide.plan_options import (
    feed_plans,
    overfeeds,
    protections,
    single_acts,
    taken_off,
    together,
    varied,
    warm_feeds,
)
from bedlore.decide.plan_search import (
    Effort,
    _Stage,
    feeds_kept,
    member_points,
    picked,
    search,
    try_plan,
)
from bedlore.decide.plan_value import _after, _words, count_error, reading_worths
from bedlore.decide.records import Action
from bedlore.farm.model import StoreItem
from bedlore.learn.herd import usual_catch
from bedlore.outlook.ahead import Odds
from tests.unit.decide.conftest import STORE, bed_of, case_of, feed, weather
from tests.unit.decide.plan_cases import advice_of, fed

MAT = {"watts": 80.0, "setpoint_c": 8.0, "share_of_floor": 1.0}
NONE = Odds(0.0, 0.0, 0.0, 0.0, 0.0, 24)


def fed_case(**more):  # type: ignore[no-untyped-def]
    bed = more.pop("bed", None) or bed_of()
    feeds = [feed(day, bed, 0.8, zone) for day in (5, 12, 19, 26) for zone in ("race", "bank")]
    return case_of(bed, feeds=feeds, **more)


def switched_off(case: Case) -> Case:
    zones = case.twin.state.zones
    state = replace(case.twin.state, zones=zones._replace(mat_on=np.zeros_like(zones.mat_on)))
    return replace(case, twin=replace(case.twin, state=state))


QUICK = Effort(few=4, some=6, together=20, least=0, kept_some=6, feeds=10, fresh=60)


def fresh(mean_c: float) -> Air:
    return weather(mean_c, 14, members=36, spread_k=1.4)


def test_a_bed_with_food_and_a_mat_has_three_hundred_plans_to_try() -> None:
    case = fed_case(bed=bed_of(heat_mat=MAT), past_c=15.0)
    feeds = feed_plans(case, tables(case), cold=True)
    kept = protections(case, NONE)
    joined = list(together(feeds[: feeds_kept(kept, Effort())], kept))
    whole = {(), *feeds, *kept, *single_acts(case, tables(case), NONE), *joined}
    assert len(whole) >= 300
    assert any(a.setpoint_c for moves in kept for a in moves)


def test_feeds_keep_to_what_is_on_hand_and_expected_and_to_three_a_week() -> None:
    store = (StoreItem(material="food_mixed_kitchen", mass_kg=0.6, per_week_kg=1.5), STORE[1])
    case = fed_case(store=store, past_c=15.0)
    plans = [moves for moves in feed_plans(case, tables(case), cold=False) if moves]
    assert any(len(moves) >= 4 for moves in plans) or any(len(moves) == 2 for moves in plans)
    cap = {case.twin.zone_ids[t.position]: t.cap_kg for t in tables(case)}
    for moves in plans:
        used = 0.0
        for action in moves:
            used += sum(kg for material, kg in action.parts if material == "food_mixed_kitchen")
            assert used <= 0.6 + 1.5 * action.on_day / 7 + 0.002  # grams are rounded
        first = {a.zone_id: a for a in reversed(moves)}
        assert all(action.mass_kg <= cap[zone] + 1e-6 for zone, action in first.items())
        for week in (range(7), range(7, 14)):
            assert sum(action.on_day in week for action in moves) <= 3
        assert all(a.on_day < b.on_day for a, b in pairwise(moves))


def test_in_the_cold_food_is_tried_as_heat_within_what_is_on_hand() -> None:
    case = fed_case(past_c=5.0)
    warm = warm_feeds(case)
    assert set(warm) < set(feed_plans(case, tables(case), cold=True))
    assert not set(warm) & set(feed_plans(case, tables(case), cold=False))
    week_kg = 4.882 * 0.72
    for moves in warm:
        assert all(action.zone_id == "" for action in moves)
        used = sum(kg for a in moves for material, kg in a.parts if material.startswith("food"))
        assert used <= 6.0 + 5.0 * moves[-1].on_day / 7 + 0.01
        assert sum(a.mass_kg for a in moves) <= 2.0 * 2.0 * week_kg + 0.01
    heap = max(warm, key=lambda moves: sum(a.mass_kg for a in moves))
    assert not overfeeds(case, heap, try_plan(case, heap)[1])  # meant as heat, not as a meal


def test_each_meal_of_a_plan_keeps_to_the_meal_before_it() -> None:
    """At most all of the last meal is cleared: no full ration follows a small first one."""
    case = fed_case(past_c=15.0)
    small = [replace(table, cap_kg=0.3) for table in tables(case)]
    plans = [moves for moves in feed_plans(case, small, cold=False) if len(moves) > 1]
    assert plans
    for moves in plans:
        last: dict[str, float] = {}
        for act in moves:
            ceiling = 1.5 * last.get(act.zone_id, 0.2)  # 1.5 times 0.2 is the cap of the first
            assert act.mass_kg <= ceiling + 0.003  # grams are rounded
            last[act.zone_id] = act.mass_kg


def test_a_new_bed_in_its_peace_is_given_nothing_not_even_as_heat() -> None:
    bed = bed_of()
    case = case_of(bed, feeds=[feed(20, bed, 2.0)], past_c=5.0, ahead_c=-5.0)
    full = [replace(table, left="lots") for table in tables(case)]
    assert feed_plans(case, full, cold=True) == [()]
    later = replace(case, twin=replace(case.twin, now=case.now + dt.timedelta(days=5)))
    assert len(feed_plans(later, full, cold=True)) > 1


def test_a_plan_is_varied_within_the_ceiling() -> None:
    case = fed_case(past_c=15.0)
    zone = case.twin.zone_ids[tables(case)[0].position]
    moves = (Action("feed", zone, (("food_mixed_kitchen", 1.0),)),)
    changes = list(varied(moves, {zone: 1.1}))
    assert [round(m[0].mass_kg, 2) for m in changes] == [0.8, 1.0]
    assert changes[-1][0].on_day == 1
    assert [round(m[0].mass_kg, 2) for m in varied(moves, {zone: 2.0})] == [0.8, 1.2, 1.0]


def test_feeding_again_on_lots_of_food_is_no_plan() -> None:
    case = fed_case(past_c=8.0, ahead_c=6.0)
    heavy = tuple(Action("feed", "race", (("food_mixed_kitchen", 3.0),), on_day=d) for d in (0, 2))
    light = (Action("feed", "race", (("food_mixed_kitchen", 0.3),)),)
    assert overfeeds(case, heavy, try_plan(case, heavy)[1])
    assert not overfeeds(case, light, try_plan(case, light)[1])
    stage = _Stage(case)
    stage.run([(), heavy, light])
    assert set(stage.found) == {(), light}


def test_foam_comes_off_again_when_the_air_is_mild() -> None:
    foam = (Action("insulate", material="extruded_polystyrene", thickness_m=0.05),)
    cold, mild = (fed_case(past_c=6.0, late_c=t) for t in (2.0, 14.0))
    assert taken_off(cold, foam) == []
    assert {row[0] for row in taken_off(mild, foam)} == {0.0}
    assert taken_off(mild, ()) == []


def test_in_a_cold_snap_the_plan_lowers_the_odds_and_says_what_each_part_is_worth() -> None:
    case = switched_off(fed_case(bed=bed_of(foam=True, heat_mat=MAT), past_c=6.0, ahead_c=-9.0,
                                 late_c=5.0, logged=[]))  # fmt: skip
    plan = plan_of(case, fresh(-9.0), None, 0.30, QUICK)
    assert plan.without.odds.cold > 0.5  # without its mat the bed is lost to the cold
    assert plan.effect.odds.cold < 0.3
    assert plan.effect.odds.members == plan.fresh == 60
    assert plan.cost == pytest.approx(0.30 * plan.effect.energy_kwh)
    assert all(a.words for a in plan.actions)
    assert {w.reading for w in plan.readings} == {"thermometer", "squeeze", "count", "look"}
    for low, mid, high in plan.odds_band:
        assert 0.0 <= low <= mid <= high <= 1.0


def test_fresh_futures_are_of_members_that_took_no_part() -> None:
    case = fed_case(past_c=10.0)
    air = fresh(9.0)
    made = plan_search._fresh(case, np.arange(1, 24, 2), air, 60)
    assert made.twin.members == 60
    chosen = picked(case, np.arange(0, 24, 2))
    assert not set(chosen.twin.params["worm_move_fast_d"]) & set(
        made.twin.params["worm_move_fast_d"]
    )
    first = made.air.air_c[:12]
    assert not np.allclose(first, made.air.air_c[12:24])  # the second round meets other weather


def test_a_plan_is_never_worse_than_the_quick_advice() -> None:
    case = fed_case(past_c=14.0, ahead_c=14.0)
    menu = menus(case)[0]
    quick = (Action("feed", "race", tuple((i.material, 0.5 * s) for i, s in menu)),)
    found = search(case, fresh(14.0), quick, QUICK)
    other = next(t for t in found.pool if t.moves == quick)
    assert found.winner.points <= other.points + plan_search.SIMPLER * 4
    assert found.without.moves == ()


def test_where_nothing_helps_the_bed_is_left_alone() -> None:
    case = fed_case(past_c=12.0, ahead_c=12.0, store=())
    plan = plan_of(case, fresh(12.0), effort=QUICK)
    kinds = {a.kind for a in plan.actions}
    assert kinds <= {"nothing", "water", "uncover", "cover"}
    assert plan.rivals
    assert plan.effect == plan.without or kinds != {"nothing"}


def test_the_quick_act_is_held_against_the_plan_on_the_same_fresh_futures() -> None:
    case = fed_case(past_c=14.0, ahead_c=14.0)
    assert all(not act.words for moves in single_acts(case, tables(case), NONE) for act in moves)
    poor = fed(0.01, zone="bank")  # the walk costs more than it brings
    plan = plan_of(case, fresh(14.0), Told(advice_of(poor)), effort=QUICK)
    first, *others = plan.rivals
    assert [act.key for act in first.actions] == [poor.key]
    assert first.effect is not None
    assert first.effect.odds.members == plan.fresh
    assert first.behind_hours > 0.0
    assert all(rival.effect in (None, plan.without) for rival in others)
    assert plan.would_change
    assert plan.cost_of_ignoring


def test_a_plan_knows_what_changed_since_the_day_before() -> None:
    case = fed_case(past_c=14.0, ahead_c=14.0)
    now = inputs_of(case)
    before = advice_of(inputs=tuple((k, "3.0" if k == "air_low_c" else v) for k, v in now))
    plan = plan_of(case, fresh(14.0), Told(before=before), effort=QUICK)
    assert [cause.split(":")[0] for cause in plan.causes] == ["the weather ahead changed"]
    assert plan_of(case, fresh(14.0), effort=QUICK).causes == ()


def test_food_as_heat_says_that_it_is_more_than_the_bed_eats() -> None:
    meal, heap = fed(zone="race"), fed(zone="")
    assert AS_HEAT not in _cautions((meal,), (), cold=True, hot=False)
    assert AS_HEAT in _cautions((meal, heap), (), cold=True, hot=False)


def test_value_of_a_reading_equals_the_closed_form() -> None:
    """Two plans, one worth 0 and one theta ~ N(0, 1): a reading with error e gains
    s / sqrt(2 pi), s = 1 / sqrt(1 + e^2) (preposterior of a normal mean, by hand)."""
    theta = np.random.default_rng(3).standard_normal(800)
    theta = (theta - theta.mean()) / theta.std()
    points = np.stack([np.zeros(800), theta])
    for error in (0.25, 1.0):
        after, spread = _after(theta, error, points, relative=False)
        assert -after == pytest.approx(1 / np.sqrt(1 + error**2) / np.sqrt(2 * np.pi), rel=0.06)
        assert spread == pytest.approx(error / np.sqrt(1 + error**2), rel=0.06)


def test_a_reading_of_what_does_not_matter_is_worth_nothing() -> None:
    case = fed_case(past_c=12.0)
    same = np.ones((3, case.twin.members))
    worths = reading_worths(case, same)
    assert all(worth.hours == pytest.approx(0.0, abs=1e-9) for worth in worths)
    assert all("hardly change the plan" in worth.words for worth in worths)


def test_a_count_is_worth_what_the_herd_command_says_it_is() -> None:
    """By hand: sqrt((1/mean + 1/1.5)/6 + s^2), mean worms in 0.3 L as they are found."""
    case = fed_case(past_c=12.0)
    herd = case.twin.state.herd
    worms = (herd.adult_n + herd.juvenile_n + herd.hatchling_n).sum(axis=1)
    litres = 1000.0 * (case.twin.recent.series("depth_m")[:, -1] * case.twin.geometry.area_m2)
    found, catch_sd = usual_catch()
    mean = float(np.mean(0.3 * worms / litres.sum(axis=1))) * found
    assert count_error(case) == pytest.approx(np.sqrt((1 / mean + 1 / 1.5) / 6 + catch_sd**2))
    assert found == pytest.approx(0.6, abs=0.02)  # Beta(6, 4)


def test_a_reading_that_narrows_nothing_is_said_to_tell_little() -> None:
    assert _words("squeeze", 0.0, 1.0).startswith("A squeeze would tell little more about")
    assert _words("count", 0.0, 0.97).startswith("A count of six handfuls would tell little more")
    assert "narrow the range of the herd by 40 %" in _words("count", 0.3, 0.6)
    assert "narrow" not in _words("look", 0.0, 1.02)


def test_points_of_a_member_price_what_it_passes_only_where_it_counts() -> None:
    case = fed_case(past_c=8.0, ahead_c=1.0)
    bare = try_plan(case, ())[0]
    assert bare.score.over_risk["cold_risk"] > 0.0
    points = member_points(bare, bare)
    gap = points[bare.score.crossed["cold"]] - bare.score.member_points[bare.score.crossed["cold"]]
    assert np.allclose(gap, 40.0)


def test_a_mat_that_is_on_is_set_and_not_switched_on() -> None:
    warm = Action("mat", material="on", setpoint_c=7.0)
    case = fed_case(bed=bed_of(heat_mat=MAT), past_c=15.0)
    assert case.mat_on
    assert words_of(case, warm) == "Set the thermostat of the heat mat to 7 degC."
    off = switched_off(case)
    on = "Switch the heat mat on and set its thermostat to 7 degC."
    assert words_of(off, warm) == on
    # Of two settings in one plan only the first switches it on.
    assert words_of_all(off, [warm, replace(warm, setpoint_c=9.0, on_day=7)]) == [
        on, "In 7 days: set the thermostat of the heat mat to 9 degC.",
    ]  # fmt: skip
