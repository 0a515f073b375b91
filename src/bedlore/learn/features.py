"""A few features of a state that a warm update may move, each zone by zone.

Temperatures shift; water, soft food, worms and cocoons are scaled. Everything else follows when
the days since are run again.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import FAST, MEDIUM
from bedlore.bed.engine import State

Floats = NDArray[np.float64]
_TINY = 1e-12
_MOST = 1.5  # a scale moves by a factor of e^1.5 at most in one update
_GROUPS = ("heat", "water", "decay", "worm", "worm")
_KINDS = len(_GROUPS)


def features_of(state: State) -> tuple[Floats, tuple[str, ...]]:
    """Features ``[M, 5 Z]`` (temperature [K], then logarithms) and the group of each."""
    cells, herd = state.cells, state.herd
    zones = cells.temp_c.shape[1]
    food = cells.carbon_kg[..., FAST] + cells.carbon_kg[..., MEDIUM]
    worms = herd.adult_kg + herd.juvenile_kg + herd.hatchling_kg
    columns = [
        cells.temp_c.mean(axis=2), np.log(cells.water_kg.sum(axis=2) + _TINY),
        np.log(food.sum(axis=2) + _TINY), np.log(worms + _TINY),
        np.log(herd.cocoon_n.sum(axis=2) + _TINY),
    ]  # fmt: skip
    return np.concatenate(columns, axis=1), tuple(g for g in _GROUPS for _ in range(zones))


def with_features_moved(state: State, change: Floats) -> State:
    """A new state whose features differ by ``change`` ``[M, 5 Z]``; shares stay shares."""
    after = state.copy()
    zones = after.cells.temp_c.shape[1]
    temp, water, food, worms, cocoons = (
        change[:, i * zones : (i + 1) * zones] for i in range(_KINDS)
    )
    factors = [np.exp(np.clip(part, -_MOST, _MOST)) for part in (water, food, worms, cocoons)]
    cells, herd = after.cells, after.herd
    cells.temp_c[:] += temp[:, :, None]
    cells.water_kg[:] *= factors[0][:, :, None]
    for pool in (FAST, MEDIUM):
        cells.carbon_kg[..., pool] *= factors[1][:, :, None]
        cells.nitrogen_kg[..., pool] *= factors[1][:, :, None]
    cells.starch_kg[:] *= factors[1][:, :, None]
    cells.quality_kg[:] *= factors[1][:, :, None]
    for array in (herd.adult_n, herd.adult_kg, herd.adult_slow_n, herd.adult_age_d,
                  herd.juvenile_n, herd.juvenile_kg, herd.juvenile_slow_n,
                  herd.hatchling_n, herd.hatchling_kg):  # fmt: skip
        array *= factors[2]
    herd.cocoon_n[:] *= factors[3][:, :, None]
    return after
