"""A fed bed outdoors under recorded weather, hour by hour, with every cell looked at."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from bedlore.bed import plan
from bedlore.bed.audit import imbalances
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, empty_state, simulate
from bedlore.facts.feedstocks import find
from bedlore.facts.parameters import draw
from bedlore.facts.psychrometrics import vapour_density_kg_m3
from bedlore.farm.bed import Bed
from bedlore.weather.series import WeatherSeries

BED = {
    "id": "yard", "kind": "sides", "length_m": 1.8, "width_m": 0.75, "depth_m": 0.42,
    "walls": [{"material": "larch", "thickness_m": 0.025}], "place": "outdoors",
    "lid": [{"material": "larch", "thickness_m": 0.02}], "stand": "legs",
    "zones": [{"id": "left"}, {"id": "right"}], "started": dt.date(2012, 1, 1),
}  # fmt: skip


@dataclass
class Extremes:
    """Coldest and warmest cell and air [degC], and the largest imbalance by kind."""

    coldest_cell_c: float
    warmest_cell_c: float
    coldest_air_c: float
    warmest_air_c: float
    imbalance: dict[str, float]
    worms_kg: float

    def within_bounds(self) -> bool:
        """Every cell within [coldest air - 1 K, hottest air + 25 K]."""
        low, high = self.coldest_air_c - 1.0, self.warmest_air_c + 25.0
        return low <= self.coldest_cell_c and self.warmest_cell_c <= high


def drive(weather: WeatherSeries, members: int = 2, seed: int = 5) -> Extremes:
    """Run the bed through all of ``weather``: 3 kg of scraps a week, card when it is laid."""
    bed = Bed.model_validate(BED)
    geometry, params = bed_geometry(bed), draw(members, seed)
    hours = len(weather)
    acts = _keeper(hours, bed.area_m2)
    vapour = np.array([
        vapour_density_kg_m3(t, r) for t, r in zip(weather.temp_c, weather.rh_frac, strict=True)
    ])  # fmt: skip
    air_c = weather.temp_c
    before = empty_state(members, len(bed.zones), cell_count(bed))
    state, low, high = before, np.inf, -np.inf
    tally: Floats | None = None
    for hour in range(hours):
        due = acts[acts[:, 0] == hour].copy()
        due[:, 0] = 0
        now = slice(hour, hour + 1)
        air = Air(air_c[None, now], air_c[None, now], vapour[None, now], air_c[None, now])
        run = simulate(geometry, params, state, air, due, threads=1)
        state = run.state
        held = state.cells.temp_c[state.zones.active > 0]
        low, high = min(low, float(held.min())), max(high, float(held.max()))
        tally = run.tally if tally is None else tally + run.tally
    assert tally is not None
    off = imbalances(before, Run(run.values, 1, tally, state), params)
    herd = state.herd
    return Extremes(
        low, high, float(air_c.min()), float(air_c.max()),
        {name: float(np.abs(value).max()) for name, value in off.items()},
        float((herd.adult_kg + herd.juvenile_kg).sum() / members),
    )  # fmt: skip


def _keeper(hours: int, area_m2: float) -> Floats:
    leaves, scraps, card = (find(n) for n in ("leaf mould", "kitchen scraps", "cardboard"))
    rows = []
    for z in (0, 1):
        rows.append(plan.add_material(0, z, [(leaves, 30.0 * area_m2, 0.7)], feed=False))
        rows.append(plan.set_cover(1, z, 0.05))
    rows.append(plan.stock(1, 0, 1.0))
    for week, hour in enumerate(range(14 * 24, hours, 7 * 24)):
        zone = (week // 12) % 2
        meal = [(scraps, 3.0, None), (card, 0.4, None)]
        rows.append(plan.add_material(hour, zone, meal, temp_c=10.0))
        if week % 40 == 39:
            rows.append(plan.harvest(hour + 1, 1 - zone, share=0.6, worm_share=0.1))
    return plan.in_order(rows)
