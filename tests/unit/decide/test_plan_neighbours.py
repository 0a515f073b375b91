"""Plans near a plan, and two protections at once: what fills the budget where feedings are few."""

from __future__ import annotations

from bedlore.decide.course import thinned
from bedlore.decide.plan_options import Moves, neighbours, pairs
from bedlore.decide.plan_search import Effort, _Stage, _widen, search
from bedlore.decide.records import Action
from bedlore.farm.model import StoreItem
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


def test_plans_near_a_plan_ask_for_no_more_than_there_is() -> None:
    """A fifth more of a fifth more of food meant as heat went on until the budget was spent."""
    scraps = StoreItem(material="food_mixed_kitchen", mass_kg=5.0)
    case = thinned(fed_case(bed=bed_of(), past_c=6.0, ahead_c=-3.0, store=(scraps,)), 3)
    heap = (Action("feed", "", (("food_mixed_kitchen", 4.5),)),)
    stage = _Stage(case)
    stage.run([heap])
    _widen(stage, (), {}, 40)
    assert heap in stage.found
    assert max(action.mass_kg for moves in stage.found for action in moves) <= 5.01


def test_food_as_heat_is_no_more_than_a_double_ration_in_any_week() -> None:
    ample = StoreItem(material="food_mixed_kitchen", mass_kg=500.0)
    case = thinned(fed_case(bed=bed_of(), past_c=6.0, ahead_c=-3.0, store=(ample,)), 3)
    week_kg = 4.882 * 0.72  # 1 lb/ft2

    def heat(*meals: tuple[int, float]) -> Moves:
        return tuple(Action("feed", "", (("food_mixed_kitchen", round(kg, 3)),), on_day=day)
                     for day, kg in meals)  # fmt: skip

    most = heat((0, 2.0 * week_kg), (7, 2.0 * week_kg))
    beyond = (heat((0, 2.1 * week_kg)), heat((0, 1.5 * week_kg), (6, week_kg)))
    stage = _Stage(case)
    stage.run([most, *beyond])
    assert list(stage.found) == [most]
