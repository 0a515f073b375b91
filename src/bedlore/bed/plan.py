"""Rows of acts for the hourly step, made from materials and amounts.

Carbon is set so that a material's organic matter is right: oxygen demand and heat go with the
organic matter, and the table's own N x C:N is off by a sixth for some foods.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bedlore.bed import acts
from bedlore.bed.cells import FAST, POOLS, Floats
from bedlore.bed.matter import DRY_PER_CARBON
from bedlore.facts.feedstocks import Feedstock, pools

STARCH_CARBON = 0.444  # carbon in starch C6H10O5 (derived)
# Share of a fresh manure's nitrogen that is ammonia already, and of an aged one (assumed).
FRESH_MANURE_AMMONIA = 0.25
AGED_MANURE_AMMONIA = 0.05
LUMP_M = 0.12  # a bucket tipped out in one place (assumed)
# Until a keeper's scales say otherwise, what is laid on a bed comes at the building's warmth.
_NO_TEMP = 10.0


def _row(hour: int, kind: int, zone: int) -> Floats:
    row = np.zeros(acts.ACT_SIZE)
    row[acts.HOUR] = hour
    row[acts.KIND] = kind
    row[acts.ZONE] = zone
    return row


def add_material(
    hour: int,
    zone: int,
    parts: Sequence[tuple[Feedstock, float, float | None]],
    *,
    temp_c: float = _NO_TEMP,
    feed: bool = True,
    lump: bool = False,
) -> Floats:
    """One laying of ``parts``: (feedstock, moist mass [kg], moisture or None for the table's).

    ``lump`` tips it in one heap; ``feed`` counts it as food. Raises :class:`KeeperError` for a
    moisture that is no share.
    """
    row = _row(hour, acts.ADD, zone)
    for feedstock, mass_kg, moisture in parts:
        _mix_in(row, feedstock, mass_kg, moisture)
    row[acts.TEMP_C] = temp_c
    row[acts.IS_FEED] = float(feed)
    row[acts.MASS_KG] = sum(mass for _, mass, _ in parts)
    row[acts.LUMP_M] = LUMP_M if lump else 0.0
    return row


def _mix_in(row: Floats, feedstock: Feedstock, mass_kg: float, moisture: float | None) -> None:
    per_kg = pools(feedstock, moisture)
    organic = per_kg.dry_kg - per_kg.ash_kg
    described = sum(c * d for c, d in zip(per_kg.carbon_kg, DRY_PER_CARBON, strict=True))
    to_organic = organic / described if described > 0 else 0.0
    carbon = np.array(per_kg.carbon_kg) * to_organic * mass_kg
    nitrogen = np.array(per_kg.nitrogen_kg) * mass_kg
    ready = _ammonia_share(feedstock)
    row[acts.CARBON : acts.CARBON + POOLS] += carbon
    row[acts.NITROGEN : acts.NITROGEN + POOLS] += nitrogen * (1.0 - ready)
    row[acts.AMMONIA] += ready * nitrogen.sum()
    row[acts.ASH] += per_kg.ash_kg * mass_kg
    row[acts.WATER_KG] += per_kg.water_kg * mass_kg
    row[acts.STARCH] += min(per_kg.starch_kg * STARCH_CARBON * mass_kg, float(carbon[FAST]))
    row[acts.QUALITY] += feedstock.food_quality * carbon[: POOLS - 1].sum()


def _ammonia_share(feedstock: Feedstock) -> float:
    if feedstock.group != "manure":
        return 0.0
    fresh = "fresh" in feedstock.id or "layer" in feedstock.id or "urine" in feedstock.id
    return FRESH_MANURE_AMMONIA if fresh else AGED_MANURE_AMMONIA


def give_water(hour: int, zone: int, water_kg: float, temp_c: float = _NO_TEMP) -> Floats:
    """Sprinkle ``water_kg`` on a zone."""
    row = _row(hour, acts.WATER, zone)
    row[acts.WATER_KG] = water_kg
    row[acts.TEMP_C] = temp_c
    return row


def set_cover(hour: int, zone: int, thickness_m: float) -> Floats:
    """Lay a dry cover of ``thickness_m`` in place of the present one; 0 takes it off."""
    row = _row(hour, acts.COVER, zone)
    row[acts.VALUE] = thickness_m
    return row


def set_foam(hour: int, zone: int, around_r: float, top_r: float) -> Floats:
    """Insulation around walls and floor, and over the top [m2 K/W]; 0 takes it off."""
    row = _row(hour, acts.FOAM, zone)
    row[acts.VALUE] = around_r
    row[acts.VALUE_TOP] = top_r
    return row


def harvest(hour: int, zone: int, *, share: float = 0.0, mass_kg: float = 0.0,
            worm_share: float = 0.0) -> Floats:  # fmt: skip
    """Take ``share`` of a zone's material (or ``mass_kg``) and ``worm_share`` of its worms."""
    row = _row(hour, acts.HARVEST, zone)
    row[acts.SHARE] = share
    row[acts.MASS_KG] = mass_kg
    row[acts.WORM_SHARE] = worm_share
    return row


def stock(hour: int, zone: int, worms_kg: float) -> Floats:
    """Put ``worms_kg`` of mixed live worms in; a minus takes them out."""
    row = _row(hour, acts.STOCK if worms_kg >= 0 else acts.TAKE, zone)
    row[acts.WORMS_KG] = abs(worms_kg)
    return row


def take_worms(hour: int, zone: int, worm_share: float, cocoon_share: float = 0.0) -> Floats:
    """Take shares of a zone's worms and cocoons out of the bed."""
    row = _row(hour, acts.TAKE, zone)
    row[acts.WORM_SHARE] = worm_share
    row[acts.SHARE] = cocoon_share
    return row


def carry_worms(hour: int, zone: int, to_zone: int, *, share: float = 0.0,
                worms_kg: float = 0.0) -> Floats:  # fmt: skip
    """Carry a share or a mass of a zone's worms to another zone by hand."""
    row = _row(hour, acts.SHIFT, zone)
    row[acts.TO_ZONE] = to_zone
    row[acts.WORM_SHARE] = share
    row[acts.WORMS_KG] = worms_kg
    return row


def swap_trays(hour: int, zone: int, other: int) -> Floats:
    """Exchange two trays of a stack with everything in them."""
    row = _row(hour, acts.SWAP, zone)
    row[acts.TO_ZONE] = other
    return row


def set_mat(hour: int, zone: int, on: bool, setpoint_c: float) -> Floats:
    """Switch the heat mat below a zone and set its thermostat."""
    row = _row(hour, acts.MAT, zone)
    row[acts.SHARE] = float(on)
    row[acts.VALUE] = setpoint_c
    return row


def set_lid(hour: int, zone: int, on: bool) -> Floats:
    """Close or open the lid over a zone."""
    row = _row(hour, acts.LID, zone)
    row[acts.SHARE] = float(on)
    return row


def in_order(rows: Sequence[Floats]) -> Floats:
    """Acts ``[A, ACT_SIZE]`` sorted by hour; those of one hour keep their order."""
    if not rows:
        return np.zeros((0, acts.ACT_SIZE))
    table = np.array(rows)
    return table[np.argsort(table[:, acts.HOUR], kind="stable")]
