"""Hours to harm, against the lumped solution of a cooling body."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed.cells import Air
from bedlore.bed.matter import DRY_HEAT_J_KGK, WATER_HEAT_J_KGK
from bedlore.decide.case import Case, dry_kg
from bedlore.decide.harm import _words, harms_of, hours_to_harm
from bedlore.facts.parameters import defaults
from bedlore.farm.bed import Bed, Limits
from bedlore.weather.air import vapour_density_kg_m3

from .conftest import bed_of, feed, weather

Make = Callable[..., Case]


def steady(temp_c: float, hours: int = 96) -> Air:
    air_c = np.full((1, hours), temp_c)
    return Air(air_c, air_c, vapour_density_kg_m3(air_c, np.ones_like(air_c)), air_c)


def lumped(case: Case, bed: Bed) -> Case:
    """The bed as a body of one temperature: it conducts well, nothing decays or evaporates."""
    params = defaults().copy()
    for name in ("fast_rate_per_day", "medium_rate_per_day", "slow_rate_per_day",
                 "humus_rate_per_day"):  # fmt: skip
        params[name] = 0.0
    params["conductivity_scale"] = 400.0
    state = case.twin.state.pick(np.array([0]))
    state.cells.temp_c[:] = 16.0
    state.zones.surface_c[:] = 16.0
    for array in state.herd:
        array[:] = 0.0
    # Nothing evaporates and nothing drains: the body keeps its heat capacity.
    geometry = case.twin.geometry._replace(lid_leak=np.zeros(len(bed.zones)), drains=0.0)
    return replace(case, twin=replace(case.twin, params=params, state=state, geometry=geometry))


def conductance_w_k(case: Case) -> float:
    """UA of the lumped body: sum of area / (layers + film) over sides, base and top."""
    g, state = case.twin.geometry, case.twin.state
    run = case.run([], np.array([0]), every=1, hours=1)
    depth = run.run.series("depth_m")[0, 0]
    side = g.side_m * depth / (g.side_r + g.side_film_r)
    base = g.area_m2 / (g.base_r + g.base_film_r)
    top = g.area_m2 / (g.lid_r + g.top_film_r)
    assert state.zones.cover_m.max() == 0.0
    return float((side + base + top).sum())


def test_cooling_curve_matches_the_lumped_solution(make_case: Make) -> None:
    """T = Ta + (T0 - Ta) exp(-t UA / C): lumped cooling (any heat-transfer text), within 0.2 K."""
    bed = bed_of(foam=True)
    case = lumped(make_case(bed, feeds=[feed(20, bed, 0.5)], past_c=10.0), bed)
    state = case.twin.state
    heat_capacity = float(
        (dry_kg(state) * DRY_HEAT_J_KGK).sum() + state.cells.water_kg.sum() * WATER_HEAT_J_KGK
    )
    case = replace(case, air=steady(2.0), open_air=steady(2.0))
    rate_h = conductance_w_k(case) / heat_capacity * 3600.0
    curve = np.array(hours_to_harm(case, "door open", limit="cold").curve)
    wanted = 2.0 + 14.0 * np.exp(-rate_h * curve[:, 0])
    assert curve[:, 2] == pytest.approx(wanted, abs=0.2)
    assert wanted[-1] < 14.0  # it cools by enough for this to be a test


def test_hours_are_said_as_a_person_says_them() -> None:
    """Not "after 1 hours", nor "between 0 and 5"; what is likely is not said to be so."""
    inf = np.inf

    def said(*band: float) -> str:
        return _words("power cut", "cold", band, 72, 4.0)  # type: ignore[arg-type]

    assert "after an hour or so, perhaps at once, perhaps after 5." in said(0, 1, 5)
    assert "after 1 hour, most likely between" not in said(2, 3, 5)
    assert "after 3 hours, most likely between 2 and 5." in said(2, 3, 5)
    assert "may be below 4 degC at once, more likely later than in 72 hours" in said(0, inf, inf)
    assert "may be below 4 degC after 7 hours or more" in said(7, inf, inf)
    assert "it is most likely below 4 degC already" in said(0, 0, inf)


def test_hours_are_where_the_curve_meets_the_limit(make_case: Make) -> None:
    bed = bed_of()
    case = make_case(bed, feeds=[feed(20, bed, 1.0)], past_c=10.0, ahead_c=8.0,
                     open_air=steady(-6.0))  # fmt: skip
    (found,) = harms_of(case)
    assert found.event == "door open"
    assert found.limit == "cold"
    low, mid, high = found.hours
    assert 0.0 < low <= mid <= high
    before = [point for point in found.curve if point[0] < mid - 3.0]
    after = [point for point in found.curve if point[0] > mid + 3.0]
    assert all(point[2] > case.limits.cold_c - 0.3 for point in before)
    assert all(point[2] < case.limits.cold_c + 0.3 for point in after)
    assert "hours" in found.words


def test_foam_gives_more_time(make_case: Make) -> None:
    hours = []
    for foam in (False, True):
        bed = bed_of(foam=foam)
        case = make_case(bed, feeds=[feed(20, bed, 1.0)], past_c=10.0, open_air=steady(-6.0))
        hours.append(harms_of(case)[0].hours[1])
    assert hours[1] > hours[0]


def test_never_is_said_as_such(make_case: Make) -> None:
    bed = bed_of()
    case = make_case(bed, feeds=[feed(20, bed, 1.0)], open_air=weather(12.0, 4),
                     limits=Limits(cold_c=1.0))  # fmt: skip
    (found,) = harms_of(case)
    assert found.hours[0] == np.inf
    assert "not expected" in found.words


MAT = {"watts": 60, "setpoint_c": 12.0, "share_of_floor": 0.5}


@pytest.mark.parametrize(
    ("place", "mat", "events"),
    [("indoors", MAT, ["power cut", "door open"]), ("indoors", None, ["door open"]),
     ("outdoors", MAT, ["power cut"]), ("outdoors", None, [])],
)  # fmt: skip
def test_only_mishaps_that_can_befall_the_bed_are_told(
    make_case: Make, place: str, mat: dict[str, float] | None, events: list[str]
) -> None:
    """No door stands before a bed outdoors, and no power cut stops a mat that is not there."""
    case = make_case(bed_of(place=place, heat_mat=mat), past_c=10.0, open_air=steady(-6.0))
    assert [one.event for one in harms_of(case)] == events


def test_an_open_door_leaves_the_mat_as_it_is(make_case: Make) -> None:
    """In the same cold air the bed cools less with its mat on than when the power is cut too."""
    case = make_case(bed_of(heat_mat=MAT), past_c=10.0, ahead_c=-6.0, open_air=steady(-6.0))
    door = hours_to_harm(case, "door open", air=steady(-6.0), limit="cold")
    cut = hours_to_harm(case, "power cut", air=steady(-6.0), limit="cold")
    assert door.curve[-1][2] > cut.curve[-1][2] + 0.5


def test_the_limit_is_told_as_it_was_set(make_case: Make) -> None:
    case = make_case(bed_of(), past_c=10.0, open_air=steady(-6.0), limits=Limits(cold_c=1.5))
    assert "below 1.5 degC" in harms_of(case)[0].words
