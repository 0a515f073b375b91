"""Uneaten food as a balance, and what it claims."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed.engine import State
from bedlore.decide.case import Case
from bedlore.decide.pantry import claims, pantry_of, to_put_by
from bedlore.facts.parameters import defaults
from bedlore.farm.site import Normals
from bedlore.outlook.ahead import look_ahead

from .conftest import STORE, bed_of, feed, weather

Make = Callable[..., Case]
BED = bed_of(foam=True)
COLD = Normals(daily_low_c=(-9,) * 3 + (5,) * 6 + (-5,) * 3,
               daily_high_c=(2,) * 3 + (15,) * 6 + (4,) * 3)  # fmt: skip


def test_more_food_waits_for_more_card(make_case: Make) -> None:
    little = pantry_of(make_case(BED, feeds=[feed(26, BED, 0.5)], past_c=3.0))
    much = pantry_of(make_case(BED, feeds=[feed(26, BED, 4.0)], past_c=3.0))
    assert much.rows[0].food_kg[1] > little.rows[0].food_kg[1] + 1.5
    assert much.rows[0].heat_mj[1] > little.rows[0].heat_mj[1]
    assert much.rows[0].ammonia_g[1] > little.rows[0].ammonia_g[1]
    assert much.rows[0].dry_card_kg[1] >= little.rows[0].dry_card_kg[1]


def _without_worms(state: State) -> State:
    bare = state.copy()
    for array in bare.herd:
        array[:] = 0.0
    return bare


def test_heat_is_what_the_model_releases_at_that_warmth(make_case: Make) -> None:
    """Against the model run on at 15 degC without worms: a closed form beside an hourly loop."""
    case = make_case(BED, feeds=[feed(27, BED, 2.0)], past_c=6.0, members=4)
    params = np.repeat(defaults(), case.twin.members)
    state = _without_worms(case.twin.state)
    for array in (state.cells.carbon_kg, state.cells.nitrogen_kg):
        array[..., 2:] = 0.0  # slow food and castings do not count as uneaten
    wanted = claims(state, params, temp_c=15.0, days=30)["heat_mj"]
    air = weather(15.0, 31, members=1, spread_k=0.0)
    state.cells.temp_c[:] = 15.0
    twin = replace(case.twin, params=params, state=state)
    run = look_ahead(twin, air, hours=30 * 24, every=24).run
    # What is made in the bed warms it (foam), dries it and wants air: within a fifth.
    assert run.total("heat_decay_j")[:, 0] / 1e6 == pytest.approx(wanted[:, 0], rel=0.2, abs=0.05)
    assert wanted[:, 0].max() > 1.0


def test_card_and_leaves_for_the_winter(make_case: Make) -> None:
    case = make_case(BED, feeds=[feed(26, BED, 0.5)], past_c=3.0)
    card, leaves = to_put_by(case, COLD)
    # 6 months of 4.35 weeks; of the 5 kg that come the side that is fed, 0.36 m2, takes 1.76 kg
    # (1 lb/ft2 a week), with about an eighth of card (C:N 16).
    assert card == pytest.approx(6 * 4.35 * 1.76 / 8, rel=0.1)
    # 0.72 m2, 10 cm twice, at the table's 120 kg/m3.
    assert leaves == pytest.approx(2 * 0.1 * 0.72 * 120.0)
    mild = Normals(daily_low_c=(8,) * 12, daily_high_c=(18,) * 12)
    assert to_put_by(case, mild) == (0.0, 0.0)


def test_card_goes_by_the_beds_part_of_what_comes_and_by_its_area(make_case: Make) -> None:
    """A bed twice as wide takes twice the ration while enough comes in; else its part counts."""
    def card(width_m: float, comes_kg: float, share: float) -> float:
        store = (STORE[0].model_copy(update={"per_week_kg": comes_kg}), *STORE[1:])
        bed = bed_of(width_m=width_m)
        case = make_case(bed, days=3, past_c=8.0, store=store, share_of_store=share, members=4)
        return to_put_by(case, COLD)[0]

    assert card(1.2, 20.0, 1.0) == pytest.approx(2.0 * card(0.6, 20.0, 1.0))
    assert card(0.6, 20.0, 0.5) == pytest.approx(card(0.6, 20.0, 1.0))  # more comes than it takes
    assert card(0.6, 1.0, 0.5) == pytest.approx(0.5 * card(0.6, 1.0, 1.0))
    assert card(1.2, 1.0, 0.5) == pytest.approx(card(0.6, 1.0, 0.5))


def test_uneaten_food_is_what_the_outlook_calls_food_left(make_case: Make) -> None:
    case = make_case(BED, feeds=[feed(26, BED, 2.0)], past_c=9.0)
    told = {row.zone_id: row.food_kg[1] for row in pantry_of(case).rows}
    left = np.median(case.twin.recent.series("food_left_kg")[:, -1], axis=0)
    assert told == pytest.approx(dict(zip(case.twin.zone_ids, left.tolist(), strict=True)))
    assert sum(told.values()) > 0.5


def test_spare_water_is_what_a_sponge_does_not_hold(make_case: Make) -> None:
    case = make_case(BED, feeds=[feed(26, BED, 0.5)], past_c=3.0)
    before = claims(case.twin.state, case.twin.params)["spare_water_kg"]
    wetter = case.twin.state.copy()
    wetter.cells.water_kg[:, 0] += 1.0
    after = claims(wetter, case.twin.params)["spare_water_kg"]
    assert np.all(after[:, 0] >= before[:, 0])
    assert np.all(after[:, 1] == before[:, 1])
    assert dt.timedelta(days=30).days == pantry_of(case).claim_days
