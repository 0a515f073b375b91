"""How the state of one member of the ensemble lies in memory: groups of plain arrays.

Every group is a named tuple of NumPy arrays, so that the same functions run in plain Python
and inside the compiled loop. Z is the number of zones, C the number of cells in a zone.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Parameters(Protocol):
    """The parameters of one member, read by name: one record of a structured array."""

    def __getitem__(self, name: str, /) -> float:
        """Return the value of the parameter ``name``."""


# --- Worms -----------------------------------------------------------------------------------

COCOON_STEPS = 14
"""Steps of the incubation chain; 14 give the times to hatch a coefficient of variation 0.267."""


class Herd(NamedTuple):
    """The worms of one member: numbers and total live mass by zone and stage.

    Masses are live (wet) kg. ``juvenile_slow_n`` and ``adult_slow_n`` count those, among the
    stage's number, that leave a zone slowly. ``adult_age_d`` is the sum of the adults' ages since
    maturity in worm-days, counted in days at 25 degC. ``where`` is the share of the zone's worms
    living in each cell and sums to 1 wherever there are worms; ``cocoon_where`` is the same for
    cocoons, which stay where they were laid.
    """

    cocoon_n: Floats  # [Z, COCOON_STEPS]
    hatchling_n: Floats  # [Z]
    hatchling_kg: Floats
    juvenile_n: Floats
    juvenile_kg: Floats
    juvenile_slow_n: Floats
    adult_n: Floats
    adult_kg: Floats
    adult_slow_n: Floats
    adult_age_d: Floats
    where: Floats  # [Z, C]
    cocoon_where: Floats  # [Z, C]


class Surroundings(NamedTuple):
    """What the worms of one zone meet in each of its cells, all arrays of length C.

    ``oxygen_factor`` is 0..1 against what microbes need, ``ammonia_mg_g`` total ammonia nitrogen
    per gram wet, ``food_kg`` edible feed as wet equivalent (11.1 kg per kg of carbon) already
    weighted with palatability, ``food_quality`` its quality 0..1 and ``reach`` 1 where a worm
    can live, else 0. The last four are room for work, written by `bedlore.bed.spread.sense_cells`
    and `spread_over_cells`.
    """

    temp_c: Floats
    moisture_frac: Floats
    oxygen_factor: Floats
    ammonia_mg_g: Floats
    food_kg: Floats
    food_quality: Floats
    thickness_m: Floats
    reach: Floats
    comfort: Floats  # moisture, ammonia and air together, 0..1
    pace: Floats  # response of growth and feeding to temperature, 0..1
    liking: Floats  # comfort x preferred temperature, 0..1
    draw: Floats  # weight with which worms on the move settle


def new_herd(zones: int, cells: int) -> Herd:
    """Return an empty herd for ``zones`` zones of ``cells`` cells."""
    by_zone = [np.zeros(zones) for _ in range(9)]
    by_cell = [np.zeros((zones, cells)) for _ in range(2)]
    return Herd(np.zeros((zones, COCOON_STEPS)), *by_zone, *by_cell)


def new_surroundings(cells: int) -> Surroundings:
    """Return surroundings of ``cells`` cells, all zero."""
    return Surroundings(*(np.zeros(cells) for _ in Surroundings._fields))
