"""A first bed from a pattern of our own and a few sizes; and a first farm around it.

The patterns are plain ways to build a worm bed. Their sizes are only where to start from
(common practice, no source); whoever sets a bed up measures the real one.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bedlore.errors import Fault, FaultList
from bedlore.farm.fields import slug_of
from bedlore.farm.load import farm_of
from bedlore.farm.model import Farm
from bedlore.say import message, say

Raw = dict[str, Any]
SOIL_LAG_DAYS = 20  # the coldest days come about three weeks after the shortest (from memory)


@dataclass(frozen=True)
class Pattern:
    """A way to build a bed: sizes in metres, layers from the inside out, names of its zones."""

    key: str
    kind: str
    length_m: float
    width_m: float
    depth_m: float
    walls: tuple[tuple[str, float], ...]
    lid: tuple[tuple[str, float], ...]
    zones: tuple[str, ...]
    stand: str = "legs"
    worms_kg: float = 1.0


_FOAM = (("softwood", 0.018), ("expanded_polystyrene", 0.05), ("softwood", 0.018))
PATTERNS: tuple[Pattern, ...] = (
    Pattern("plank-box", "sides", 1.2, 0.6, 0.4, (("softwood", 0.025),), (("softwood", 0.02),),
            (message("left"), message("right"))),
    Pattern("foam-box", "sides", 1.2, 0.6, 0.4, _FOAM, _FOAM, ("left", "right")),
    Pattern("tub", "sides", 0.6, 0.4, 0.35, (("polypropylene", 0.003),),
            (("polypropylene", 0.003),), (message("whole"),), "floor", 0.3),
    Pattern("trays", "stack", 0.45, 0.45, 0.6, (("softwood", 0.018),), (("softwood", 0.018),),
            (message("top"), message("second"), message("third"), message("lowest")), "legs", 0.5),
    Pattern("wedge", "wedge", 2.4, 0.9, 0.5, (("straw_bale", 0.35),), (),
            (message("face"), message("middle"), message("back")), "ground", 1.5),
)  # fmt: skip
BEDDING = (("bed_corrugated", 0.6), ("bed_leaf_mold", 0.4))  # material, share of the depth


def pattern_called(key: str) -> Pattern | None:
    """The pattern with this key."""
    return next((pattern for pattern in PATTERNS if pattern.key == key), None)


def bed_raw(pattern: Pattern, told: Mapping[str, Any], today: dt.date) -> Raw:
    """A bed of ``pattern``, as a farm file says it.

    ``told`` may hold ``name``, ``length_m``, ``width_m``, ``depth_m``, ``filled_m`` (depth of
    the bedding), ``worms_kg``, ``place`` and ``started``; the pattern stands in for the rest.
    """
    name = str(told.get("name") or "").strip() or str(say("First bed"))
    size = {
        key: told.get(key) or getattr(pattern, key) for key in ("length_m", "width_m", "depth_m")
    }
    layers = {
        part: [{"material": m, "thickness_m": t} for m, t in getattr(pattern, part)]
        for part in ("walls", "lid")
    }
    return {
        "id": slug_of(name) or "bed", "name": name, "kind": pattern.kind, **size, **layers,
        "stand": pattern.stand, "place": told.get("place") or "outdoors",
        "started": told.get("started") or today, "zones": _zones(pattern, told),
    }  # fmt: skip


def _zones(pattern: Pattern, told: Mapping[str, Any]) -> list[Raw]:
    """Zones of equal size; the first side, the lower trays and the whole wedge are in use."""
    count = len(pattern.zones)
    stack = pattern.kind == "stack"
    active = [True] * count if not stack else [k > 0 for k in range(count)]
    depth = told.get("depth_m") or pattern.depth_m
    room = depth / count if stack else depth
    filled = told.get("filled_m") or 0.6 * room
    worms = told.get("worms_kg", pattern.worms_kg) or 0.0
    share = worms / max(sum(active), 1)
    zones = []
    for name, used in zip(pattern.zones, active, strict=True):
        zone: Raw = {"id": name, "name": str(say(name)), "active": used}
        if used:
            zone["worms_kg"] = share
            zone["bedding"] = [
                {"material": material, "depth_m": part * filled, "moisture_frac": 0.75}
                for material, part in BEDDING
            ]
        zones.append(zone)
    return zones


def normals_between(coldest: tuple[float, float], warmest: tuple[float, float],
                    latitude_deg: float) -> Raw:  # fmt: skip
    """Usual lows and highs of twelve months from those of the coldest and the warmest one
    (each low, high [degC]), along a cosine: how a year goes outside the tropics (from memory)."""
    coldest_month = 0.5 + SOIL_LAG_DAYS / 30.4 - 10 / 30.4 if latitude_deg >= 0 else 6.8
    warmth = [0.5 - 0.5 * math.cos(2 * math.pi * (m + 0.5 - coldest_month) / 12)
              for m in range(12)]  # fmt: skip
    low, high = (
        [round(cold + (warm - cold) * w, 1) for w in warmth]
        for cold, warm in zip(coldest, warmest, strict=True)
    )
    return {"daily_low_c": low, "daily_high_c": high}


def farm_with(farm: Farm, bed: Raw) -> Farm:
    """``farm`` with one bed more; raises :class:`FaultList` when the bed does not fit."""
    if farm.bed(bed["id"]) is not None:
        raise FaultList([Fault("name", say("There is a bed of this name already. Choose"
                                           " another."))])
    raw = farm.model_dump(mode="json", exclude_none=True)
    return farm_of({**raw, "beds": [*raw["beds"], bed]})


def first_farm(name: str, site: Raw, bed: Raw, units: str) -> Farm:
    """A farm with its first bed."""
    return farm_of({"name": name.strip(), "site": site, "beds": [bed],
                    "preferences": {"units": units}})  # fmt: skip
