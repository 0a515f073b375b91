"""Parameters, surroundings and herds for the tests of worms."""

from __future__ import annotations

import numpy as np

from bedlore.bed.layout import Herd, Surroundings, new_herd, new_surroundings
from bedlore.facts.parameters_worms import WORM_PARAMETERS

DEFAULTS = {parameter.name: parameter.default for parameter in WORM_PARAMETERS}


def record(**changes: float) -> np.void:
    """Return the parameters as the compiled model takes them: one structured record."""
    values = {**DEFAULTS, **changes}
    dtype = [(name, "f8") for name in values]
    return np.array([tuple(values.values())], dtype=dtype)[0]


def pleasant(cells: int = 6, temp_c: float = 20.0, food_kg: float = 0.5) -> Surroundings:
    """Return moist, airy cells of 3 cm at one temperature, ``food_kg`` in each."""
    around = new_surroundings(cells)
    around.temp_c[:] = temp_c
    around.moisture_frac[:] = 0.78
    around.oxygen_factor[:] = around.reach[:] = 1.0
    around.food_kg[:] = food_kg
    around.food_quality[:] = 1.0
    around.thickness_m[:] = 0.03
    return around


def settled(zones: int = 1, cells: int = 6, adults: float = 100.0) -> Herd:
    """Return a herd with worms of every stage in every zone, spread evenly."""
    herd = new_herd(zones, cells)
    herd.adult_n[:], herd.adult_kg[:] = adults, adults * 0.5e-3
    herd.adult_slow_n[:], herd.adult_age_d[:] = 0.15 * adults, 60.0 * adults
    herd.juvenile_n[:], herd.juvenile_kg[:] = 2 * adults, 2 * adults * 0.1e-3
    herd.juvenile_slow_n[:] = 0.3 * adults
    herd.hatchling_n[:], herd.hatchling_kg[:] = adults, adults * 8e-6
    herd.cocoon_n[:] = adults / 28.0
    herd.where[:] = herd.cocoon_where[:] = 1.0 / cells
    return herd


def worm_kg(herd: Herd, zone: int = 0) -> float:
    """Return the live mass of the worms, without cocoons, of a zone."""
    return float(herd.hatchling_kg[zone] + herd.juvenile_kg[zone] + herd.adult_kg[zone])
