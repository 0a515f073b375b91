"""Numbers and live mass of worms close to rounding over any hours of any surroundings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.bed import movement, worms
from bedlore.bed.layout import Herd
from tests.unit.bed.worm_cases import DEFAULTS as P
from tests.unit.bed.worm_cases import pleasant, settled

seeds = st.integers(0, 2**32 - 1)


def worms_n(herd: Herd) -> float:
    return float(herd.hatchling_n.sum() + herd.juvenile_n.sum() + herd.adult_n.sum())


def rough(rng: np.random.Generator, cells: int = 6):  # type: ignore[no-untyped-def]
    """Return surroundings anywhere between pleasant and deadly."""
    around = pleasant(cells)
    around.temp_c[:] = rng.uniform(-8, 42) + rng.normal(0, 4, cells)
    around.moisture_frac[:] = rng.uniform(0.35, 1.0, cells)
    around.oxygen_factor[:] = rng.uniform(0, 1, cells)
    around.ammonia_mg_g[:] = rng.exponential(0.3, cells)
    around.food_kg[:] = rng.exponential(0.1, cells) * (rng.uniform(size=cells) < 0.6)
    around.food_quality[:] = rng.uniform(0, 1, cells)
    around.reach[:] = rng.uniform(size=cells) < 0.8
    return around


@given(seeds)
def test_numbers_and_mass_close(seed: int) -> None:
    rng = np.random.default_rng(seed)
    herd = settled(adults=10 ** rng.uniform(-8, 4))
    flow, eaten_kg = np.zeros(worms.FLOW_SIZE), np.zeros(6)
    worms_before, cocoons_before = worms_n(herd), herd.cocoon_n.sum()
    kg_before = worms.herd_mass_kg(P, herd)
    for _ in range(6):
        around = rough(rng)
        for _ in range(12):
            worms.worm_hour(P, herd, 0, around, 0.36, 0.5, 1.0, eaten_kg, flow)
            assert np.all(eaten_kg <= around.food_kg)
    turnover_kg = kg_before + flow[worms.ASSIMILATED_KG]
    built = flow[worms.ASSIMILATED_KG] - flow[worms.RESPIRED_KG] - flow[worms.DEAD_KG]
    change_kg = worms.herd_mass_kg(P, herd) - kg_before
    assert change_kg == pytest.approx(built, abs=1e-12 * turnover_kg)
    died = flow[[worms.DIED_HATCHLING_N, worms.DIED_JUVENILE_N, worms.DIED_ADULT_N]].sum()
    n_scale = worms_before + flow[worms.HATCHED_N]
    change_n = worms_n(herd) - worms_before
    assert change_n == pytest.approx(flow[worms.HATCHED_N] - died, abs=1e-12 * n_scale)
    spent = flow[worms.COCOON_LOST_N] + flow[worms.COCOON_OPENED_N]
    change_cocoons = herd.cocoon_n.sum() - cocoons_before
    cocoon_scale = cocoons_before + flow[worms.LAID_N]
    assert change_cocoons == pytest.approx(flow[worms.LAID_N] - spent, abs=1e-12 * cocoon_scale)
    for array in herd:
        assert np.all(np.isfinite(array))
        assert np.all(array >= 0.0)
    assert flow.min() >= 0.0
    assert herd.where[0].sum() == pytest.approx(1.0, abs=1e-13)
    assert herd.juvenile_slow_n[0] <= herd.juvenile_n[0] * (1 + 1e-9)
    assert herd.adult_slow_n[0] <= herd.adult_n[0] * (1 + 1e-9)


@given(seeds)
def test_movement_conserves(seed: int) -> None:
    rng = np.random.default_rng(seed)
    zones = int(rng.integers(2, 6))
    herd = settled(zones)
    for array in herd[1:10]:
        array *= rng.uniform(0.1, 1.0)
    links = np.array([[z, z + 1] for z in range(zones - 1)])
    before = [array.sum() for array in herd]
    for _ in range(48):
        movement.move_between_zones(
            P,
            herd,
            links,
            rng.uniform(0, 1, zones),
            rng.uniform(0, 1, zones),
            rng.uniform(-5, 40, zones),
            1.0,
        )
    for array, total in zip(herd, before, strict=True):
        assert array.sum() == pytest.approx(total, rel=1e-12)
        assert np.all(array >= 0.0)
