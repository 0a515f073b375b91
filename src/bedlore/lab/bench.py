"""Holds a bed on the bench: the hourly step of the beds with what the experiment fixes.

Everything goes through :func:`bedlore.bed.engine.simulate`, one hour a call, so that temperature
can be held or heat be put in between two hours. Heat put in at the start of an hour is, to the
implicit solver, the same as a source of that power during it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import acts
from bedlore.bed.cells import HUMUS, Air, Floats, Geometry
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.bed.matter import (
    ASH_BULK_KG_M3,
    DRY_PER_CARBON,
    POOL_BULK_KG_M3,
    heat_content,
    temp_of_heat,
)
from bedlore.bed.plan import in_order
from bedlore.facts.building import FILM_M2KW
from bedlore.facts.psychrometrics import vapour_density_kg_m3

CASTINGS_C_TO_N = 12.0  # castings 10-20 (from memory)
_INSULATED_M2K_W = 1e9
# Parameters under which matter stands still: nothing rots, flows or is lost.
NO_DECAY = {
    "fast_rate_per_day": 0.0, "medium_rate_per_day": 0.0, "slow_rate_per_day": 0.0,
    "humus_rate_per_day": 0.0, "nitrify_rate_per_day": 0.0, "ammonia_loss_per_day": 0.0,
}  # fmt: skip
NO_FLOW = {"water_held_scale": 1e6, "capillary_per_day": 0.0}


@dataclass(frozen=True)
class Surrounds:
    """Air around the bed, hour by hour: temperature [degC] and humidity 0..1, arrays [T].

    ``outer_c`` [T] is what walls and lid feel, ``ground_c`` [T] what is under a bed on the ground;
    both are the air when left out.
    """

    air_c: Floats
    rh_frac: Floats
    outer_c: Floats | None = None
    ground_c: Floats | None = None

    def hour(self, h: int) -> Air:
        """The air of hour ``h`` for one member."""
        air = self.air_c[h]
        outer = air if self.outer_c is None else self.outer_c[h]
        ground = air if self.ground_c is None else self.ground_c[h]
        vapour = vapour_density_kg_m3(float(air), float(self.rh_frac[h]))
        return Air(*(np.full((1, 1), value) for value in (air, outer, vapour, ground)))


@dataclass
class Bench:
    """One bed and the hour it stands at."""

    geometry: Geometry
    params: NDArray[np.void]
    state: State
    run: Run | None = None

    def hours(
        self,
        surrounds: Surrounds,
        rows: Floats | None = None,
        heat_w: Callable[[int], Floats] | None = None,
        hold_c: Callable[[int], Floats] | None = None,
    ) -> Iterator[Run]:
        """Run every hour of ``surrounds``; yields the run of each hour, state after it.

        ``rows`` are the bed's acts; ``heat_w`` gives the heat [W] put into each zone in an hour,
        ``hold_c`` the temperature [degC] each zone is held at; both as arrays [Z].
        """
        rows = in_order([]) if rows is None else rows
        for h in range(len(surrounds.air_c)):
            due = rows[rows[:, acts.HOUR].astype(int) == h].copy()
            due[:, acts.HOUR] = 0.0
            if heat_w is not None:
                self._put_heat(heat_w(h))
            if hold_c is not None:
                self.state.cells.temp_c[0] = hold_c(h)[:, None]
                self.state.zones.surface_c[0] = hold_c(h)
            run = simulate(
                self.geometry, self.params, self.state, surrounds.hour(h), due, threads=1
            )
            if hold_c is not None:
                run.state.cells.temp_c[0] = hold_c(h)[:, None]
                run.state.zones.surface_c[0] = hold_c(h)
            self.state, self.run = run.state, run
            yield run

    def _put_heat(self, heat_w: Floats) -> None:
        """Spread the heat of an hour over each zone by volume."""
        cells = self.state.cells
        frost = float(self.params["freezing_range_k"][0])
        solids = dry_kg(self.state)[0]
        layer = thickness_m(self.state, self.geometry)[0]
        for z, power in enumerate(heat_w):
            if power == 0.0:
                continue
            for c, share in enumerate(layer[z] / layer[z].sum()):
                dry, water = float(solids[z, c]), float(cells.water_kg[0, z, c])
                heat = heat_content(float(cells.temp_c[0, z, c]), dry, water, frost)
                heat += 3600.0 * float(power) * float(share)
                cells.temp_c[0, z, c] = temp_of_heat(heat, dry, water, frost)


def add_castings(zone: int, volume_m3: float, moisture_frac: float) -> Floats:
    """Act of hour 0 that fills a zone with ``volume_m3`` of finished material."""
    dry = POOL_BULK_KG_M3[HUMUS] * volume_m3
    row = np.zeros(acts.ACT_SIZE)
    row[acts.KIND], row[acts.ZONE] = acts.ADD, zone
    row[acts.CARBON + HUMUS] = dry / DRY_PER_CARBON[HUMUS]
    row[acts.NITROGEN + HUMUS] = row[acts.CARBON + HUMUS] / CASTINGS_C_TO_N
    row[acts.WATER_KG] = dry * moisture_frac / (1.0 - moisture_frac)
    return row


def column_geometry(area_m2: float, zones: int = 1, **changes: Any) -> Geometry:
    """Columns of ``area_m2`` each with insulated sides and base, open to still air at the top.

    Neighbours are joined for worms, not for heat. ``changes`` replaces fields of the geometry.
    """
    links = np.array([[z, z + 1] for z in range(zones - 1)], dtype=np.int64).reshape(-1, 2)
    plain = Geometry(
        area_m2=np.full(zones, area_m2),
        column_start=np.arange(zones),
        column_end=np.arange(1, zones + 1),
        side_m=np.zeros(zones),
        side_r=np.full(zones, _INSULATED_M2K_W),
        base_r=np.full(zones, _INSULATED_M2K_W),
        lid_r=np.zeros(zones),
        lid_leak=np.ones(zones),
        open_leak=1.0,
        half_width_m=np.full(zones, 0.5 * area_m2**0.5),
        on_ground=0.0,
        side_film_r=FILM_M2KW["side"],
        top_film_r=FILM_M2KW["up"],
        base_film_r=FILM_M2KW["down"],
        tray_gap_r=0.0,
        link_zone=links,
        link_width_m=np.zeros(len(links)),
        link_gap_m=np.full(len(links), area_m2**0.5),
        drains=0.0,
        gravel_m=0.0,
        mat_w=np.zeros(zones),
        mat_zone=0,
        probe_depth_m=0.1,
    )
    return plain._replace(**changes)


def dry_kg(state: State) -> Floats:
    """Dry mass [M, Z, C]."""
    cells = state.cells
    return np.asarray(cells.carbon_kg @ np.array(DRY_PER_CARBON) + cells.ash_kg)


def cell_moisture(state: State) -> Floats:
    """Moisture, wet basis [M, Z, C]; nan where there is nothing."""
    dry, water = dry_kg(state), state.cells.water_kg
    total = dry + water
    return np.where(total > 0, water / np.where(total > 0, total, 1.0), np.nan)


def thickness_m(state: State, geometry: Geometry) -> Floats:
    """Thickness of the solids [M, Z, C]; over-wet material floats a little thicker."""
    bulk = np.array(DRY_PER_CARBON) / np.array(POOL_BULK_KG_M3)
    volume = state.cells.carbon_kg @ bulk + state.cells.ash_kg / ASH_BULK_KG_M3
    return np.asarray(volume / geometry.area_m2[None, :, None])


def fill(
    geometry: Geometry, params: NDArray[np.void], rows: Floats, cells: int, start_c: float
) -> Bench:
    """A bench whose bed has had the acts ``rows`` (hour 0) done, all at ``start_c`` [degC]."""
    state = empty_state(1, len(geometry.area_m2), cells)
    still = params.copy()
    for name, value in (NO_DECAY | NO_FLOW).items():
        still[name] = value
    sealed = geometry._replace(
        lid_leak=np.zeros_like(geometry.lid_leak), open_leak=0.0, drains=0.0
    )
    air = Surrounds(np.array([start_c]), np.array([1.0])).hour(0)
    state = simulate(sealed, still, state, air, rows, threads=1).state
    state.cells.temp_c[:] = start_c
    state.zones.surface_c[:] = start_c
    return Bench(geometry, params, state)
