"""Invented beds, air and acts for the tests of the model."""

from __future__ import annotations

import datetime as dt

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Air, Floats
from bedlore.facts.feedstocks import load
from bedlore.farm.bed import Bed
from bedlore.weather.air import vapour_density_kg_m3


def two_sided(**changes: object) -> Bed:
    """Two sides of two quarters, larch, on legs, indoors."""
    described: dict[str, object] = {
        "id": "sluice", "length_m": 1.8, "width_m": 0.75, "depth_m": 0.42,
        "walls": [{"material": "larch", "thickness_m": 0.03}],
        "zones": [
            {"id": "race-1", "side": "race"}, {"id": "race-2", "side": "race"},
            {"id": "bank-1", "side": "bank"}, {"id": "bank-2", "side": "bank"},
        ],
        "place": "indoors", "started": dt.date(2024, 9, 1),
    }  # fmt: skip
    return Bed.model_validate(described | changes)


def stack(**changes: object) -> Bed:
    """Three trays, top to bottom."""
    described: dict[str, object] = {
        "id": "ladder", "kind": "stack", "length_m": 0.5, "width_m": 0.5, "depth_m": 0.45,
        "walls": [{"material": "pine", "thickness_m": 0.018}],
        "zones": [{"id": "a", "active": False}, {"id": "b"}, {"id": "c"}],
        "place": "indoors", "started": dt.date(2024, 9, 1),
    }  # fmt: skip
    return Bed.model_validate(described | changes)


def year_air(hours: int, mean_c: float = 9.0, swing_c: float = 9.0) -> Air:
    """A year's wave with a daily one on top, 80 % humidity, one weather for all members."""
    t = np.arange(hours)
    air = mean_c - swing_c * np.cos(2 * np.pi * t / 8760) + 3 * np.sin(2 * np.pi * t / 24)
    ground = np.full((1, hours), mean_c)
    return Air(air[None], air[None], vapour_density_kg_m3(air, 0.8)[None], ground)


def start_rows(zones: int, worms_kg: float = 0.4) -> list[Floats]:
    """Bedding and worms in every zone."""
    table = load()
    rows = []
    for z in range(zones):
        parts = [(table["man_horse_aged"], 12.0, 0.7), (table["bed_corrugated"], 5.0, 0.7)]
        rows.append(plan.add_material(0, z, parts, feed=False))
        rows.append(plan.stock(0, z, worms_kg))
    return rows


def feed_rows(hours: int, zones: int, every_h: int = 84, feed_kg: float = 1.2) -> list[Floats]:
    """Scraps with egg cartons in turn."""
    table = load()
    return [
        plan.add_material(
            hour, i % zones,
            [(table["food_mixed_kitchen"], feed_kg, None), (table["bed_egg_carton"], 0.15, None)],
        )
        for i, hour in enumerate(range(48, hours, every_h))
    ]  # fmt: skip
