"""The compiled loop against the same physics written again for SciPy's ``solve_ivp``.

A week of one column: conduction with walls on all sides, freezing, decay of three pools that
warms it, air that changes every hour. The equations stand here a second time, from docs/model.md
and with their own figures, so that a slip in the kernel shows; nothing is imported from it.
What is left out is held still in the kernel too: evaporation, water, nitrogen shortage, worms.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from bedlore.bed import acts
from bedlore.bed.cells import Air
from bedlore.bed.engine import simulate
from bedlore.bed.plan import in_order
from bedlore.facts.parameters import defaults
from bedlore.lab.bench import NO_DECAY, NO_FLOW, column_geometry, fill

HOURS, CELLS, AREA, DEPTH = 24 * 7, 12, 0.72, 0.20
RATES_PER_D = np.array([0.004, 0.0015, 0.0005])  # slow, so that air stays ample
VOLATILE_KG = np.array([6.0, 5.0, 4.0])
DRY_PER_C = np.array([1 / 0.519, 1 / 0.519, 1 / 0.444])
OXYGEN_PER_C = np.array([1.441 / 0.519, 1.441 / 0.519, 1.184 / 0.444])
BULK = np.array([110.0, 160.0, 90.0])
MOISTURE, RANGE_K, K = 0.70, 0.6, 0.40
SIDE_M, SIDE_R, BASE_R, LID_R, HALF_WIDTH = 3.6, 0.5, 0.6, 0.8, 0.3
FILM_UP, FILM_SIDE, FILM_DOWN = 0.11, 0.12, 0.16


def weather(mean_c: float) -> np.ndarray:
    hour = np.arange(HOURS)
    return mean_c + 5 * np.sin(2 * np.pi * hour / 24) - 4 * (hour > 80)


def kernel(air_c: np.ndarray, start_c: float):  # type: ignore[no-untyped-def]
    """Temperatures [CELLS] and carbon left by pool after the week, by the compiled loop."""
    water = VOLATILE_KG.sum() * MOISTURE / (1 - MOISTURE)
    row = np.zeros(acts.ACT_SIZE)
    row[acts.CARBON : acts.CARBON + 3] = VOLATILE_KG / DRY_PER_C
    row[acts.WATER_KG] = water
    row[acts.AMMONIA] = 10.0
    theta = 0.001 * water / (VOLATILE_KG / BULK).sum()
    scale = K / (0.06 + 0.50 * theta / 0.7)
    fixed = {
        "fast_rate_per_day": RATES_PER_D[0], "medium_rate_per_day": RATES_PER_D[1],
        "slow_rate_per_day": RATES_PER_D[2], "humus_rate_per_day": 0.0, "residue_yield": 1e-12,
        "nitrify_rate_per_day": 0.0, "ammonia_loss_per_day": 0.0, "conductivity_scale": scale,
    }  # fmt: skip
    params = defaults({**NO_DECAY, **NO_FLOW, **fixed})
    geometry = column_geometry(
        AREA, lid_leak=np.zeros(1), open_leak=0.0, side_m=np.array([SIDE_M]),
        side_r=np.array([SIDE_R]), base_r=np.array([BASE_R]), lid_r=np.array([LID_R]),
        half_width_m=np.array([HALF_WIDTH]),
    )  # fmt: skip
    bench = fill(geometry, params, in_order([row]), CELLS, start_c)
    still = np.zeros((1, HOURS))
    air = Air(air_c[None], air_c[None], still, air_c[None])
    run = simulate(geometry, params, bench.state, air, in_order([]))
    cells = run.state.cells
    return cells.temp_c[0, 0], cells.carbon_kg[0, 0].sum(axis=0)[:3], run


def temp_of(heat: np.ndarray, dry: np.ndarray, water: np.ndarray) -> np.ndarray:
    warm = 1400 * dry + 4180 * water
    mush = warm + 334e3 * water / RANGE_K
    hard = 1400 * dry + 2050 * water
    frozen = -RANGE_K + (heat + mush * RANGE_K) / hard
    return np.where(heat >= 0, heat / warm, np.where(heat >= -mush * RANGE_K, heat / mush, frozen))


def heat_of(temp: float, dry: np.ndarray, water: np.ndarray) -> np.ndarray:
    warm = 1400 * dry + 4180 * water
    if temp >= 0:
        return warm * temp
    raise ValueError("start unfrozen")


def again(air_c: np.ndarray, start_c: float) -> tuple[np.ndarray, np.ndarray]:
    """The same by ``solve_ivp``, hour after hour because the air jumps."""
    water = np.full(CELLS, VOLATILE_KG.sum() * MOISTURE / (1 - MOISTURE) / CELLS)
    carbon = np.repeat((VOLATILE_KG / DRY_PER_C)[:, None] / CELLS, CELLS, axis=1)
    state = np.concatenate([heat_of(start_c, DRY_PER_C @ carbon, water), carbon.ravel()])
    for hour in range(HOURS):
        answer = solve_ivp(
            _rates, (0, 3600), state, args=(float(air_c[hour]), water), rtol=1e-6,
            atol=np.repeat([1.0, 1e-9], [CELLS, 3 * CELLS]),
        )  # fmt: skip
        assert answer.success
        state = answer.y[:, -1]
    carbon = state[CELLS:].reshape(3, CELLS)
    return temp_of(state[:CELLS], DRY_PER_C @ carbon, water), carbon.sum(axis=1)


def _rates(_t: float, state: np.ndarray, air: float, water: np.ndarray) -> np.ndarray:
    heat, carbon = state[:CELLS], state[CELLS:].reshape(3, CELLS)
    dry = DRY_PER_C @ carbon
    temp = temp_of(heat, dry, water)
    dz = (DRY_PER_C / BULK) @ carbon / AREA
    ice = np.clip(-temp / RANGE_K, 0, 1)
    k = K * (0.06 + 0.357 * (1 + 1.6 * ice)) / 0.417 if ice.any() else np.full(CELLS, K)
    half = 0.5 * dz / k
    flow = np.diff(temp) * AREA / (half[:-1] + half[1:])  # upwards into cell i from i + 1
    gain = np.zeros(CELLS)
    gain[:-1] += flow
    gain[1:] -= flow
    gain[0] += AREA / (half[0] + FILM_UP + LID_R) * (air - temp[0])
    gain[-1] += AREA / (half[-1] + BASE_R + FILM_DOWN) * (air - temp[-1])
    gain += SIDE_M * dz / (HALF_WIDTH / (3 * k) + SIDE_R + FILM_SIDE) * (air - temp)
    warmth = 2.0 ** ((np.maximum(temp, 2.0) - 20) / 10) * np.clip((temp + 2) / 4, 0, 1)
    moist = water / (water + dry)
    pace = warmth / (np.exp(-17.684 * moist + 7.0622) + 1) / 86400
    lost = RATES_PER_D[:, None] * pace * carbon
    gain += 14.2e6 * (OXYGEN_PER_C @ lost)
    gain -= 1400 * (DRY_PER_C @ lost) * temp  # heat of the solids that go
    return np.concatenate([gain, -lost.ravel()])


@pytest.mark.parametrize(
    ("mean_c", "start_c", "mean_k", "worst_k"),
    [(15.0, 18.0, 0.05, 0.10), (-3.0, 4.0, 0.05, 0.10)],
)
def test_a_week_of_one_column(
    mean_c: float, start_c: float, mean_k: float, worst_k: float
) -> None:
    """Reached (mean, worst cell): 0.033 and 0.049 K unfrozen; 0.001 and 0.017 K freezing. What is
    left is the hour's step, the water that decay makes, and air a little short of ample."""
    air_c = weather(mean_c)
    temp, carbon, _ = kernel(air_c, start_c)
    exact, left = again(air_c, start_c)
    assert abs(temp.mean() - exact.mean()) < mean_k, (temp, exact)
    assert np.abs(temp - exact).max() < worst_k, (temp, exact)
    lost = VOLATILE_KG / DRY_PER_C - carbon
    assert lost == pytest.approx(VOLATILE_KG / DRY_PER_C - left, rel=0.01)
    if mean_c < 0:
        assert exact.min() < 0.0  # part of it froze
