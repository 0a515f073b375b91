"""Cells of a zone split, merge and shift without loss as the bed is fed, settles and decays."""

from __future__ import annotations

from bedlore.bed.cells import POOLS, Cells
from bedlore.bed.jit import model
from bedlore.bed.layout import Herd
from bedlore.bed.matter import bulk_volume, dry_mass, heat_content, temp_of_heat

THIN_M = 0.006  # a cell thinner than this joins its neighbour
THICK_RATIO = 2.2  # a cell thicker than this times the mean is split


@model
def _volume(cells: Cells, z, c):  # type: ignore[no-untyped-def]
    return bulk_volume(cells.carbon_kg[z, c], cells.ash_kg[z, c])


@model
def _heat(cells: Cells, z, c, freezing_range_k):  # type: ignore[no-untyped-def]
    dry = dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c])
    return heat_content(cells.temp_c[z, c], dry, cells.water_kg[z, c], freezing_range_k)


@model
def set_heat(cells: Cells, z, c, heat_j, freezing_range_k):  # type: ignore[no-untyped-def]
    """Give a cell the temperature at which it holds ``heat_j``."""
    dry = dry_mass(cells.carbon_kg[z, c], cells.ash_kg[z, c])
    cells.temp_c[z, c] = temp_of_heat(heat_j, dry, cells.water_kg[z, c], freezing_range_k)


@model
def _copy(cells: Cells, herd: Herd, z, source, target):  # type: ignore[no-untyped-def]
    for pool in range(POOLS):
        cells.carbon_kg[z, target, pool] = cells.carbon_kg[z, source, pool]
        cells.nitrogen_kg[z, target, pool] = cells.nitrogen_kg[z, source, pool]
    cells.temp_c[z, target] = cells.temp_c[z, source]
    cells.ash_kg[z, target] = cells.ash_kg[z, source]
    cells.water_kg[z, target] = cells.water_kg[z, source]
    cells.ammonia_kg[z, target] = cells.ammonia_kg[z, source]
    cells.nitrate_kg[z, target] = cells.nitrate_kg[z, source]
    cells.starch_kg[z, target] = cells.starch_kg[z, source]
    cells.quality_kg[z, target] = cells.quality_kg[z, source]
    cells.oxygen_kg_m3[z, target] = cells.oxygen_kg_m3[z, source]
    herd.where[z, target] = herd.where[z, source]
    herd.cocoon_where[z, target] = herd.cocoon_where[z, source]


@model
def _scale(cells: Cells, herd: Herd, z, c, share):  # type: ignore[no-untyped-def]
    """Keep ``share`` of what a cell holds; temperature and oxygen stay."""
    for pool in range(POOLS):
        cells.carbon_kg[z, c, pool] *= share
        cells.nitrogen_kg[z, c, pool] *= share
    cells.ash_kg[z, c] *= share
    cells.water_kg[z, c] *= share
    cells.ammonia_kg[z, c] *= share
    cells.nitrate_kg[z, c] *= share
    cells.starch_kg[z, c] *= share
    cells.quality_kg[z, c] *= share
    herd.where[z, c] *= share
    herd.cocoon_where[z, c] *= share


@model
def _merge(cells: Cells, herd: Herd, z, kept, gone, freezing_range_k):  # type: ignore[no-untyped-def]
    """Put the content of cell ``gone`` into ``kept``; ``gone`` is empty afterwards."""
    heat = _heat(cells, z, kept, freezing_range_k) + _heat(cells, z, gone, freezing_range_k)
    for pool in range(POOLS):
        cells.carbon_kg[z, kept, pool] += cells.carbon_kg[z, gone, pool]
        cells.nitrogen_kg[z, kept, pool] += cells.nitrogen_kg[z, gone, pool]
    cells.ash_kg[z, kept] += cells.ash_kg[z, gone]
    cells.water_kg[z, kept] += cells.water_kg[z, gone]
    cells.ammonia_kg[z, kept] += cells.ammonia_kg[z, gone]
    cells.nitrate_kg[z, kept] += cells.nitrate_kg[z, gone]
    cells.starch_kg[z, kept] += cells.starch_kg[z, gone]
    cells.quality_kg[z, kept] += cells.quality_kg[z, gone]
    mean = 0.5 * (cells.oxygen_kg_m3[z, kept] + cells.oxygen_kg_m3[z, gone])
    cells.oxygen_kg_m3[z, kept] = mean
    herd.where[z, kept] += herd.where[z, gone]
    herd.cocoon_where[z, kept] += herd.cocoon_where[z, gone]
    set_heat(cells, z, kept, heat, freezing_range_k)
    _scale(cells, herd, z, gone, 0.0)


@model
def _split(cells: Cells, herd: Herd, z, c):  # type: ignore[no-untyped-def]
    """Share the content of cell ``c`` evenly with the empty cell ``c + 1``."""
    _scale(cells, herd, z, c, 0.5)
    _copy(cells, herd, z, c, c + 1)


@model
def _thinnest_pair(cells: Cells, z):  # type: ignore[no-untyped-def]
    """Upper cell of the neighbours that together hold least; fine cells are kept near the top."""
    n_cells = cells.temp_c.shape[1]
    best = n_cells - 2
    least = 1e30
    for c in range(n_cells - 1):
        weight = 2.0 - c / n_cells
        size = (_volume(cells, z, c) + _volume(cells, z, c + 1)) * weight
        if size < least:
            least = size
            best = c
    return best


@model
def open_top_cell(cells: Cells, herd: Herd, z, freezing_range_k):  # type: ignore[no-untyped-def]
    """Empty the top cell for fresh material by merging the thinnest pair below."""
    pair = _thinnest_pair(cells, z)
    _merge(cells, herd, z, pair + 1, pair, freezing_range_k)
    for c in range(pair, 0, -1):
        _copy(cells, herd, z, c - 1, c)
    _scale(cells, herd, z, 0, 0.0)


@model
def tidy(cells: Cells, herd: Herd, z, area_m2, freezing_range_k):  # type: ignore[no-untyped-def]
    """Merge cells that have become thin and split the thick; at most one of each a day."""
    n_cells = cells.temp_c.shape[1]
    total = 0.0
    thickest = 0
    most = -1.0
    thin = -1
    for c in range(n_cells):
        size = _volume(cells, z, c)
        total += size
        if size > most:
            most = size
            thickest = c
        if size < THIN_M * area_m2:
            thin = c
    if thin < 0 and most <= THICK_RATIO * total / n_cells:
        return
    if thin >= 0:
        upper = thin if thin < n_cells - 1 else thin - 1
    else:
        upper = _thinnest_pair(cells, z)
    if upper <= thickest <= upper + 1:
        return
    _merge(cells, herd, z, upper, upper + 1, freezing_range_k)
    if thickest > upper:
        for c in range(upper + 1, thickest):
            _copy(cells, herd, z, c + 1, c)
        _split(cells, herd, z, thickest - 1)
    else:
        for c in range(upper + 1, thickest + 1, -1):
            _copy(cells, herd, z, c - 1, c)
        _split(cells, herd, z, thickest)
