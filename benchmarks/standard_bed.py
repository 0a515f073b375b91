"""The bed that every benchmark runs: a row of zones side by side, fed and stocked, by the hour."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import plan
from bedlore.bed.cells import TALLY_NAMES, Air, Floats, Geometry
from bedlore.bed.engine import State, empty_state
from bedlore.bed.heat import saturation_vapour
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import draw

ZONE_LENGTH_M = 0.45
WIDTH_M = 0.75


@dataclass(frozen=True)
class Case:
    """An ensemble ready to run: what `run_members` takes, and nothing of it used up."""

    geometry: Geometry
    params: NDArray[np.void]
    state: State
    air: Air
    acts: Floats
    hours: int

    @property
    def cell_hours(self) -> int:
        """Members x zones x cells x hours."""
        return int(np.prod(self.state.cells.temp_c.shape)) * self.hours


def row_of_zones(zones: int) -> Geometry:
    """Zones of 0.45 m x 0.75 m side by side, 12 mm plywood around, on legs, open above."""
    every = np.ones(zones)
    ends = np.zeros(zones)
    ends[0] += WIDTH_M
    ends[-1] += WIDTH_M
    pairs = np.column_stack((np.arange(zones - 1), np.arange(1, zones)))
    return Geometry(
        area_m2=every * ZONE_LENGTH_M * WIDTH_M,
        column_start=np.arange(zones),
        column_end=np.arange(zones) + 1,
        side_m=2 * ZONE_LENGTH_M * every + ends,
        side_r=0.10 * every,
        base_r=0.10 * every,
        lid_r=0.0 * every,
        lid_leak=every,
        open_leak=1.0,
        half_width_m=0.5 * WIDTH_M * every,
        on_ground=0.0,
        side_film_r=0.12,
        top_film_r=0.11,
        base_film_r=0.16,
        tray_gap_r=0.0,
        link_zone=pairs.reshape(-1, 2),
        link_width_m=np.full(len(pairs), WIDTH_M),
        link_gap_m=np.full(len(pairs), ZONE_LENGTH_M),
        drains=1.0,
        gravel_m=0.0,
        mat_w=0.0 * every,
        mat_zone=0,
        probe_depth_m=0.10,
    )


def outdoor_air(hours: int, mean_c: float, seed: int) -> Air:
    """One hourly series ``[1, T]``: 4 K of day and night, 10 K of seasons, slow noise, 80 % RH."""
    rng = np.random.default_rng(seed)
    hour = np.arange(hours)
    days = hours // 24 + 2
    noise = np.interp(hour / 24, np.arange(days), rng.normal(0.0, 2.0, days))
    air_c = mean_c - 4.0 * np.cos(2 * np.pi * hour / 24)
    air_c = air_c - 10.0 * (np.cos(2 * np.pi * hour / 8760) - 1.0) + noise
    vapour = np.array([0.8 * saturation_vapour(t) for t in air_c])
    ground_c = np.full(hours, mean_c)
    return Air(air_c[None], air_c[None].copy(), vapour[None], ground_c[None])


def keeper_acts(zones: int, hours: int, *, worms: bool, feed: bool,
                in_turn: bool = True) -> Floats:  # fmt: skip
    """Leaf mould and card in every zone, a pound of worms each, then 1.5 kg scraps every 3 days in
    the next zone; or, not ``in_turn``, every 12 days in all zones at once."""
    materials = load()
    bedding = [(materials["bed_corrugated"], 8.0, 0.7), (materials["bed_leaf_mold"], 30.0, 0.6)]
    scraps = [(materials["food_mixed_kitchen"], 1.5, None)]
    rows = [plan.add_material(0, z, bedding, temp_c=12.0, feed=False) for z in range(zones)]
    if worms:
        rows += [plan.stock(0, z, 0.45) for z in range(zones)]
    if feed and in_turn:
        rows += [
            plan.add_material(hour, k % zones, scraps, temp_c=12.0)
            for k, hour in enumerate(range(24, hours, 72))
        ]
    elif feed:
        rows += [plan.add_material(hour, z, scraps, temp_c=12.0)
                 for hour in range(24, hours, 288) for z in range(zones)]  # fmt: skip
    return plan.in_order(rows)


def standard_case(members: int = 200, zones: int = 4, cells: int = 12, hours: int = 336, *,
                  mean_c: float = 15.0, worms: bool = True, feed: bool = True,
                  in_turn: bool = True, seed: int = 1) -> Case:  # fmt: skip
    """The standard bed; ``mean_c`` is the mean air temperature of its coldest season."""
    return Case(
        row_of_zones(zones),
        draw(members, seed),
        empty_state(members, zones, cells),
        outdoor_air(hours, mean_c, seed),
        keeper_acts(zones, hours, worms=worms, feed=feed, in_turn=in_turn),
        hours,
    )


def run_case(case: Case, loop: Callable[..., None], every: int = 1) -> tuple[Floats, Floats, State]:
    """Outputs ``[M, W, Z, V]``, tally ``[M, Z, TALLY]`` and last state of ``case`` by ``loop``."""
    state = case.state.copy()
    members, zones = state.zones.active.shape
    values = np.zeros((members, case.hours // every, zones, len(OUTPUT_NAMES)))
    tally = np.zeros((members, zones, len(TALLY_NAMES)))
    scale = np.ones((members, len(case.acts)))
    loop(0, members, case.geometry, case.params, state.cells, state.zones, state.herd, case.air,
         case.acts, scale, case.hours, every, values, tally)  # fmt: skip
    return values, tally, state


def thread_seconds(job: Callable[[], object], repeats: int = 3) -> float:
    """Least processor time of this thread over ``repeats`` runs of ``job`` [s]."""
    return least_seconds([job], repeats)[0]


def least_seconds(jobs: Sequence[Callable[[], object]], rounds: int = 3) -> list[float]:
    """Least processor time of this thread for each of ``jobs`` [s], run in turn ``rounds`` times,
    so that a machine that is slow for a while is slow for all of them."""
    best = [float("inf")] * len(jobs)
    for _ in range(rounds):
        for i, job in enumerate(jobs):
            start = time.thread_time()
            job()
            best[i] = min(best[i], time.thread_time() - start)
    return best
