"""What would hold a bed: foam lies where it can be put, and counts the same wherever it is told."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed import plan
from bedlore.bed.history import start_of
from bedlore.decide.action_rows import FOAM, FOAM_M
from bedlore.decide.action_words import NOTHING, words_of
from bedlore.decide.advise import advise
from bedlore.decide.candidates import mats
from bedlore.decide.case import Case
from bedlore.decide.hold import Measure, holding
from bedlore.decide.plan_options import FOAMED
from bedlore.decide.plan_search import try_plan
from bedlore.decide.records import Action
from bedlore.decide.score import effect, score
from bedlore.decide.shelter import shelters_of
from bedlore.facts.building import MATERIALS
from bedlore.farm.log import MatChange
from tests.unit.decide.conftest import bed_of, case_of

R_M2KW = FOAM_M / MATERIALS[FOAM].k_w_mk


def cold_on(stand: str, ground_c: float) -> Case:
    case = case_of(bed_of(stand=stand), past_c=9.0, ahead_c=-5.0, members=12)
    ground = np.full_like(case.air.ground_c, ground_c)
    return replace(case, air=case.air._replace(ground_c=ground))


def foam_in(case: Case) -> Measure:
    every = np.arange(case.twin.members)
    ahead = case.run([])
    bare, came = score(case, NOTHING, ahead, [], every), effect(ahead, case.limits)
    tried = holding(case, "cold", bare, came, every)
    return next(measure for measure in tried if measure.name == "foam")


@pytest.mark.parametrize("stand", ["legs", "floor", "ground"])
def test_foam_is_worth_the_same_in_advice_shelter_and_plan(stand: str) -> None:
    case = cold_on(stand, 10.0)
    found = foam_in(case)
    told = next(way for way in shelters_of(case).ways if way.name == "foam")
    assert told.kelvin == pytest.approx(found.shift_k)
    assert try_plan(case, FOAMED)[0].effect.coldest_c == found.effect.coldest_c


def test_no_foam_goes_under_a_bed_on_warm_ground() -> None:
    case = cold_on("ground", 10.0)
    zones = case.twin.state.zones
    assert not zones.foam_r.any()
    under = case.run([plan.set_foam(0, z, R_M2KW, R_M2KW) for z in case.living])
    assert foam_in(case).effect.coldest_c[1] > effect(under, case.limits).coldest_c[1] + 0.1


MAT = {"watts": 60, "setpoint_c": 6.0, "share_of_floor": 0.5}


def with_mat(setpoint_c: float, *, on: bool) -> Case:
    bed = bed_of(heat_mat={**MAT, "setpoint_c": setpoint_c})
    off = MatChange(id="off", at=start_of(bed, dt.UTC), bed=bed.id, state="off")
    return case_of(bed, past_c=9.0, ahead_c=-5.0, members=12, feeds=() if on else (off,))


def mat_in(case: Case) -> Measure | None:
    every = np.arange(case.twin.members)
    ahead = case.run([])
    bare, came = score(case, NOTHING, ahead, [], every), effect(ahead, case.limits)
    tried = holding(case, "cold", bare, came, every)
    return next((measure for measure in tried if measure.name == "mat"), None)


@pytest.mark.parametrize(
    ("setpoint_c", "on", "tried_c"), [(6.0, False, "as set"), (6.0, True, 10.0), (12.0, True, None)]
)
def test_a_mat_that_is_on_is_only_tried_warmer(
    setpoint_c: float, on: bool, tried_c: float | str | None
) -> None:
    """10 degC is 6 K above the cold limit of 4 degC, the warmest that a plan sets it to."""
    case = with_mat(setpoint_c, on=on)
    assert case.mat_on is on
    found = mat_in(case)
    if tried_c is None:
        assert found is None
        return
    assert found is not None
    assert (found.action.setpoint_c or "as set") == tried_c
    if on:
        assert found.shift_k > 0.0


def test_what_is_said_of_a_mat_is_true() -> None:
    told = {setpoint_c: " ".join(advise(with_mat(setpoint_c, on=True)).would_help)
            for setpoint_c in (6.0, 12.0)}  # fmt: skip
    assert all("The heat mat is on already." in text for text in told.values())
    assert not any("The heat mat on" in text for text in told.values())
    assert "The mat's thermostat at 10 degC: would" in told[6.0]
    assert "thermostat" not in told[12.0]
    off = " ".join(advise(with_mat(6.0, on=False)).would_help)
    assert "The heat mat on: would" in off
    assert "already" not in off


def test_a_mat_that_is_on_may_be_advised_warmer_in_the_cold() -> None:
    """What-ifs must not find help on hand in a bed that is told that nothing on hand helps."""
    bed = bed_of(foam=True, heat_mat={**MAT, "setpoint_c": 4.5})
    on = case_of(bed, past_c=0.0, ahead_c=-8.0, members=12)
    assert [action.setpoint_c for action in mats(on, cold=True)] == [None, 5.0, 7.0, 10.0]
    assert [action.setpoint_c for action in mats(on, cold=False)] == [None]
    advice = advise(on)
    assert (advice.action.kind, advice.action.material) == ("mat", "on")
    assert advice.action.setpoint_c is not None
    assert "set the thermostat" in advice.headline.lower()
    # Where nothing changed, what was said stands, also where another setting would do as well.
    for setpoint_c in (7.0, 10.0):
        said = replace(advice, action=replace(advice.action, setpoint_c=setpoint_c))
        again = advise(on, said)
        assert (again.action.setpoint_c, again.cause_of_change) == (setpoint_c, "")


def test_what_helps_is_told_first() -> None:
    """A terminal shows the first three."""
    told = [text for text in advise(with_mat(6.0, on=True)).would_help if "(the limit" in text]
    helps = ["would not help" not in text and "colder" not in text and "worse" not in text
             for text in told]  # fmt: skip
    assert helps == sorted(helps, reverse=True)
    assert any(helps)


def test_shelter_says_the_same_of_a_mat_that_is_on() -> None:
    ways = {way.name: way.takes for way in shelters_of(with_mat(6.0, on=True)).ways}
    assert ways["mat"] == "The mat's thermostat at 10 degC"
    assert ways["foam and mat"] == "Foam board and the mat's thermostat at 10 degC"
    warm = {way.name for way in shelters_of(with_mat(12.0, on=True)).ways}
    assert "mat" not in warm


def test_it_is_said_where_the_foam_goes() -> None:
    foam = Action("insulate", material=FOAM, thickness_m=FOAM_M)
    said = {stand: words_of(cold_on(stand, 5.0), foam) for stand in ("legs", "floor", "ground")}
    assert "all round, under and on top" in said["legs"]
    assert "round the walls and on top" in said["floor"]
    assert said["ground"] == said["floor"]
