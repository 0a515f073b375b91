"""The table of terms, and what counts as better."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from bedlore.decide.action_rows import rows
from bedlore.decide.action_words import NOTHING
from bedlore.decide.case import Case
from bedlore.decide.records import Action
from bedlore.decide.score import PRICE, TERMS, Score, clearly_better, score

from .conftest import bed_of, feed

PAGE = Path(__file__).parents[3] / "docs" / "advice.md"
BED = bed_of()


def scored(case: Case, action: Action = NOTHING) -> Score:
    members = np.arange(case.twin.members)
    given = rows(case, action)
    return score(case, action, case.run(given), given, members)


def test_every_term_is_documented_with_its_price() -> None:
    page = PAGE.read_text("utf-8")
    for term in TERMS:
        assert f"| `{term.name}` | {term.unit} | {term.price:g} | {term.meaning} |" in page


def test_points_are_the_sum_of_the_table(make_case: Callable[..., Case]) -> None:
    one = scored(make_case(BED, feeds=[feed(20, BED, 1.0)], ahead_c=1.0))
    assert np.isclose(one.points, sum(one.term(name) for name in PRICE))
    assert one.term("cold_kd") > 0.0
    assert one.term("cold_risk") > 0.0


def test_nothing_is_not_better_than_itself(make_case: Callable[..., Case]) -> None:
    case = make_case(BED, feeds=[feed(20, BED, 1.0)])
    assert not clearly_better(scored(case), scored(case))


def test_an_action_without_effect_only_costs_work(make_case: Callable[..., Case]) -> None:
    case = make_case(BED, feeds=[feed(20, BED, 1.0)])
    look = scored(case, Action("look"))
    assert np.isclose(look.points - scored(case).points, 0.05)
    assert not clearly_better(look, scored(case))


def test_an_hourly_outlook_stands_in_for_the_daily_run(make_case: Callable[..., Case]) -> None:
    case = make_case(BED, feeds=[feed(20, BED, 1.0)], ahead_c=3.0)
    by_hour = replace(case, outlook=case.run([], every=1))
    assert np.array_equal(by_hour.run([]).run.values, case.run([]).run.values)
