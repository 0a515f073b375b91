"""The dial of a heat mat: walked to where it is no better, lower in a first week that allows it."""

from __future__ import annotations

import operator

import pytest

from bedlore.decide import plan_search
from bedlore.decide.case import Case
from bedlore.decide.dial import MOST_ABOVE_K, set_to, setting_c, tuned
from bedlore.decide.plan_options import Moves
from bedlore.decide.plan_search import Effort, search, try_plan
from bedlore.decide.records import Action
from tests.unit.decide.conftest import bed_of, case_of, feed, weather
from tests.unit.decide.plan_cases import fed

MAT = {"watts": 80.0, "setpoint_c": 8.0, "share_of_floor": 1.0}
OFF = Action("mat", material="off")


def on(temp_c: float | None, on_day: int = 0) -> Action:
    return Action("mat", material="on", setpoint_c=temp_c, on_day=on_day)


@pytest.fixture(scope="module")
def case() -> Case:
    """A bed whose mat is on at 8 degC; the cold limit is 4 degC."""
    return case_of(bed_of(heat_mat=MAT), past_c=9.0, members=4)


def best_at(case: Case, *weeks_c: float) -> float:
    """How far a plan's settings are from the best ones of its weeks."""

    def weigh(moves: Moves) -> float:
        first = setting_c(case, moves)
        later = next((a.setpoint_c for a in moves if a.kind == "mat" and a.on_day == 7), first)
        assert first is not None
        assert later is not None
        tried.append((first, later))
        return abs(first - weeks_c[0]) + abs(later - weeks_c[-1])

    tried: list[tuple[float, float]] = []
    up = weeks_c[0] > 8.0
    moves = tuned(case, (), weigh(()), weigh, operator.lt, up=up)
    assert len(tried) < 16
    return weigh(moves)


@pytest.mark.parametrize("best_c", [4.5, 6.0, 7.5, 8.0, 8.5, 11.0])
def test_it_walks_to_the_best_setting(case: Case, best_c: float) -> None:
    assert best_at(case, best_c) == 0.0


def test_a_mild_week_before_a_cold_one_gets_less(case: Case) -> None:
    assert best_at(case, 5.0, 7.0) == 0.0


def test_it_stays_between_the_cold_limit_and_what_is_no_more_than_heating(case: Case) -> None:
    def at(moves: Moves) -> float:
        return setting_c(case, moves) or 0.0

    coldest = tuned(case, (), 8.0, at, operator.lt, up=False)
    assert setting_c(case, coldest) == case.limits.cold_c
    warmest = tuned(case, (), 8.0, at, operator.gt, up=True)
    assert setting_c(case, warmest) == case.limits.cold_c + MOST_ABOVE_K


def test_what_a_plan_sets_it_to(case: Case) -> None:
    assert setting_c(case, ()) == setting_c(case, (on(6.0, 7),)) == 8.0
    assert setting_c(case, (on(6.0),)) == 6.0
    assert setting_c(case, (on(None),)) == 8.0  # as the bed file has it
    assert setting_c(case, (OFF,)) is None
    assert setting_c(case_of(bed_of(), past_c=9.0, members=4), (on(6.0),)) is None


def test_what_it_stands_at_is_not_set_again(case: Case) -> None:
    meal = fed()
    assert set_to(case, (on(6.0), meal), 8.0) == (meal,)
    assert set_to(case, (meal,), 7.0) == (on(7.0), meal)


def test_a_plan_without_a_mat_is_left_as_it_is(case: Case) -> None:
    def never(moves: Moves) -> float:
        raise AssertionError("nothing to try")

    assert tuned(case, (OFF,), 0.0, never, operator.lt, up=False) == (OFF,)


def test_a_dial_set_too_high_is_turned_down_within_the_odds_accepted() -> None:
    bed = bed_of(foam=True, heat_mat={**MAT, "setpoint_c": 12.0})
    feeds = [feed(day, bed, 0.8, zone) for day in (5, 12, 19, 26) for zone in ("race", "bank")]
    case = case_of(bed, feeds=feeds, past_c=6.0, ahead_c=0.0, late_c=5.0)
    effort = Effort(few=4, some=6, together=8, least=0, kept_some=4, kept_many=2, feeds=4, fresh=60)
    found = search(case, weather(0.0, 14, members=36, spread_k=1.4), effort=effort)
    temp_c = setting_c(case, found.winner.moves)
    assert temp_c is not None
    assert temp_c < 12.0
    assert found.winner.score.keeps()
    assert found.winner.effect.energy_kwh < found.without.effect.energy_kwh


@pytest.mark.parametrize(("temp_c", "tried"), [(6.0, []), (7.0, [(on(7.0),)])])
def test_a_setting_that_was_tried_already_is_not_tried_again(
    case: Case, monkeypatch: pytest.MonkeyPatch, temp_c: float, tried: list[Moves]
) -> None:
    pool = [try_plan(case, moves)[0] for moves in ((), (on(6.0),))]
    monkeypatch.setattr(plan_search, "tuned", lambda *_, **__: (on(temp_c),))
    assert [found.moves for found in plan_search._dialled(case, pool, 2)] == tried
