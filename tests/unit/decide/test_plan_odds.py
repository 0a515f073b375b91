"""What the keeper accepts comes before points: which plan is chosen, kept, and what is said."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from bedlore.decide import plan
from bedlore.decide.action_words import NOTHING
from bedlore.decide.case import Case
from bedlore.decide.plan import _beyond_words, _gain_words
from bedlore.decide.plan_advice import led_by
from bedlore.decide.plan_records import Rival
from bedlore.decide.plan_search import Search, Tried, _simplest, _Stage, _stayed
from bedlore.decide.records import Action, Effect
from bedlore.decide.score import RISKS, Score
from bedlore.decide.standing import Standing
from bedlore.farm.bed import Limits
from bedlore.outlook.ahead import Odds
from tests.unit.decide.plan_cases import COVERED, advice_of, fed, plan_of

LIMITS = Limits()  # cold 10, heat 2, a sour bed 5 in 100
MEMBERS = 100
MAT = Action("mat", material="on", setpoint_c=7.0)


def tried(*moves: Action, points: float = 0.0, cold: int = 0, hot: int = 0,
          members: int = MEMBERS) -> Tried:  # fmt: skip
    """A plan that loses ``points`` beside its odds, with so many members past a limit."""
    passed = {key: np.arange(members) < count
              for key, count in (("cold", cold), ("hot", hot), ("sour", 0))}  # fmt: skip
    over = {name: max(0.0, float(passed[key].mean()) - getattr(LIMITS, risk))
            for key, name, risk in RISKS}  # fmt: skip
    odds = Odds(cold / members, hot / members, 0.0, 0.0, 0.0, members)
    lost = np.full(members, points)
    return Tried(moves, Score(NOTHING, {"work": lost}, over, passed, odds), effect=_effect(odds))


def _effect(odds: Odds) -> Effect:
    return Effect(odds, *((0.0, 0.0, 0.0),) * 5)


def chosen(*pool: Tried, stands: Standing | None = None) -> Tried:
    ranked = sorted(pool, key=lambda t: t.rank)
    without = next(t for t in pool if not t.moves)
    return _stayed(_simplest(ranked, without), pool, stands)


def found(*pool: Tried, fresh: Tried) -> Search:
    """A search that chose the first of ``pool`` and met ``fresh`` on futures not seen."""
    without = next(t for t in pool if not t.moves)
    case: Any = SimpleNamespace()
    return Search(pool, without, case, case, fresh, without, None, 300)


def beyond_words(search: Search) -> str:
    return str(_beyond_words(cast("Case", SimpleNamespace(limits=LIMITS)), search))


IDLE = tried(points=1.0, cold=30)  # 9 points in all: 8 of them for odds


def test_what_keeps_the_odds_comes_first_whatever_it_costs() -> None:
    cheap, dear = tried(COVERED, points=0.0, cold=11), tried(MAT, points=40.0, cold=10)
    assert cheap.points < IDLE.points < dear.points
    assert chosen(IDLE, cheap, dear) is dear
    heat = tried(COVERED, points=0.0, hot=3)  # heat counts by its own limit, 2 in 100
    assert chosen(IDLE, heat, dear) is dear


def test_among_those_that_keep_the_odds_points_decide_and_fewer_acts_within_noise() -> None:
    good = tried(MAT, fed(), points=3.0, cold=2)
    assert chosen(IDLE, good, tried(MAT, points=4.0, cold=0)) is good
    simple = tried(MAT, points=3.1, cold=9)
    assert chosen(IDLE, good, simple) is simple
    beyond = tried(MAT, points=2.5, cold=11)  # as simple, but no plan that may be chosen
    assert chosen(IDLE, good, beyond) is good


def test_where_nothing_keeps_the_odds_points_decide() -> None:
    one, other = tried(COVERED, points=1.0, cold=20), tried(MAT, points=4.0, cold=15)
    assert chosen(IDLE, one, other) is one
    assert one.points < other.points


def test_where_leaving_it_alone_keeps_the_odds_a_plan_that_does_not_is_none() -> None:
    idle = tried(points=6.0, cold=5)
    assert chosen(idle, tried(COVERED, points=0.0, cold=12)) is idle


@pytest.mark.parametrize(("cold", "stays"), [(10, True), (13, True), (14, False)])
def test_what_stands_gives_way_only_beyond_one_standard_error(cold: int, stays: bool) -> None:
    """Of 13 in 100 the standard error is 3.36, of 14 in 100 3.47."""
    other, stood = tried(MAT, points=3.0, cold=10), tried(COVERED, points=2.0, cold=cold)
    assert (chosen(IDLE, other, stood, stands=Standing((COVERED,), 2.0)) is stood) is stays


def test_few_members_still_carry_on_what_passes_the_odds_least() -> None:
    stage = _Stage(cast("Case", None))
    costly = tried(MAT, points=90.0, members=8)
    cheap = [tried(fed(0.1 * n), points=0.1 * n, cold=1, members=8) for n in range(1, 9)]
    stage.found = {t.moves: t for t in (*cheap, costly)}
    assert costly.moves in stage.best(3)
    assert [t.moves for t in cheap[:2]] == stage.best(3)[:2]
    assert len(set(stage.best(6))) == 6
    assert costly.moves not in stage.best(3, [t.moves for t in cheap])


def test_a_plan_that_stands_in_the_pool_twice_is_one_rival(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As the quick act, and as the setting that the dial was walked to."""
    monkeypatch.setattr(plan, "said", lambda _, moves: moves)
    winner, cover, meal = tried(MAT), tried(COVERED, points=2.0), tried(fed(), points=1.0)
    again = tried(COVERED, points=2.0)
    search = replace(found(winner, meal, cover, again, IDLE, fresh=winner), rival=again)
    rivals = list(plan._rivals(cast("Case", None), search))
    assert [rival.actions for rival in rivals] == [(COVERED,), meal.moves, ()]
    assert [rival.behind_hours for rival in rivals] == [2.0, 1.0, 9.0]


def test_what_is_said_of_odds_beyond_those_accepted_is_true_of_all_that_was_tried() -> None:
    over, within = tried(MAT, cold=40), tried(MAT, cold=10)
    fresh = tried(MAT, cold=60, members=500)
    none = beyond_words(found(over, IDLE, fresh=fresh))
    assert re.match(r"No plan was found that keeps the odds .* cold .*12 in 100.*10 in 100", none)
    assert none.endswith("Straw, leaves, foam or a warmer room may help: see shelter.")
    own = beyond_words(found(within, IDLE, fresh=fresh))
    assert "On others, which count for more, it does not quite" in own
    stood = beyond_words(found(tried(COVERED, cold=12), within, IDLE, fresh=fresh))
    assert "The plan of before still stands" in stood
    assert "No plan" not in own + stood


def test_a_plan_that_costs_more_than_it_gains_says_why_it_is_chosen() -> None:
    dear = tried(MAT, points=12.0, cold=10)
    words = str(_gain_words(found(dear, IDLE, fresh=dear)))
    assert words == ("It costs about 3 hours of your time more than it gains. It keeps the odds"
                     " that you accept. Leaving the bed alone would not.")  # fmt: skip
    even = tried(MAT, points=9.0, cold=10)
    assert str(_gain_words(found(even, IDLE, fresh=even))).startswith("It keeps the odds that")
    good = tried(MAT, points=2.0, cold=10)
    told = str(_gain_words(found(good, IDLE, fresh=good)))
    assert "is worth about 7 hours" in told
    assert told.endswith("Odds of cold are 10 in 100 instead of 30 in 100.")
    one = tried(MAT, points=8.0, cold=10)
    assert "is worth about an hour of" in str(_gain_words(found(one, IDLE, fresh=one)))


def test_a_plan_that_only_stands_is_not_said_to_be_worth_less_than_nothing() -> None:
    idle, stood = tried(points=2.0), tried(COVERED, points=2.3)
    assert chosen(idle, stood, stands=Standing((COVERED,), 0.5)) is stood
    words = str(_gain_words(found(stood, idle, fresh=stood)))
    assert words == "Leaving the bed alone would come out about as well; the plan of before stands."


def test_that_nothing_beats_leaving_it_alone_is_said_only_of_plans_that_may_be_chosen() -> None:
    """The cover gains six hours, and passes the odds accepted."""
    idle, cheap = tried(points=6.0, cold=5), tried(COVERED, points=0.0, cold=12)
    words = str(_gain_words(found(idle, cheap, fresh=idle)))
    assert words.startswith("No plan that keeps the odds you accept beats")
    over = str(_gain_words(found(IDLE, fresh=IDLE)))
    assert over == "No plan beats leaving the bed alone beyond noise."


def test_the_odds_that_differ_are_named_and_no_others() -> None:
    hot, cool = tried(points=1.0, cold=4, hot=30), tried(MAT, cold=4, hot=1)
    told = str(_gain_words(found(cool, hot, fresh=cool)))
    assert told.endswith("time. Odds of heat are 1 in 100 instead of 30 in 100.")


def test_a_quick_act_that_gains_as_much_but_passes_the_odds_is_said_to() -> None:
    rival = Rival((fed(),), -3.0, plan_of().effect, beyond=True)
    words = led_by(plan_of(COVERED, rivals=(rival,)), advice_of(fed())).lead_words
    assert words.endswith("does not keep the odds that you accept.")
