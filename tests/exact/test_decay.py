"""Decay against exact sums: physics fact book s.9, V8, V9 and V15 (figures computed there)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bedlore.bed.decay import moisture_response, temperature_response
from bedlore.lab import reactor

# Food C18H26O10N: 1.441 kg O2/kg (derived) at 14.2 MJ/kg O2 (oxycaloric mean) = 20.46 MJ/kg.
FOOD_HEAT_J_KG = 1.441 * 14.2e6
TWO_POOLS = {"fast_rate_per_day": 0.10, "medium_rate_per_day": 0.015, "residue_yield": 1e-12}


def test_v8_two_pools() -> None:
    """0.6 at 0.10/d and 0.4 at 0.015/d leave 0.28492 after 30 d. Reached: 7e-6."""
    run = reactor([{"volatile_kg": [0.6, 0.4, 0, 0]}], 30, temp_c=20.0, ample_water=True,
                  ample_nitrogen=True, params=TWO_POOLS)  # fmt: skip
    exact = 0.6 * math.exp(-3.0) + 0.4 * math.exp(-0.45)
    assert exact == pytest.approx(0.28492, abs=5e-6)
    assert run.volatile_left_frac[-1] == pytest.approx(exact, abs=1e-4)
    pools = run.pools_kg[15]
    assert pools[0] == pytest.approx(0.6 * math.exp(-1.5), rel=1e-4)
    assert pools[1] == pytest.approx(0.4 * math.exp(-0.225), rel=1e-4)


def test_v8_heat_is_what_was_lost() -> None:
    """Cumulative heat equals loss x 20.4 MJ/kg (20.46 from the formula)."""
    run = reactor([{"volatile_kg": [0.6, 0.4, 0, 0]}], 30, temp_c=20.0, ample_water=True,
                  ample_nitrogen=True, params=TWO_POOLS)  # fmt: skip
    lost = run.volatile_kg[0] - run.volatile_kg
    assert run.heat_j[1:] == pytest.approx(lost[1:] * FOOD_HEAT_J_KG, rel=1e-9)
    assert run.heat_j[-1] / lost[-1] == pytest.approx(20.4e6, rel=0.005)


@pytest.mark.parametrize(("temp_c", "share"), [(10.0, 0.5), (20.0, 1.0), (30.0, 2.0)])
def test_rate_doubles_in_ten_kelvin(temp_c: float, share: float) -> None:
    run = reactor([{"volatile_kg": [1, 0, 0, 0]}], 5, temp_c=temp_c, ample_water=True,
                  ample_nitrogen=True, params=TWO_POOLS)  # fmt: skip
    assert -math.log(run.volatile_left_frac[-1]) == pytest.approx(0.5 * share, rel=1e-3)


@pytest.mark.parametrize(
    ("moisture", "exact"),
    [(0.30, 0.147), (0.40, 0.503), (0.50, 0.856), (0.60, 0.972), (0.70, 0.995), (0.80, 0.999)],
)
def test_moisture_curve(moisture: float, exact: float) -> None:
    """Haug's curve (from memory) at the printed points."""
    assert moisture_response(moisture) == pytest.approx(exact, abs=0.001)


def test_temperature_curve_meets_its_corners() -> None:
    """Q10 2: 0.5 at 10 degC; straight to nothing from 2 to -2; none from 65 degC on."""
    doubling = math.log(2.0)
    assert temperature_response(0.0, doubling) == pytest.approx(0.5 * 2 ** (-1.8))
    assert temperature_response(10.0, doubling) == pytest.approx(0.5)
    assert temperature_response(-2.0, doubling) == temperature_response(65.0, doubling) == 0.0
    edges = np.array([2.0, 40.0, 50.0])
    for edge in edges:
        below, above = (temperature_response(edge + d, doubling) for d in (-1e-7, 1e-7))
        assert below == pytest.approx(above, abs=1e-5)


def test_v9_steady_feeding() -> None:
    """Fed evenly the stock of a pool comes to F/k and the heat to F x H."""
    rate, a_day = 0.10, 0.024
    run = reactor([{"volatile_kg": [a_day / 24, 0, 0, 0]}], 110, temp_c=20.0,
                  again_every_d=1 / 24, ample_water=True, ample_nitrogen=True,
                  params=TWO_POOLS, area_m2=50.0)  # fmt: skip
    assert run.pools_kg[-1, 0] == pytest.approx(a_day / rate, rel=0.005)
    watts = (run.heat_j[-1] - run.heat_j[-11]) / (10 * 86400)
    assert watts == pytest.approx(a_day * FOOD_HEAT_J_KG / 86400, rel=0.005)


def test_v15_heat_of_complete_decay() -> None:
    """More than the 7,084 kJ/kg dry that large plants recover (Smith, Aber & Rynk 2015), and at
    most 18,000; lignin and castings are left out."""
    run = reactor([{"material": "food_mixed_kitchen", "mass_kg": 10}], 700, temp_c=40.0,
                  every_h=480, params={"humus_rate_per_day": 0.0})  # fmt: skip
    per_dry = run.heat_j[-1] / run.dry_in_kg / 1000
    assert 7084 < per_dry <= 18_000
    assert run.pools_kg[-1, :3].sum() < 0.01 * run.volatile_in_kg


@pytest.mark.parametrize(
    ("mix", "low_k", "high_k"),
    [
        ([("food_mixed_kitchen", 0.8), ("bed_corrugated", 0.1)], 20, 50),  # class III to I: raw
        ([("man_horse_fresh", 1.0)], 20, 50),
        ([("yard_grass_loose", 0.6)], 20, 50),
        ([("oth_vermicompost_seed", 1.0)], 0, 10),  # class V: finished
        ([("bed_leaf_mold", 1.0)], 0, 10),
    ],
)
def test_self_heating_classes(mix: list[tuple[str, float]], low_k: float, high_k: float) -> None:
    """Rise in a vacuum flask within 10 d (classes from memory): I over 40 K, V under 10 K."""
    parts = [{"material": name, "mass_kg": kg} for name, kg in mix]
    run = reactor(parts, 10, vessel={}, every_h=1)
    rise_k = run.temp_highest_c.max() - 20.0
    assert low_k <= rise_k <= high_k
