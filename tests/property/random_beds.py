"""Beds, weather and a year of acts drawn at random, and their run: for the balance tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import plan
from bedlore.bed.audit import imbalances
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Geometry
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.facts.building import MATERIALS
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import draw
from bedlore.facts.psychrometrics import vapour_density_kg_m3
from bedlore.farm.bed import Bed

YEAR_H = 8760
BEDDINGS = ("bed_corrugated", "bed_straw_general", "yard_leaves_dry", "bed_newsprint", "bed_coir")
FEEDS = tuple(name for name, stock in load().items() if stock.group in ("food", "manure", "yard"))
WALLS = tuple(name for name, material in MATERIALS.items() if material.use == "wall")
Rng = np.random.Generator


@dataclass
class Case:
    """A bed with its weather and acts, and what came of it."""

    bed: Bed
    geometry: Geometry
    params: NDArray[np.void]
    before: State
    run: Run
    air: Air

    def imbalances(self) -> dict[str, NDArray[np.float64]]:
        return imbalances(self.before, self.run, self.params)


def run_case(seed: int, hours: int = YEAR_H, members: int = 3) -> Case:
    """The random bed of ``seed``, run for ``hours``."""
    rng = np.random.default_rng(seed)
    bed = random_bed(rng)
    geometry = bed_geometry(bed)
    params = draw(members, seed)
    before = empty_state(members, len(bed.zones), cell_count(bed))
    acts = random_acts(rng, bed, hours)
    air = random_air(rng, hours)
    scale = np.exp(0.3 * rng.standard_normal((members, len(acts))))
    run = simulate(geometry, params, before, air, acts, scale=scale, every=24)
    return Case(bed, geometry, params, before, run, air)


def random_bed(rng: Rng) -> Bed:
    """A box, a stack of trays or a wedge of any size and build."""
    kind = str(rng.choice(["sides", "stack", "wedge"]))
    n = int(rng.integers(1, 6))
    layers = [
        {"material": str(rng.choice(WALLS)), "thickness_m": float(rng.uniform(0.003, 0.06))}
        for _ in range(rng.integers(1, 3))
    ]
    size = "depth_m" if kind == "stack" else "length_m"
    zones = [{"id": f"z{i}", size: float(rng.uniform(0.12, 0.38))} for i in range(n)]
    whole = sum(float(zone[size]) for zone in zones)
    raw = {
        "id": "bed", "kind": kind, "zones": zones, "started": dt.date(2024, 1, 1),
        "length_m": float(rng.uniform(0.4, 2.0)), "width_m": float(rng.uniform(0.3, 1.2)),
        "depth_m": float(rng.uniform(0.2, 0.6)), "walls": layers,
        "lid": layers if rng.random() < 0.5 else [], "lid_sealed": bool(rng.random() < 0.5),
        "stand": str(rng.choice(["legs", "ground", "floor"])),
        "place": str(rng.choice(["indoors", "outdoors"])),
        "drainage": {"kind": str(rng.choice(["open", "liner"]))},
    }  # fmt: skip
    raw[size] = whole
    if rng.random() < 0.4:
        raw["heat_mat"] = {"watts": 60.0, "setpoint_c": 15.0}
    return Bed.model_validate(raw)


def random_air(rng: Rng, hours: int) -> Air:
    """A year that may freeze hard and may boil."""
    hour = np.arange(hours)
    mean, swing = rng.uniform(-5, 22), rng.uniform(2, 22)
    year = mean - swing * np.cos(2 * np.pi * hour / YEAR_H)
    noise = np.cumsum(rng.standard_normal(hours)) * 0.4
    noise -= np.convolve(noise, np.ones(240) / 240, "same")
    air_c = np.clip(year + rng.uniform(0, 8) * np.sin(2 * np.pi * hour / 24) + noise, -35, 45)
    rh = np.clip(0.7 + 0.2 * rng.standard_normal(hours), 0.1, 1.0)
    vapour = np.array([vapour_density_kg_m3(t, r) for t, r in zip(air_c, rh, strict=True)])
    sun = rng.uniform(0, 6) * np.maximum(0.0, np.sin(2 * np.pi * (hour - 6) / 24))
    return Air(air_c[None], (air_c + sun)[None], vapour[None], (mean + 0.3 * (year - mean))[None])


def random_acts(rng: Rng, bed: Bed, hours: int) -> NDArray[np.float64]:
    """Bedding and worms, then a keeper who does a bit of everything."""
    table, n = load(), len(bed.zones)
    rows = []
    for z in range(n):
        if z and rng.random() < 0.2:
            continue  # starts empty
        area = bed.area_m2 if bed.kind == "stack" else bed.width_m * (bed.zones[z].length_m or 0.5)
        part = (table[str(rng.choice(BEDDINGS))], 60.0 * area, float(rng.uniform(0.5, 0.85)))
        temp = float(rng.uniform(-5, 25))
        rows.append(plan.add_material(0, z, [part], temp_c=temp, feed=False))
        rows.append(plan.stock(1, z, float(rng.uniform(0, 3) * area)))
    for _ in range(int(hours / 24)):
        rows.append(random_act(rng, bed, int(rng.integers(2, hours)), table))
    return plan.in_order(rows)


def random_act(rng: Rng, bed: Bed, hour: int, table) -> NDArray[np.float64]:  # type: ignore[no-untyped-def]
    """One act in some zone."""
    n = len(bed.zones)
    z, other = int(rng.integers(n)), int(rng.integers(n))
    dice = rng.random()
    if dice < 0.55 or other == z:
        parts = [(table[str(rng.choice(FEEDS))], float(rng.uniform(0.05, 4.0)), None)]
        if rng.random() < 0.4:
            parts.append((table[str(rng.choice(BEDDINGS))], float(rng.uniform(0.05, 0.5)), None))
        temp = float(rng.uniform(-18, 30))
        return plan.add_material(hour, z, parts, temp_c=temp, lump=bool(rng.random() < 0.3))
    acts: Sequence[NDArray[np.float64]] = (
        plan.give_water(hour, z, float(rng.uniform(0, 8)), 10.0),
        plan.set_cover(hour, z, float(rng.choice([0.0, 0.05, 0.1]))),
        plan.set_foam(hour, z, float(rng.uniform(0, 2)), float(rng.uniform(0, 2))),
        plan.harvest(hour, z, share=float(rng.uniform(0, 1)), worm_share=float(rng.random())),
        plan.stock(hour, z, float(rng.uniform(0, 1.0))),
        plan.carry_worms(hour, z, other, share=float(rng.random())),
        plan.take_worms(hour, z, float(rng.random()), float(rng.random())),
        plan.swap_trays(hour, z, other) if bed.kind == "stack" else plan.set_lid(hour, z, False),
        plan.set_mat(hour, z, bool(rng.random() < 0.5), 18.0),
        plan.set_lid(hour, z, bool(rng.random() < 0.5)),
    )
    return acts[int(rng.integers(len(acts)))]
