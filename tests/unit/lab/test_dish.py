"""The dish: bookkeeping of feed, series, stages and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.errors import KeeperError
from bedlore.lab.dish import Feed, Meal, dish

FEED = Feed(0.20, 1.0, edible_share=0.5, fast_share=0.4)


def test_feed_without_eaters_decays_by_its_rates() -> None:
    """100 g at 20 degC: 20 g fast at 0.10/d and 30 g slow at 0.002/d (hourly steps)."""
    run = dish(0.01, 50, 20.0, 0.78, 1e-6, 0.5, [Meal(0, FEED, 100.0)])
    expected = 20 * np.exp(-0.1 * run.day) + 30 * np.exp(-0.002 * run.day)
    np.testing.assert_allclose(run.food_g, expected, rtol=0.012)
    assert run.food_g[0] == pytest.approx(50.0)


def test_worms_speed_the_loss_of_feed() -> None:
    few = dish(0.01, 30, 20.0, 0.78, 1.0, 0.5, [Meal(0, FEED, 100.0)])
    many = dish(0.01, 30, 20.0, 0.78, 20.0, 0.5, [Meal(0, FEED, 100.0)])
    assert many.food_g[-1] < 0.8 * few.food_g[-1]


def test_meals_add_and_renewal_replaces() -> None:
    meals = [Meal(0, FEED, 10.0), Meal(1, FEED, 10.0), Meal(2, FEED, 40.0, renew=True)]
    run = dish(0.01, 3, 20.0, 0.78, 1e-6, 0.5, meals)
    assert 9.5 < run.food_g[1] < 10.0
    assert run.food_g[2] == pytest.approx(20.0)


def test_a_daily_series_equals_the_constant_it_holds() -> None:
    meals = [Meal(0, FEED, 50.0)]
    constant = dish(0.01, 20, 18.0, 0.78, 5.0, 0.1, meals)
    series = dish(0.01, 20, [18.0] * 20, np.full(20, 0.78), 5.0, 0.1, meals)
    np.testing.assert_array_equal(constant.mean_mass_g, series.mean_mass_g)
    cool = dish(0.01, 20, [18.0] * 10 + [8.0] * 10, 0.78, 5.0, 0.1, meals)
    np.testing.assert_array_equal(constant.mean_mass_g[:11], cool.mean_mass_g[:11])
    assert cool.mean_mass_g[20] < constant.mean_mass_g[20]


def test_cocoons_left_in_hatch_and_adults_can_be_taken_out() -> None:
    meals = [Meal(day, FEED, 100.0) for day in range(0, 60, 7)]
    kept = dish(0.01, 60, 25.0, 0.78, 5.0, 0.6, meals, stage="adult", take_cocoons=False)
    taken = dish(0.01, 60, 25.0, 0.78, 5.0, 0.6, meals, stage="adult")
    assert kept.hatched[-1] > 20.0
    assert taken.hatched[-1] < 1e-9
    assert taken.n_cocoon[-1] == 0.0
    out = dish(
        0.01, 60, 25.0, 0.78, 5.0, 0.6, meals,
        stage="adult", take_cocoons=False, adults_out_day=10,
    )  # fmt: skip
    assert out.n_adult[10] == 0.0
    assert out.cocoons[30] == pytest.approx(out.cocoons[10], rel=1e-3)
    assert out.hatched[30] > 5.0


def test_a_parameter_can_be_changed() -> None:
    meals = [Meal(0, FEED, 100.0)]
    slow = dish(0.01, 20, 20.0, 0.78, 1.0, 0.1, meals, params={"worm_growth_rate": 0.02})
    assert slow.mean_mass_g[-1] < dish(0.01, 20, 20.0, 0.78, 1.0, 0.1, meals).mean_mass_g[-1]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"area_m2": 0.0}, "area"),
        ({"worms_n": 0.0}, "worms"),
        ({"temp_c": [20.0, 21.0]}, "2 days"),
        ({"params": {"worm_wings": 2.0}}, "worm_wings"),
    ],
)
def test_what_cannot_be_run_is_said(change: dict[str, object], words: str) -> None:
    given = {
        "area_m2": 0.01, "days": 5, "temp_c": 20.0, "moisture_frac": 0.78, "worms_n": 1.0,
        "mass_g": 0.3, "meals": [],
    }  # fmt: skip
    with pytest.raises(KeeperError, match=words):
        dish(**{**given, **change})  # type: ignore[arg-type]
