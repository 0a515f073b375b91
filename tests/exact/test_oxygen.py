"""The oxygen profile of a zone against the balance of each of its cells."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.bed.air import AIR_OXYGEN_KG_M3, OXYGEN_M2_S, oxygen_sink
from bedlore.bed.decay import _breathe
from bedlore.bed.engine import empty_state
from bedlore.bed.loop import new_work, one_of_cells
from bedlore.lab.bench import column_geometry

AREA_M2 = 0.4
CELLS = 12


@pytest.mark.parametrize("demand_kg", [1e-6, 1e-4, 1e-2])
def test_what_comes_down_is_what_the_cells_below_take(demand_kg: float) -> None:
    """Settled, flow = A De (gap of O2) / distance feeds all below; from airy to nearly sealed."""
    rng = np.random.default_rng(4)
    cells = one_of_cells(empty_state(1, 1, CELLS).cells, 0)
    work = new_work(1, CELLS)
    work.thickness_m[0] = rng.uniform(0.01, 0.05, CELLS)
    work.air_space[0] = rng.uniform(0.05, 0.5, CELLS)
    work.oxygen_demand_kg[0] = rng.uniform(0.1, 1.0, CELLS) * demand_kg
    for _ in range(200):
        _breathe(column_geometry(AREA_M2), cells, work, 0)
    oxygen = cells.oxygen_kg_m3[0]
    half_s_m3 = 0.5 * work.thickness_m[0] / (AREA_M2 * OXYGEN_M2_S * work.air_space[0] ** 2)
    between = half_s_m3 + np.append(0.0, half_s_m3[:-1])
    down = (np.append(AIR_OXYGEN_KG_M3, oxygen[:-1]) - oxygen) / between
    taken = oxygen_sink(work.oxygen_demand_kg[0], oxygen) * oxygen
    np.testing.assert_allclose(down, taken[::-1].cumsum()[::-1], rtol=1e-6)
    assert 0.0 < oxygen.min() < oxygen.max() < AIR_OXYGEN_KG_M3
