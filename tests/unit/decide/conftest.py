"""Small beds with a short history, brought up to now, for the tests of the decisions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from bedlore.bed.cells import Air
from bedlore.bed.history import start_of
from bedlore.decide.case import Case
from bedlore.facts.parameters import draw
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.log import ENTRY, AnyEntry, Feed, Part
from bedlore.farm.model import StoreItem
from bedlore.outlook.twin import Past, Twin, bring_up
from bedlore.weather.air import vapour_density_kg_m3

MEMBERS = 24
STORE = (
    StoreItem(material="food_mixed_kitchen", name="kitchen scraps", mass_kg=6.0, per_week_kg=5.0),
    StoreItem(material="bed_corrugated", name="dry card", mass_kg=8.0, use="bedding"),
)
FOAM = ({"material": "extruded_polystyrene", "thickness_m": 0.05},)
WOOD = ({"material": "plywood", "thickness_m": 0.012},)


def weather(mean_c: Sequence[float] | float, days: int, members: int = 8, spread_k: float = 1.0,
            rh: float = 0.8) -> Air:  # fmt: skip
    """Air of a few futures about ``mean_c`` (one value, or one a day), with a day's swing."""
    hour = np.arange(days * 24)
    mean = np.interp(hour / 24.0, np.arange(days), np.broadcast_to(mean_c, days))
    shift = np.linspace(-1.6, 1.6, members)[:, None] * spread_k
    air_c = mean[None] + shift - 2.0 * np.cos(2.0 * np.pi * (hour - 4.0) / 24.0)
    vapour = vapour_density_kg_m3(air_c, np.full_like(air_c, rh))
    return Air(air_c, air_c, vapour, np.full_like(air_c, float(np.mean(mean))))


def bed_of(*, foam: bool = False, cover: bool = False, moisture: float = 0.75,
           started: dt.date = dt.date(2024, 3, 1), **more: Any) -> Bed:  # fmt: skip
    """A 1.2 x 0.6 m bed of two sides on legs, plywood or 5 cm foam all round."""
    zones = [
        {"id": name, "side": name, "length_m": 0.6, "worms_kg": 0.8,
         "bedding": [{"material": "bed_leaf_mold", "depth_m": 0.12, "moisture_frac": moisture},
                     {"material": "bed_corrugated", "depth_m": 0.06, "moisture_frac": moisture}]}
        for name in ("race", "bank")
    ]  # fmt: skip
    layers = FOAM if foam else WOOD
    return Bed.model_validate({
        "id": "sluice", "length_m": 1.2, "width_m": 0.6, "depth_m": 0.4, "walls": layers,
        "floor": layers, "lid": layers if foam else (), "lid_sealed": foam, "zones": zones,
        "place": "indoors", "started": started,
        "cover": {"material": "shredded_paper", "thickness_m": 0.05} if cover else None, **more,
    })  # fmt: skip


def feed(day: float, bed: Bed, kg: float, zone: str = "race",
         material: str = "food_mixed_kitchen", place: str = "spread") -> Feed:  # fmt: skip
    """A feed on a day of the bed's history."""
    at = start_of(bed, dt.UTC) + dt.timedelta(days=day)
    parts = (Part(material=material, mass_kg=kg), Part(material="bed_corrugated", mass_kg=0.1 * kg))
    return Feed.model_validate(
        {"id": f"f{day:g}-{zone}".replace(".", "-"), "at": at, "bed": bed.id, "zone": zone,
         "parts": [p.model_dump() for p in parts], "place": place}
    )  # fmt: skip


class FixedAir:
    """Past air of the tests: known from the start, the same for every run."""

    def __init__(self, air: Air) -> None:
        self.air = air

    def between(self, first: int, last: int) -> Air:
        return Air(*(np.ascontiguousarray(array[:, first:last]) for array in self.air))

    def room_c(self, hour: int) -> float:
        return float(self.air.air_c[:, hour].mean())

    def key(self, hour: int) -> str:
        return f"{float(self.air.air_c[:, :hour].sum()):.6f}"


@cache
def _twin(bed_json: str, entries_json: tuple[str, ...], past_c: float, days: int,
          members: int) -> Twin:  # fmt: skip
    bed = Bed.model_validate_json(bed_json)
    entries = [ENTRY.validate_json(text) for text in entries_json]
    past = Past(bed, start_of(bed, dt.UTC), FixedAir(weather(past_c, days + 2, 4)), entries)
    return bring_up(past, draw(members, 7), past.start + dt.timedelta(days=days))


def case_of(bed: Bed, *, past_c: float = 12.0, ahead_c: Sequence[float] | float = 12.0,
            late_c: Sequence[float] | float | None = None, days: int = 30,
            feeds: Sequence[AnyEntry] = (), logged: Sequence[AnyEntry] = (),
            store: Sequence[StoreItem] = STORE, limits: Limits | None = None,
            members: int = MEMBERS, **more: Any) -> Case:  # fmt: skip
    """``bed`` after ``days`` at ``past_c`` with its feeds, facing ``ahead_c``."""
    texts = tuple(entry.model_dump_json() for entry in feeds)
    twin = _twin(bed.model_dump_json(), texts, past_c, days, members)
    entries = sorted([*feeds, *logged], key=lambda e: e.at)
    late = late_c if late_c is not None else float(np.mean(ahead_c))
    return Case(
        twin=twin, air=weather(ahead_c, 14), air_long=weather(late, 91),
        limits=limits or Limits(), store=tuple(store), entries=tuple(entries), **more,
    )  # fmt: skip


@pytest.fixture(scope="session")
def make_case() -> Callable[..., Case]:
    return case_of
