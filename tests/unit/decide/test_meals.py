"""What a zone cleared, and the ceiling of its next meal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from bedlore.bed.history import start_of
from bedlore.decide.advise import advise
from bedlore.decide.case import Case
from bedlore.decide.meals import meals, tables
from bedlore.decide.plan_options import warm_feeds
from bedlore.farm.log import Look

from .conftest import bed_of, feed

BED = bed_of()
NOW = start_of(BED, dt.UTC) + dt.timedelta(days=30)


def look(left: str, hours_ago: float = 3.0) -> Look:
    at = NOW - dt.timedelta(hours=hours_ago)
    return Look.model_validate(
        {"id": f"look-{left}", "at": at, "bed": BED.id, "zone": "race", "food_left": left}
    )


def smelt(smell: str, hours_ago: float = 20.0) -> Look:
    at = NOW - dt.timedelta(hours=hours_ago)
    return Look(id=f"look-{smell}", at=at, bed=BED.id, zone="race", smell=smell)  # type: ignore[arg-type]


@pytest.mark.parametrize("smell", ["sour", "sharp"])
def test_what_smelt_sour_or_sharp_gets_no_food(
    make_case: Callable[..., Case], smell: str
) -> None:
    """The twin cannot smell: what the keeper wrote down goes before it, as the card says too."""
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    race = tables(make_case(BED, feeds=fed, past_c=16.0, logged=[smelt(smell)]))[0]
    assert race.cap_kg == 0.0
    assert race.why == f"it smelt {smell} on 30 Mar"
    case = make_case(BED, feeds=fed, past_c=16.0, ahead_c=2.0, logged=[smelt(smell)])
    assert warm_feeds(case) == []


def test_a_smell_that_has_gone_or_is_old_keeps_no_food_back(make_case: Callable[..., Case]) -> None:
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    for logged in ([smelt("sour", 30.0), smelt("earthy", 3.0)], [smelt("sour", 100.0)]):
        assert tables(make_case(BED, feeds=fed, past_c=16.0, logged=logged))[0].cap_kg > 0.0


def test_feeds_close_together_are_one_meal() -> None:
    fed = [feed(2, BED, 1.0), feed(3, BED, 0.5), feed(8, BED, 2.0), feed(9, BED, 1.0, "bank")]
    found = meals(fed, "race", ["race", "bank"])
    assert [round(meal.mass_kg, 3) for meal in found] == [1.65, 2.2]


def test_feeding_every_day_makes_no_endless_meal(make_case: Callable[..., Case]) -> None:
    """Little and often: the ceiling is that of two days' food, not of the month's."""
    fed = [feed(day, BED, 0.2) for day in range(2, 30)]
    found = meals(fed, "race", ["race", "bank"])
    two_days_kg = 2 * sum(part.mass_kg for part in fed[0].parts)
    assert max(meal.mass_kg for meal in found) == pytest.approx(two_days_kg)
    assert len(found) == 14
    table = tables(make_case(BED, feeds=fed, past_c=16.0))[0]
    assert table.cap_kg <= 1.5 * two_days_kg + 1e-9


def test_ceiling_is_one_and_a_half_times_what_was_cleared(make_case: Callable[..., Case]) -> None:
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    table = tables(make_case(BED, feeds=fed, past_c=16.0))[0]
    assert table.meal is not None
    assert 0.0 < table.cleared_kg <= table.meal.mass_kg
    assert table.cap_kg == pytest.approx(1.5 * table.cleared_kg)


@pytest.mark.parametrize(("left", "share"), [("none", 1.5), ("some", 0.9), ("lots", 0.0)])
def test_a_look_goes_before_the_model(
    make_case: Callable[..., Case], left: str, share: float
) -> None:
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    table = tables(make_case(BED, feeds=fed, logged=[look(left)]))[0]
    assert table.measured
    assert table.cap_kg == pytest.approx(share * 1.1)


def test_an_old_look_is_out_of_date_after_a_meal(make_case: Callable[..., Case]) -> None:
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    old = look("lots", hours_ago=5 * 24)
    assert not tables(make_case(BED, feeds=fed, logged=[old]))[0].measured


def test_a_new_bed_gets_a_quart_and_then_two_weeks_peace(make_case: Callable[..., Case]) -> None:
    # First feed about 1 quart, then about two weeks' wait: public sheet, issuer not shown (read).
    first = tables(make_case(BED, days=10))
    # A quart of mixed scraps at 500 kg/m3, on the side that is fed.
    assert sum(table.cap_kg for table in first) == pytest.approx(0.473, rel=0.01)
    waiting = tables(make_case(BED, feeds=[feed(20, BED, 0.45)]))[0]
    assert waiting.cap_kg == 0.0
    assert "two weeks" in waiting.why
    over = tables(make_case(BED, feeds=[feed(13, BED, 0.45)]))[0]
    assert over.cap_kg > 0.0


def test_the_advice_for_what_smells_is_air_and_no_food(make_case: Callable[..., Case]) -> None:
    fed = [feed(2 + 4 * i, BED, 1.0) for i in range(7)]
    told = advise(make_case(BED, feeds=fed, past_c=16.0, ahead_c=16.0, logged=[smelt("sour")]))
    assert told.action.kind != "feed"
    assert any("it smelt sour on 30 Mar" in reason.text for reason in told.reasons)
    assert told.would_change[0] == "A look that smells of earth again: then a small meal."
    assert told.ahead_words.startswith("What smells sour or sharp wants air and no food")
