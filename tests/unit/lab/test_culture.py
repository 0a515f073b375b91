"""A worm culture reacts to warmth, ration, crowding, moisture and hunger as worms do."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from bedlore.errors import KeeperError
from bedlore.lab import culture
from bedlore.lab.cultures import CultureResult


def keep(days: int = 90, food_g: float = 200.0, **changes: Any) -> CultureResult:
    """Ten hatchlings in 0.02 m2 of cow manure renewed weekly, their young taken out."""
    worms = changes.pop("worms", 10.0)
    gifts = [{"day": day, "set_food_g": food_g} for day in range(7, days, 7)]
    taken = [{"day": day, "set_worms": worms} for day in range(21, days, 7)]
    spec: dict[str, Any] = {
        "stage": "hatchling", "mass_g": 0.008, "area_m2": 0.02, "depth_m": 0.05, "temp_c": 20.0,
        "moisture_pct": 78.0, "material": "cow manure", "events": gifts + taken,
    }  # fmt: skip
    return culture(worms=worms, food_g=food_g, days=days, **(spec | changes))


def test_growth_and_laying_by_temperature() -> None:
    """KAP80 and LOE85: best at 20-29 and 20-25 degC; EDW04: 25 > 20 > 15 >> 10 degC."""
    runs = {temp: keep(temp_c=temp) for temp in (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 33.0)}
    mass = {temp: run.mean_mass_g[80] for temp, run in runs.items()}
    assert mass[25.0] > mass[20.0] > mass[15.0] > 1.8 * mass[10.0] > 3 * mass[5.0]
    assert mass[25.0] > mass[30.0] > mass[33.0]
    laid = {temp: run.cocoons[90] for temp, run in runs.items()}
    assert laid[5.0] == 0.0
    assert min(laid[20.0], laid[25.0]) > max(laid[15.0], laid[30.0])


def test_maturity_by_temperature_and_food() -> None:
    """NEU80 via VR88: half of them with a saddle at 4-6 weeks at 25 degC, all by week 10."""
    warm, cool = keep(temp_c=25.0), keep(temp_c=15.0)
    half = [int(np.argmax(run.n_clitellate >= 5)) for run in (warm, cool)]
    assert 28 <= half[0] <= 42 < half[1]
    assert warm.n_clitellate[70] > 0.98 * warm.founders[70]


def test_crowded_worms_are_smaller_and_heavier_together() -> None:
    """As in NEU80: on one ration the many stay small, yet weigh more in all."""
    few, many = (keep(worms=n, food_g=60.0) for n in (2.0, 40.0))
    assert few.mean_mass_g[90] > 1.5 * many.mean_mass_g[90]
    assert many.biomass_g[90] > 2 * few.biomass_g[90]
    assert few.cocoons[90] / 2 > many.cocoons[90] / 40


@pytest.mark.parametrize(("moisture", "worse"), [(60.0, 0.7), (90.0, 0.5)])
def test_too_dry_and_too_wet(moisture: float, worse: float) -> None:
    """KAP80: 70-85 % is best; EDW04: limits 60 and 90 %."""
    assert keep(moisture_pct=moisture).mean_mass_g[60] < worse * keep().mean_mass_g[60]


def test_hunger_shrinks_them_and_food_brings_them_back() -> None:
    run = keep(
        days=100, stage="adult", mass_g=0.5, food_g=0.0, events=[{"day": 42, "set_food_g": 400.0}]
    )
    assert 0.25 < run.mean_mass_g[42] < 0.4
    assert run.cocoons[42] == 0.0
    assert run.mean_mass_g[84] > 0.6
    assert run.cocoons[100] > 50.0
    assert run.founders[42] > 9.0


def test_cocoons_hatch_into_founders() -> None:
    """VR88: about 23 d at 25 degC, 0.73-0.87 hatch, 2.7-3.3 each."""
    run = keep(days=60, worms=20.0, stage="cocoon", mass_g=0.0143, temp_c=25.0, events=[])
    assert run.n_cocoon[0] == 20.0
    assert run.hatched[60] == pytest.approx(20 * 2.2, rel=0.1)
    assert run.hatched[23] == pytest.approx(0.5 * run.hatched[60], rel=0.25)
    assert run.founders[60] > 30.0


def test_everything_is_counted() -> None:
    """Worms alive and dead are the founders and those hatched; nothing jumps between days."""
    run = keep(days=80, stage="adult", mass_g=0.4, events=[])
    alive = run.n_hatchling + run.n_juvenile + run.n_adult
    assert alive + run.dead == pytest.approx(10.0 + run.hatched, rel=1e-9)
    for name in ("cocoons", "hatched", "dead"):
        assert np.all(np.diff(run[name]) >= 0.0), name
    assert run.food_left_g[0] == pytest.approx(200.0)
    assert np.all(np.diff(run.food_left_g) <= 0.0)


def test_events_put_in_and_take_out() -> None:
    events = [
        {"day": 3, "worms": 5}, {"day": 6, "worms": -8}, {"day": 9, "set_worms": 2},
        {"day": 9, "food_g": -50}, {"day": 12, "set_food_g": 30},
    ]  # fmt: skip
    run = keep(days=14, stage="adult", mass_g=0.4, events=events)
    assert run.founders[[3, 4, 7, 10]] == pytest.approx([10, 15, 7, 2], rel=0.02)
    assert run.food_left_g[9] - run.food_left_g[10] > 30.0
    assert 20.0 < run.food_left_g[13] <= 30.0


def test_a_daily_series_and_parameters() -> None:
    series = keep(days=30, temp_c=[10.0] * 15 + [25.0] * 15)
    assert keep(days=30, temp_c=10.0).mean_mass_g[30] < series.mean_mass_g[30]
    assert series.mean_mass_g[30] < keep(days=30, temp_c=25.0).mean_mass_g[30]
    slow = keep(days=30, params={"worm_growth_rate": 0.02})
    assert slow.mean_mass_g[30] < keep(days=30).mean_mass_g[30]


def test_worms_left_to_themselves_settle() -> None:
    """A herd fed a steady ration stops growing in number and mass."""
    gifts = [{"day": day, "food_g": 100.0} for day in range(7, 720, 7)]
    run = keep(days=720, stage="adult", mass_g=0.4, food_g=300.0, area_m2=0.05, events=gifts)
    assert run.biomass_g[720] == pytest.approx(run.biomass_g[540], rel=0.1)
    assert 0.8 < 0.001 * run.biomass_g[720] / 0.05 < 3.0


@pytest.mark.parametrize(
    "change",
    [
        {"stage": "egg"}, {"area_m2": 0.0}, {"temp_c": [20.0] * 3}, {"moisture_pct": 130.0},
        {"material": "moonstone"}, {"events": [{"day": -1, "food_g": 3}]},
        {"events": [{"day": 1, "fod_g": 3}]}, {"worms": float("nan")}, {"mass_g": -1.0},
        {"params": {"worm_wings": 2.0}},
    ],
)  # fmt: skip
def test_bad_input_is_answered_with_a_sentence(change: dict[str, Any]) -> None:
    with pytest.raises(KeeperError):
        keep(days=10, **change)
