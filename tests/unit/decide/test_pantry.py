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

from .conftest import bed_of, feed, weather

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
    # 6 months of 4.35 weeks, 5 kg of scraps a week (C:N 16) with about an eighth of card.
    assert 12.0 < card < 25.0
    # 0.72 m2, 10 cm twice, at the table's 120 kg/m3.
    assert leaves == pytest.approx(2 * 0.1 * 0.72 * 120.0)
    mild = Normals(daily_low_c=(8,) * 12, daily_high_c=(18,) * 12)
    assert to_put_by(case, mild) == (0.0, 0.0)


def test_spare_water_is_what_a_sponge_does_not_hold(make_case: Make) -> None:
    case = make_case(BED, feeds=[feed(26, BED, 0.5)], past_c=3.0)
    before = claims(case.twin.state, case.twin.params)["spare_water_kg"]
    wetter = case.twin.state.copy()
    wetter.cells.water_kg[:, 0] += 1.0
    after = claims(wetter, case.twin.params)["spare_water_kg"]
    assert np.all(after[:, 0] >= before[:, 0])
    assert np.all(after[:, 1] == before[:, 1])
    assert dt.timedelta(days=30).days == pantry_of(case).claim_days
