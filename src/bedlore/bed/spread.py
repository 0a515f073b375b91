"""Where the worms of one zone are: how its cells suit them, and how they drift to the better ones.

Called every hour for every zone before its worms live: first `sense_cells`, then
`spread_over_cells`.
"""

from __future__ import annotations

import numpy as np

from bedlore.bed.jit import model
from bedlore.bed.layout import Floats, Parameters, Surroundings
from bedlore.bed.worm_responses import (
    ammonia_limits,
    ammonia_response,
    food_response,
    growth_at,
    growth_law,
    half_food,
    moisture_limits,
    moisture_response,
    oxygen_response,
    pace_response,
    preference,
    preference_limits,
)

LEAST_SHARE = 1e-20  # less of a zone's worms than this is none; keeps clear of denormals
SLOWEST_SPREAD = 0.05  # chilled worms still creep (assumed), to a stop from +1 degC down to 0


@model
def sense_cells(p: Parameters, around: Surroundings) -> None:
    """Write how each cell suits worms: ``comfort``, ``pace`` and ``liking`` of ``around``."""
    cells = len(around.temp_c)
    # Read once what each short loop needs: the compiler then does several cells in one go.
    growth = growth_law(p)
    for c in range(cells):
        around.pace[c] = growth_at(growth, around.temp_c[c])
    oxygen = p["worm_oxygen_full"]
    moisture = moisture_limits(p)
    ammonia = ammonia_limits(p)
    for c in range(cells):
        around.comfort[c] = (
            around.reach[c]
            * oxygen_response(oxygen, around.oxygen_factor[c])
            * moisture_response(moisture, around.moisture_frac[c])
            * ammonia_response(ammonia, around.ammonia_mg_g[c])
        )
    liked = preference_limits(p)
    for c in range(cells):
        around.liking[c] = around.comfort[c] * preference(liked, around.temp_c[c])


@model
def spread_over_cells(
    p: Parameters, where: Floats, zone: int, around: Surroundings, area_m2: float, dt_h: float
) -> tuple[float, float]:
    """Let the worms of a zone drift toward its better cells; return its quality and warmth.

    Row ``zone`` of ``where`` [Z, C] is changed in place: from each cell a share leaves, brisker
    in a warm zone and out of bad cells, and settles by thickness, squared quality (comfort x
    preferred temperature) and food. None settle where ``reach`` is 0. Returns the quality 0..1
    of the cells worms would choose and their temperature, degC; (0, mean) where nothing can be
    lived in.
    """
    cells = where.shape[1]
    total = quality = warmth = pace = restless = held = creep = 0.0
    pull = p["worm_food_pull"]
    half_food_kg = half_food(p, area_m2)
    for c in range(cells):
        liking = around.liking[c]
        food_kg = around.food_kg[c] * around.comfort[c] * around.food_quality[c]
        draw = (liking * liking + 1e-6) * (1.0 + pull * food_response(half_food_kg, food_kg))
        around.draw[c] = draw * around.thickness_m[c] * around.reach[c]
    for c in range(cells):
        liking = around.liking[c]
        draw = around.draw[c]
        total += draw
        quality += draw * liking
        warmth += draw * around.temp_c[c]
        held += where[zone, c]
        pace += where[zone, c] * pace_response(p, around.temp_c[c], around.pace[c])
        restless += where[zone, c] * (4.0 - 3.0 * liking)
        creep += where[zone, c] * min(max(around.temp_c[c], 0.0), 1.0)
    if total <= 0.0:
        return 0.0, float(np.mean(around.temp_c))
    share = 1.0 / total
    # One pace for all: were the warm ones quicker to leave, worms would pile up in the cold.
    brisk = min(dt_h / p["worm_spread_h"] * max(pace, SLOWEST_SPREAD * creep), 0.25)
    # An empty row (a new zone) starts at once where worms would choose to be.
    arriving = (1.0 - held + brisk * restless) * share
    for c in range(cells):
        stay = 1.0 - brisk * (4.0 - 3.0 * around.liking[c])
        here = where[zone, c] * stay + arriving * around.draw[c]
        where[zone, c] = here if here > LEAST_SHARE else 0.0
    return quality * share, warmth * share


@model
def living_extremes(where: Floats, temp_c: Floats) -> tuple[float, float]:
    """Return the coldest and warmest temperature, degC, of cells holding over 2 % of the worms."""
    low = np.inf
    high = -np.inf
    for c in range(len(where)):
        if where[c] > 0.02:
            low = min(low, temp_c[c])
            high = max(high, temp_c[c])
    return low, high
