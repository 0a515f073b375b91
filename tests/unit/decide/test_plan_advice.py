"""The plan in the lead of the quick advice: what the keeper is told, and why it is another."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from bedlore.decide.plan_advice import OUTDATED, led_by, outdated
from bedlore.decide.plan_records import Rival
from bedlore.decide.records import Action
from tests.unit.decide.plan_cases import COVERED, NOTHING, NOW, advice_of, effect, fed, plan_of


def test_the_plan_says_what_to_do_how_sure_and_what_each_part_is_worth() -> None:
    plan, quick = plan_of(COVERED, fed(), fed(on_day=7)), advice_of(fed())
    led = led_by(plan, quick)
    assert (led.action, led.also, led.later) == (COVERED, (fed(),), (fed(on_day=7),))
    assert led.today == (COVERED, fed())
    assert led.headline == f"{COVERED.words} {fed().words}"
    assert (led.effect, led.without, led.members) == (plan.effect, plan.without, 500)
    assert [reason.text for reason in led.reasons] == [
        "It gains half an hour.", "cover is worth it.", "feed is worth it.", "feed is worth it.",
        "You found none of the food left.", "300 plans were tried.",
    ]  # fmt: skip
    assert led.would_change == ("A colder night.", "A count would halve the range.")
    assert led.cost_of_ignoring == "It gets cold."
    assert led.cautions == ("Dust.", "Wash your hands.")
    assert led.ahead_words == f"{fed(on_day=7).words} It is planned again each morning."
    assert (led.leads, led.expect, led.inputs) == ("plan", quick.expect, quick.inputs)


def test_with_nothing_today_it_says_so_and_when_next() -> None:
    led = led_by(plan_of(fed(on_day=3), fed(on_day=10)), advice_of(fed()))
    assert led.today == ()
    assert led.headline == f"Nothing today. {fed(on_day=3).words}"
    assert (led.action.on_day, led.later) == (3, (fed(on_day=10),))
    none = led_by(plan_of(), advice_of(fed()))
    assert (none.action, none.today, none.later) == (NOTHING, (), ())
    assert none.ahead_words == "Look in again within the week."


def test_it_says_how_the_quick_advice_differs_and_what_that_is_worth() -> None:
    same = led_by(plan_of(fed(1.02)), advice_of(fed()))
    assert same.lead_words == (
        "This follows the fortnight's plan. The quick advice says the same for today."
    )
    more = led_by(plan_of(fed(2.0)), advice_of(fed()))  # twice as much is not the same
    assert "weighs single acts and says: Feed race: 1.0 kg on day 0." in more.lead_words
    other = plan_of(COVERED, rivals=(Rival((fed(),), 0.4, effect(0.2)),))
    assert led_by(other, advice_of(fed())).lead_words.endswith(
        "Over the fortnight the plan is worth about 24 minutes of your time more."
    )
    assert led_by(plan_of(COVERED), advice_of()).lead_words.endswith("about 30 minutes of your time"
                                                                     " more.")
    part = led_by(plan_of(COVERED, fed()), advice_of(COVERED)).lead_words
    assert part.endswith("The quick advice weighs single acts and asks for a part of this.")
    hours = led_by(plan_of(COVERED, rivals=(), gain_hours=4.27), advice_of()).lead_words
    assert hours.endswith("the plan is worth about 4.3 hours of your time more.")
    simpler = plan_of(rivals=(Rival((fed(),), -0.1, effect(0.2)),))
    assert led_by(simpler, advice_of(fed())).lead_words.endswith("the plan asks for less.")
    stands = plan_of(COVERED, rivals=(), gain_hours=-0.2)  # it asks for more than nothing
    assert led_by(stands, advice_of()).lead_words.endswith("both are worth about the same.")
    as_many = plan_of(COVERED, rivals=(Rival((fed(),), -0.1, effect(0.2)),))
    assert led_by(as_many, advice_of(fed())).lead_words.endswith("both are worth about the same.")


def test_what_was_never_weighed_beside_the_plan_is_given_no_worth() -> None:
    led = led_by(plan_of(COVERED), advice_of(fed()))
    assert "minutes" not in led.lead_words
    assert "the same;" not in led.lead_words
    assert (fed(), effect(0.2, 200)) in led.rivals


def test_rivals_were_run_on_the_futures_of_the_plan() -> None:
    two = Rival((COVERED, fed(on_day=7)), 0.2, effect(0.1))
    unseen = Rival((fed(zone="bank"),), 0.3, None)
    led = led_by(plan_of(fed(), rivals=(two, unseen)), advice_of(fed()))
    ((act, came),) = led.rivals
    assert act.words == f"{COVERED.words} {fed(on_day=7).words}"
    assert (act.kind, came.odds.members) == ("cover", 500)


def test_what_a_plan_needs_is_said() -> None:
    led = led_by(plan_of(fed(), needs="Foam board."), advice_of(fed(), would_help=("Straw.",)))
    assert led.would_help == ("Straw.", "Foam board.")


@pytest.mark.parametrize(
    ("yesterday", "today", "changes"),
    [
        (advice_of(fed()), plan_of(fed(2.0)), False),  # still open, or again
        (advice_of(fed(on_day=1)), plan_of(fed()), False),  # comes as it was put off
        (replace(advice_of(COVERED), later=(fed(on_day=1),)), plan_of(fed()), False),
        (advice_of(), plan_of(fed()), True),
        (advice_of(fed()), plan_of(), True),
        (replace(advice_of(COVERED), also=(fed(),)), plan_of(COVERED), True),
    ],
)  # fmt: skip
def test_a_change_since_the_day_before_has_a_cause(yesterday, today, changes) -> None:  # type: ignore[no-untyped-def]
    before = replace(yesterday, made_at=NOW - dt.timedelta(days=1))
    named = replace(today, causes=("the weather ahead changed", "your limits changed"))
    cause = led_by(named, advice_of(), before).cause_of_change
    assert cause == (
        "Changed because the weather ahead changed and your limits changed." if changes else ""
    )
    unnamed = led_by(today, advice_of(), before).cause_of_change
    assert unnamed.startswith("Changed because the fortnight was planned anew") is changes


def test_on_the_first_day_nothing_has_changed() -> None:
    assert led_by(plan_of(fed()), advice_of()).cause_of_change == ""


def test_the_quick_advice_takes_the_lead_back_with_a_cause() -> None:
    quick = advice_of(fed())
    back = outdated(quick)
    assert back == replace(quick, lead_words=OUTDATED)
    assert (back.leads, back.action) == ("quick", fed())


def test_advice_of_before_there_were_plans_can_still_be_read() -> None:
    from pydantic import TypeAdapter

    stored = TypeAdapter(type(advice_of()))
    body = stored.dump_python(advice_of(Action("look")), mode="json")
    for name in ("also", "later", "leads", "lead_words"):
        del body[name]
    assert stored.validate_python(body).leads == "quick"
