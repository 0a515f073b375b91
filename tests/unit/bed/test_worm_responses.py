"""Responses of worms to temperature, moisture, food and harm against tables worked out by hand.

The growth, laying and incubation rows are those of the literature review the parameters come
from (CTMI with the cardinal temperatures of the parameter table, rounded to two decimals).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from bedlore.bed import worm_responses as worms
from bedlore.bed.incubation import incubation_warmth
from tests.unit.bed.worm_cases import DEFAULTS as P

GROWTH = [(5, .06), (8, .28), (10, .38), (12, .48), (15, .64), (18, .80), (20, .89), (22, .95),
          (25, 1), (28, .94), (30, .81), (32, .59)]  # fmt: skip
LAYING = [
    (8, 0.07),
    (10, 0.18),
    (15, 0.57),
    (20, 0.91),
    (25, 0.98),
    (28, 0.80),
    (30, 0.57),
    (32, 0.22),
]
INCUBATION_D = [(10, 123), (12, 78), (15, 51), (18, 37), (20, 32), (22, 28), (25, 23), (28, 20)]


@pytest.mark.parametrize(("temp_c", "expected"), GROWTH)
def test_growth(temp_c: float, expected: float) -> None:
    found = worms.growth_at(worms.growth_law(P), float(temp_c))
    assert found == pytest.approx(expected, abs=0.0075)


@pytest.mark.parametrize(("temp_c", "expected"), LAYING)
def test_laying(temp_c: float, expected: float) -> None:
    found = worms.cardinal_at(worms.laying_law(P), float(temp_c))
    assert found == pytest.approx(expected, abs=0.0075)


@pytest.mark.parametrize(("temp_c", "days"), INCUBATION_D)
def test_incubation(temp_c: float, days: float) -> None:
    got = P["worm_incubation_kd"] / incubation_warmth(P, float(temp_c))
    assert got == pytest.approx(days, abs=0.55)


@pytest.mark.parametrize("temp_c", [-20.0, -3.0, 3.0, 35.0, 50.0])
def test_no_growth_outside_the_limits(temp_c: float) -> None:
    assert worms.growth_at(worms.growth_law(P), temp_c) == 0.0


@pytest.mark.parametrize(
    ("temp_c", "half_d", "tolerance"),
    # Median time to death by heat as tabled in the review: 160, 24, 7, 1.4 d, 7 h, 1 h.
    [(30, 160, .02), (33, 24, .03), (35, 7, .02), (37.5, 1.4, .05), (40, 7 / 24, .05),
     (43, 1 / 24, .1)],
)  # fmt: skip
def test_heat_deaths(temp_c: float, half_d: float, tolerance: float) -> None:
    got = math.log(2) / worms.heat_hazard(P, float(temp_c))
    assert got == pytest.approx(half_d, rel=tolerance)


def test_cold_is_weak_above_freezing_and_lethal_below() -> None:
    calm = (0.78, 0.0, 1.0)
    assert worms.worm_hazard(P, 5.0, *calm) == 0.0
    assert worms.worm_hazard(P, 0.0, *calm) == pytest.approx(3 * P["worm_chill_rate"])
    assert worms.worm_hazard(P, -1.0, *calm) > 1.0
    # Cocoons outlive the worms: none die above -3, about 0.1/d at -5 and 1/d at -10 degC.
    background = P["worm_die_cocoon"]
    assert worms.cocoon_hazard(P, -2.9) == background
    assert worms.cocoon_hazard(P, -5.0) - background == pytest.approx(0.1, abs=0.03)
    assert worms.cocoon_hazard(P, -10.0) - background == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("moisture", "expected"),
    [(.45, 0), (.5, 0), (.6, .5), (.7, 1), (.78, 1), (.85, 1), (.9, .5), (.95, 0), (1.0, 0)],
)  # fmt: skip
def test_moisture(moisture: float, expected: float) -> None:
    assert worms.moisture_response(worms.moisture_limits(P), moisture) == pytest.approx(
        expected, abs=1e-12
    )


def test_ammonia_and_oxygen() -> None:
    limits = worms.ammonia_limits(P)
    assert worms.ammonia_response(limits, 0.1) == 1.0
    assert worms.ammonia_response(limits, 0.6) == pytest.approx(0.5)
    assert worms.ammonia_response(limits, 1.5) == 0.0
    full = float(P["worm_oxygen_full"])
    assert worms.oxygen_response(full, 0.15) == pytest.approx(0.5)
    assert worms.oxygen_response(full, 1.0) == 1.0
    assert worms.worm_hazard(P, 15.0, 0.78, 0.0, 0.0) == pytest.approx(P["worm_choke_rate"])
    assert worms.worm_hazard(P, 15.0, 0.78, 1.0, 1.0) == pytest.approx(P["worm_ammonia_rate"])
    assert worms.worm_hazard(P, 15.0, 0.40, 0.0, 1.0) == pytest.approx(P["worm_dry_rate"])


def test_food_response_is_half_at_the_half_food() -> None:
    kg_on_a_tenth = P["worm_half_food_g"] / 1000.0 * 10.0  # g per 0.01 m2 on 0.1 m2
    half = worms.half_food(P, 0.1)
    assert worms.food_response(half, kg_on_a_tenth) == pytest.approx(0.5)
    assert worms.food_response(half, 0.0) == 0.0


def test_laying_falls_with_age() -> None:
    assert worms.laying_age(P, 0.0) == 0.0
    assert worms.laying_age(P, 100.0) == 1.0
    assert worms.laying_age(P, P["worm_old_d"] + P["worm_old_span_d"]) == pytest.approx(0.2)


def test_preference_is_flat_between_15_and_25() -> None:
    limits = worms.preference_limits(P)
    assert worms.preference(limits, 15.0) == worms.preference(limits, 25.0) == 1.0
    assert worms.preference(limits, 4.0) == pytest.approx(0.45)
    assert worms.preference(limits, 30.0) == pytest.approx(0.5)
    assert worms.preference(limits, 36.0) == worms.preference(limits, -6.0) == 0.0


def test_the_cardinal_law_stays_within_its_bounds_for_any_optimum() -> None:
    """Beliefs move; an optimum below the middle of the range gives a parabola, never a pole."""
    temps = np.linspace(-5.0, 45.0, 501)
    for topt in (5.0, 12.0, 17.5, 19.4, 22.0, 30.0):
        law = worms.cardinal(5.0, topt, 35.0)
        found = np.array([worms.cardinal_at(law, t) for t in temps])
        assert found.min() >= 0.0
        assert found.max() <= 1.0 + 1e-12
    law = worms.cardinal(5.0, 12.0, 35.0)
    middle = [worms.cardinal_at(law, t) for t in (12.5, 20.0, 27.5)]
    assert middle == pytest.approx([0.75, 1.0, 0.75])
