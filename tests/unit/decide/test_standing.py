"""The plan of before stands unless something changed or another is clearly better."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from bedlore.decide.meals import tables
from bedlore.decide.plan import Told, plan_of
from bedlore.decide.plan_options import unsaid
from bedlore.decide.plan_search import search
from bedlore.decide.records import Action
from bedlore.decide.score import STAY_MARGIN
from bedlore.decide.standing import UNNAMED, Standing, standing
from bedlore.farm.log import ENTRY, Feed, Part
from tests.unit.decide import plan_cases
from tests.unit.decide.test_plan import QUICK, fed_case, fresh

DAY = dt.timedelta(days=1)


@pytest.fixture(scope="module")
def case():  # type: ignore[no-untyped-def]
    return fed_case(past_c=14.0, ahead_c=14.0)


def feed_of(mass_kg: float = 0.3, on_day: int = 0, zone: str = "race") -> Action:
    return Action("feed", zone, (("food_mixed_kitchen", mass_kg),), on_day=on_day)


def before_of(case, *actions: Action, days: float = 1.0):  # type: ignore[no-untyped-def]
    return plan_cases.plan_of(*actions, made_at=case.now - days * DAY)


def test_what_is_left_comes_a_day_nearer(case) -> None:  # type: ignore[no-untyped-def]
    acts = feed_of(), feed_of(on_day=4), feed_of(0.2, 8, "bank")
    left = standing(case, before_of(case, *acts), tables(case), ())
    assert [a.on_day for a in left.moves] == [0, 3, 7]  # nothing is written of the first: open
    assert left.margin == UNNAMED * STAY_MARGIN
    named = standing(case, before_of(case, *acts), tables(case), ("it rained",))
    assert named.margin == STAY_MARGIN


def test_what_is_written_down_is_done(case) -> None:  # type: ignore[no-untyped-def]
    first = feed_of()
    part = Part(material=first.parts[0][0], mass_kg=0.3)
    entry = Feed(id="done", at=case.now - 0.5 * DAY, bed=case.twin.bed.id, zone="race",
                 parts=(part,))  # fmt: skip
    fed = replace(case, entries=(*case.entries, entry))
    left = standing(fed, before_of(case, first, feed_of(on_day=4)), tables(case), ())
    assert [a.on_day for a in left.moves] == [3]


WATER = Action("water", parts=(("water", 2.0),))
COVER = Action("cover", material="bed_corrugated", thickness_m=0.05)


@pytest.mark.parametrize(
    ("act", "zones", "written", "done"),
    [
        (WATER, ("race", "bank"), {}, True),
        (WATER, ("race",), {}, False),  # half of the bed is still dry
        (WATER, (None,), {}, True),
        (replace(WATER, zone_id="race"), ("bank",), {}, False),
        (COVER, ("race", "bank"), {"state": "on"}, True),
        (COVER, (None,), {"state": "off"}, False),
        (COVER, (None,), {"lid": "off"}, False),
        (Action("uncover"), (None,), {"state": "off"}, True),
        (Action("mat", material="off"), (None,), {"state": "on"}, False),
        (Action("mat", material="off"), (None,), {"state": "off"}, True),
    ],
)
def test_entries_that_cover_an_act_make_it_done(case, act, zones, written, done) -> None:  # type: ignore[no-untyped-def]
    kind = {"uncover": "cover"}.get(act.kind, act.kind)
    more = {"mass_kg": 1.0} if kind == "water" else written
    entries = [
        ENTRY.validate_python({"id": f"e{n}", "kind": kind, "bed": case.twin.bed.id, "zone": zone,
                               "at": case.now - 0.5 * DAY, **more})
        for n, zone in enumerate(zones)
    ]  # fmt: skip
    since = replace(case, entries=(*case.entries, *entries))
    left = standing(since, before_of(case, act, feed_of(on_day=9)), tables(case), ())
    assert [a.kind for a in left.moves] == (["feed"] if done else [act.kind, "feed"])


def test_a_plan_that_cannot_be_carried_on_does_not_stand(case) -> None:  # type: ignore[no-untyped-def]
    food = tables(case)
    assert standing(case, None, food, ()) is None
    assert standing(case, before_of(case, feed_of(), days=4.0), food, ()) is None
    assert standing(case, before_of(case, feed_of(50.0)), food, ()) is None
    assert standing(case, before_of(case, feed_of(500.0, on_day=9)), food, ()) is None
    assert standing(case, before_of(case), food, ()).moves == ()  # to leave it alone may stand too


def test_it_is_kept_to_within_its_margin_only(case) -> None:  # type: ignore[no-untyped-def]
    best = search(case, fresh(14.0), (), QUICK)
    other = unsaid([feed_of(0.3)])
    assert best.winner.moves != other
    kept = search(case, fresh(14.0), (), QUICK, Standing(other, 1e6))
    assert kept.winner.moves == other
    assert search(case, fresh(14.0), (), QUICK, Standing(other, -1e6)).winner.moves != other
    same = Standing(best.winner.moves, 1e6)
    assert same.holds_today(best.winner.moves)


def test_the_next_morning_asks_for_the_same(case) -> None:  # type: ignore[no-untyped-def]
    """The plan of the day before, with nothing changed but the draw of the weather."""
    first = plan_of(case, fresh(14.0), effort=QUICK)
    again = plan_of(case, fresh(14.4), Told(plan=replace(first, made_at=case.now - DAY)),
                    effort=QUICK)  # fmt: skip
    stood = standing(case, replace(first, made_at=case.now - DAY), tables(case), ())
    assert stood is not None
    assert stood.holds_today(unsaid(a for a in again.actions if a.kind != "nothing"))
