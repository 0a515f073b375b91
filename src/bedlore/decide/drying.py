"""How long castings take to dry for the mesh, spread thin under a roof.

A layer of castings runs through the bed's own water balance, open above, in the air expected
around the bed, without worms or cover. It is turned once a day, so that its water is even again;
left alone only a crust dries.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import empty_state, simulate
from bedlore.bed.matter import DRY_PER_CARBON
from bedlore.decide.case import Case
from bedlore.decide.records import Band
from bedlore.facts.feedstocks import load
from bedlore.farm.bed import Bed

SPREAD_M = 0.05
LOOK_D = 42
SCREEN_MOISTURE = 0.60  # above it the mesh blinds; 45-55 % is best (common practice, no source)
CASTINGS = "oth_vermicompost_seed"
MEMBERS = 20


def spread_drying_d(case: Case, moisture_frac: float, day: int) -> Band | None:
    """Days (5, 50, 95 %) from ``day`` until castings at ``moisture_frac`` can be screened.

    None where they can be already, or not within ``LOOK_D`` days in most futures.
    """
    members = case.members(MEMBERS)
    hours = min(LOOK_D * 24, int(case.air_long.air_c.shape[1]) - day * 24)
    if moisture_frac <= SCREEN_MOISTURE or hours < 24 * 7:
        return None
    tray = Bed.model_validate({
        "id": "spread", "length_m": 1.0, "width_m": 1.0, "depth_m": 0.1, "place": "indoors",
        "started": "2000-01-01",
    })  # fmt: skip
    stuff = load()[CASTINGS]
    dry_kg = SPREAD_M * tray.area_m2 * stuff.bulk_density_kg_m3 * (1.0 - stuff.moisture_frac)
    laid = plan.add_material(0, 0, [(stuff, dry_kg / (1.0 - moisture_frac), moisture_frac)],
                             feed=False)  # fmt: skip
    air = Air(*(array[members % len(array), day * 24 : day * 24 + hours]
                for array in case.air_long))  # fmt: skip
    moisture = turned_daily(case.twin.params[members], tray, laid, air)
    dry = moisture <= SCREEN_MOISTURE
    days = np.where(dry.any(axis=1), dry.argmax(axis=1) + 1.0, np.inf)
    low, mid, high = np.quantile(days, (0.05, 0.5, 0.95), method="inverted_cdf")
    if not np.isfinite(mid):
        return None
    return float(low), float(mid), float(min(high, hours / 24))


def turned_daily(params: NDArray[np.void], tray: Bed, laid: Floats, air: Air) -> Floats:
    """Moisture ``[M, D]`` of what ``laid`` puts on ``tray``, mixed at the end of each day."""
    state = empty_state(len(params), 1, cell_count(tray))
    found: list[Floats] = []
    for first in range(0, int(air.air_c.shape[1]) - 23, 24):
        day = Air(*(array[:, first : first + 24] for array in air))
        run = simulate(bed_geometry(tray), params, state, day,
                       plan.in_order([] if found else [laid]), every=24)  # fmt: skip
        state = run.state
        found.append(run.series("moisture_frac")[:, 0, 0])
        cells = state.cells
        dry = (cells.carbon_kg * np.array(DRY_PER_CARBON)).sum(axis=3) + cells.ash_kg
        water = cells.water_kg.sum(axis=2, keepdims=True)
        cells.water_kg[:] = water * dry / dry.sum(axis=2, keepdims=True)
    return np.stack(found, axis=1)
