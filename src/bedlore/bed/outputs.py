"""What a run writes down of each zone, hour by hour or window by window."""

from __future__ import annotations

from typing import Any

from bedlore.bed.cells import (
    FAST,
    HUMUS,
    MAT_ENERGY,
    MEDIUM,
    WATER_DRAINED,
    Cells,
    Geometry,
    Work,
    Zones,
)
from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Herd
from bedlore.bed.living import WET_PER_CARBON
from bedlore.bed.matter import DRY_PER_CARBON
from bedlore.bed.spread import living_extremes

OUTPUT_NAMES = (
    "temp_probe_c", "temp_coldest_c", "temp_warmest_c", "temp_mean_c",
    "moisture_frac", "moisture_top_frac", "moisture_low_frac",
    "food_left_kg", "ammonia_mg_g", "sour_index", "oxygen_least_frac",
    "adults_n", "juveniles_n", "hatchlings_n", "cocoons_n", "worms_kg",
    "depth_m", "castings_dry_kg", "drained_kg", "mat_energy_j",
)  # fmt: skip
(
    TEMP_PROBE, TEMP_COLDEST, TEMP_WARMEST, TEMP_MEAN,
    MOISTURE, MOISTURE_TOP, MOISTURE_LOW,
    FOOD_LEFT, AMMONIA, SOUR, OXYGEN_LEAST,
    ADULTS, JUVENILES, HATCHLINGS, COCOONS, WORMS_KG,
    DEPTH, CASTINGS_DRY, DRAINED, ENERGY,
) = range(len(OUTPUT_NAMES))  # fmt: skip

# What firm food and casts count as food against soft food (the default of food_medium_share), and
# carbon as scraps: of fresh scraps' carbon that rots 0.6 is soft and 0.4 firm (facts/feedstocks).
FIRM_COUNTS = 0.157
FRESH_PER_CARBON = WET_PER_CARBON / (0.6 + 0.4 * FIRM_COUNTS)


@model
def probe_temp(geometry: Geometry, cells: Cells, work: Work, z, depth_m):  # type: ignore[no-untyped-def]
    """Temperature [degC] at ``depth_m`` below the surface, between the cell centres."""
    n_cells = cells.temp_c.shape[1]
    reached = 0.0
    above_m = 0.0
    for c in range(n_cells):
        centre = reached + 0.5 * work.thickness_m[z, c]
        if centre >= depth_m:
            if c == 0:
                return cells.temp_c[z, 0]
            share = (depth_m - above_m) / max(centre - above_m, 1e-9)
            return cells.temp_c[z, c - 1] * (1.0 - share) + cells.temp_c[z, c] * share
        above_m = centre
        reached += work.thickness_m[z, c]
    return cells.temp_c[z, n_cells - 1]


@model
def as_fresh(soft_kg: Any, firm_kg: Any) -> Any:
    """Carbon of the fast and medium pools as fresh scraps [kg], by what worms make of it.

    The medium pool holds firm scraps and also fresh casts, which no keeper would call food.
    """
    return FRESH_PER_CARBON * (soft_kg + FIRM_COUNTS * firm_kg)


@model
def fresh_food(cells: Cells, z):  # type: ignore[no-untyped-def]
    """Uneaten feed of a zone [kg], as fresh scraps."""
    soft_kg = 0.0
    firm_kg = 0.0
    for c in range(cells.temp_c.shape[1]):
        soft_kg += cells.carbon_kg[z, c, FAST]
        firm_kg += cells.carbon_kg[z, c, MEDIUM]
    return as_fresh(soft_kg, firm_kg)


@model
def note_zone(geometry: Geometry, cells: Cells, zones: Zones, herd: Herd, work: Work, tally,
              z, fresh, row):  # type: ignore[no-untyped-def]  # fmt: skip
    """Write the outputs of a zone into ``row``.

    Extremes are kept over the window unless ``fresh`` starts a new one; the rest is the state
    at the end of the window.
    """
    if zones.active[z] == 0.0:
        for i in range(row.shape[0]):
            row[i] = 0.0
        return
    n_cells = cells.temp_c.shape[1]
    low, high = living_extremes(herd.where[z], cells.temp_c[z])
    mean = 0.0
    water = 0.0
    dry = 0.0
    depth = 0.0
    stale = 1.0
    ammonia = 0.0
    humus = 0.0
    for c in range(n_cells):
        mean += cells.temp_c[z, c] * work.thickness_m[z, c]
        depth += work.thickness_m[z, c]
        water += cells.water_kg[z, c]
        dry += work.dry_kg[z, c]
        stale = min(stale, work.oxygen_factor[z, c])
        ammonia = max(ammonia, work.ammonia_mg_g[z, c])
        humus += cells.carbon_kg[z, c, HUMUS] * DRY_PER_CARBON[HUMUS] + cells.ash_kg[z, c]
    mean /= depth
    if low > high:  # no worms: the bed as a whole
        low = mean
        high = mean
    row[TEMP_COLDEST] = low if fresh else min(row[TEMP_COLDEST], low)
    row[TEMP_WARMEST] = high if fresh else max(row[TEMP_WARMEST], high)
    row[TEMP_PROBE] = probe_temp(geometry, cells, work, z, geometry.probe_depth_m)
    row[TEMP_MEAN] = mean
    row[MOISTURE] = water / (water + dry)
    row[MOISTURE_TOP] = work.moisture_frac[z, 0]
    row[MOISTURE_LOW] = work.moisture_frac[z, n_cells - 1]
    row[FOOD_LEFT] = fresh_food(cells, z)
    row[AMMONIA] = ammonia
    row[SOUR] = zones.sour[z]
    row[OXYGEN_LEAST] = stale
    cocoons = 0.0
    for step in range(COCOON_STEPS):
        cocoons += herd.cocoon_n[z, step]
    row[ADULTS] = herd.adult_n[z]
    row[JUVENILES] = herd.juvenile_n[z]
    row[HATCHLINGS] = herd.hatchling_n[z]
    row[COCOONS] = cocoons
    row[WORMS_KG] = herd.adult_kg[z] + herd.juvenile_kg[z] + herd.hatchling_kg[z]
    row[DEPTH] = depth
    row[CASTINGS_DRY] = humus
    row[DRAINED] = tally[z, WATER_DRAINED]
    row[ENERGY] = tally[z, MAT_ENERGY]
