"""Plans near a plan, and two protections at once: what fills the budget where feedings are few."""

from __future__ import annotations

from bedlore.decide.plan_options import neighbours, pairs
from bedlore.decide.plan_search import Effort, search
from bedlore.decide.records import Action
from tests.unit.decide.conftest import bed_of
from tests.unit.decide.test_plan import fed_case, fresh

WATER = Action("water", parts=(("water", 2.0),))
ON = Action("mat", material="on", setpoint_c=7.0)
OFF = Action("mat", material="off", on_day=2)
COVER = Action("cover", material="bed_corrugated", thickness_m=0.05)
BEDDING = Action("bedding", parts=(("bed_corrugated", 1.0),))
UNCOVER = Action("uncover")


def test_two_protections_are_of_different_families() -> None:
    """Of ten pairs those of cover, bedding and uncover among each other are none."""
    made = list(pairs([(), (WATER,), (ON, OFF), (COVER,), (BEDDING,), (UNCOVER,)]))
    assert made == [
        (WATER, ON, OFF), (WATER, COVER), (WATER, BEDDING), (WATER, UNCOVER),
        (ON, OFF, COVER), (ON, OFF, BEDDING), (ON, OFF, UNCOVER),
    ]  # fmt: skip


def test_neighbours_change_one_act_and_leave_the_rest() -> None:
    near = list(neighbours((ON, OFF, WATER), {}))
    assert {(OFF, WATER), (ON, OFF), (ON, WATER)} <= set(near)
    water = [moves[2] for moves in near if moves[:2] == (ON, OFF) and len(moves) == 3]
    assert sorted((a.on_day, round(a.mass_kg, 2)) for a in water) == [(0, 1.4), (1, 2.0), (3, 2.0)]
    mats = [moves[0] for moves in near if moves[1:] == (OFF, WATER)]
    # The mat is not switched on after it was switched off.
    assert sorted((a.on_day, a.setpoint_c) for a in mats) == [(0, 6.0), (0, 8.0), (1, 7.0)]
    assert list(neighbours((), {})) == []


def test_a_bed_with_little_to_feed_still_has_its_budget_of_plans() -> None:
    case = fed_case(bed=bed_of(), past_c=10.0, ahead_c=2.0, store=())
    usual = Effort(few=3, some=4, kept_some=4, kept_many=2, fresh=12, least=0)
    few = search(case, fresh(2.0), effort=usual).tried
    wide = Effort(few=3, some=4, kept_some=4, kept_many=2, fresh=12, least=few + 12)
    assert few + 12 <= search(case, fresh(2.0), effort=wide).tried <= few + 40
    assert Effort().least >= 300
