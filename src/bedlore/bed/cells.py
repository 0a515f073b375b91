"""The arrays of one bed: what it is built of, what its cells hold, and the running tally.

``Z`` zones (sides and their quarters, trays, metres), each a column of ``C`` cells numbered
from the top down. The model functions work on the views of one member; an ensemble adds one
leading axis to every array of :class:`Cells`, :class:`Zones` and the herd.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Carbon pools by how fast microbes take them; HUMUS also holds castings and lignin.
FAST, MEDIUM, SLOW, HUMUS = 0, 1, 2, 3
POOLS = 4


class Geometry(NamedTuple):
    """What the bed is built of; the same for every member. Resistances in m2 K/W."""

    area_m2: Floats  # [Z] plan area
    column_start: Ints  # [K] first zone of each thermal column (a stack is one column)
    column_end: Ints  # [K] one past the last zone, listed from the top down
    side_m: Floats  # [Z] length of outer wall around the zone
    side_r: Floats  # [Z] side wall layers
    base_r: Floats  # [Z] floor layers below the zone (used for the lowest zone of a column)
    lid_r: Floats  # [Z] lid layers
    lid_leak: Floats  # [Z] share of vapour that passes the lid: 1 open, 0 sealed
    open_leak: float  # the same with the lid open: 1 in still air, more outdoors
    half_width_m: Floats  # [Z] half of the bed's width, for heat from the middle to the wall
    on_ground: float  # 1 when the base meets the ground, 0 when air
    side_film_r: float
    top_film_r: float
    base_film_r: float
    tray_gap_r: float  # between two trays of a stack
    link_zone: Ints  # [L, 2] neighbouring zones (worms)
    link_width_m: Floats  # [L] width of the contact; 0 where no heat passes sideways
    link_gap_m: Floats  # [L] distance between zone centres
    drains: float  # 1 when water leaves at the base, 0 when a liner holds it
    gravel_m: float  # drain layer below the bed material, outside the cells
    mat_w: Floats  # [K] heat mat power below the column
    mat_zone: int  # zone whose probe the thermostat reads
    probe_depth_m: float


class Cells(NamedTuple):
    """What the cells of one member hold. Masses in kg per cell, temperatures in degC."""

    temp_c: Floats  # [Z, C]
    carbon_kg: Floats  # [Z, C, POOLS]
    nitrogen_kg: Floats  # [Z, C, POOLS] organic nitrogen by the pool that holds it
    ash_kg: Floats  # [Z, C]
    water_kg: Floats  # [Z, C] liquid and ice
    ammonia_kg: Floats  # [Z, C] ammoniacal nitrogen, as N
    nitrate_kg: Floats  # [Z, C] nitrate, as N
    starch_kg: Floats  # [Z, C] fresh starch and sugar, as carbon; a part of the fast pool
    quality_kg: Floats  # [Z, C] worm food quality times edible carbon
    oxygen_kg_m3: Floats  # [Z, C] in the pore air


class Zones(NamedTuple):
    """State of one member that belongs to a zone as a whole; all ``[Z]``."""

    active: Floats  # 1 when the zone holds material
    cover_m: Floats  # thickness of the dry cover
    cover_water_kg: Floats
    foam_r: Floats  # insulation added around the walls and floor [m2 K/W]
    foam_top_r: Floats  # insulation added over the top [m2 K/W]
    lid_on: Floats  # 1 when the lid is closed
    lump_m: Floats  # thickness of the thickest lump of fresh feed
    sour: Floats  # sourness index [g fresh starch carbon short of oxygen per kg]
    mat_on: Floats
    mat_set_c: Floats
    surface_c: Floats


class Air(NamedTuple):
    """What surrounds the bed, hour by hour, for one member; all ``[T]``."""

    air_c: Floats
    outer_c: Floats  # temperature that the outer walls and lid feel (sun included)
    vapour_kg_m3: Floats
    ground_c: Floats


class Work(NamedTuple):
    """Scratch of one thread: properties of the present hour and the solver's rows."""

    thickness_m: Floats  # [Z, C]
    moisture_frac: Floats
    dry_kg: Floats
    conductivity_w_mk: Floats
    air_space: Floats
    temp_factor: Floats
    held_kg: Floats  # water that the solids hold against gravity
    decay_share: Floats  # [Z, C, POOLS] share of the pool's carbon lost this hour
    oxygen_demand_kg: Floats
    served: Floats  # share of the oxygen demand of fresh feed that is met
    oxygen_factor: Floats
    source_w: Floats
    food_kg: Floats
    ammonia_mg_g: Floats
    reach: Floats
    quality: Floats
    comfort: Floats  # [Z, C] room for the worm functions, as the next three
    pace: Floats
    liking: Floats
    draw: Floats
    eaten_kg: Floats  # [C] of one zone
    eaten_share: Floats  # [C] of one zone
    per_edible: Floats  # [Z, C] one over the carbon of the pools that worms eat
    evaporated_kg: Floats  # [Z]
    appeal: Floats  # [Z]
    threat: Floats  # [Z]
    zone_pace: Floats  # [Z] of moving to other zones
    column: Floats  # [ROWS, Z * C]
    flow: Floats  # worm flows of one zone


# Columns of the running tally, one row a zone. Heat in J, masses in kg, energy in J.
TALLY_NAMES = (
    "heat_decay_j", "heat_mat_j", "heat_boundary_j", "heat_latent_j", "heat_carried_j",
    "heat_link_j",
    "water_in_kg", "water_made_kg", "water_evaporated_kg", "water_drained_kg", "water_out_kg",
    "carbon_in_kg", "carbon_respired_kg", "carbon_out_kg",
    "nitrogen_in_kg", "nitrogen_volatilised_kg", "nitrogen_leached_kg", "nitrogen_out_kg",
    "ash_in_kg", "ash_out_kg",
    "worms_in_n", "worms_hatched_n", "worms_died_n", "worms_out_n", "worms_moved_n",
    "cocoons_laid_n", "cocoons_spent_n", "cocoons_out_n",
    "mat_energy_j", "feed_in_kg", "eaten_kg", "live_in_kg", "live_out_kg",
)  # fmt: skip
(
    HEAT_DECAY, HEAT_MAT, HEAT_BOUNDARY, HEAT_LATENT, HEAT_CARRIED, HEAT_LINK,
    WATER_IN, WATER_MADE, WATER_EVAPORATED, WATER_DRAINED, WATER_OUT,
    CARBON_IN, CARBON_RESPIRED, CARBON_OUT,
    NITROGEN_IN, NITROGEN_VOLATILISED, NITROGEN_LEACHED, NITROGEN_OUT,
    ASH_IN, ASH_OUT,
    WORMS_IN, WORMS_HATCHED, WORMS_DIED, WORMS_OUT, WORMS_MOVED,
    COCOONS_LAID, COCOONS_SPENT, COCOONS_OUT,
    MAT_ENERGY, FEED_IN, EATEN, LIVE_IN, LIVE_OUT,
) = range(len(TALLY_NAMES))  # fmt: skip
