"""Uneaten food and spare water as a running balance, and what it claims when the bed warms.

Food laid on in the cold is not gone: it waits. When it warms it gives its heat and its ammonia
together, and wants dry carbon then. All figures come from the pools of the twin's state with the
model's own rates at a stated temperature; worms, which would ease it, are left out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import FAST, MEDIUM, Floats
from bedlore.bed.engine import State
from bedlore.bed.matter import OXYGEN_PER_CARBON
from bedlore.decide.candidates import C_TO_N_LEAST, card_share
from bedlore.decide.case import Case, dry_kg, edible_kg
from bedlore.decide.meals import fed_positions
from bedlore.decide.records import Pantry, PantryRow
from bedlore.decide.score import after_points, band
from bedlore.facts.feedstocks import load
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.model import StoreItem
from bedlore.farm.site import Normals
from bedlore.outlook.ahead import Ahead
from bedlore.say import say, sentences, whole

CLAIM_TEMP_C = 15.0
CLAIM_DAYS = 30
SPARE_OVER = 0.75  # water beyond this share is spare: a damp sponge is 70-85 % (from memory)
TOO_WET = 0.85
CARD = "bed_corrugated"
WINTER_MEAN_C = 5.0  # a month below this counts as winter (4 degC is the level of concern)
WEEKS_A_MONTH = 365.25 / 12 / 7
LEAF_COVER_M = 0.10  # laid loose before winter and once more (assumed)
LEAVES = "yard_leaves_dry"


def late_points(case: Case, ahead: Ahead, on: Ahead | None) -> dict[str, float]:
    """Points of what a fortnight ``ahead`` leaves behind: ``on`` is its run on to day 90."""
    card = claims(ahead.run.state, case.twin.params)["dry_card_kg"].sum(axis=1)
    return after_points(on, case.limits, float(np.median(card)))


def claims(state: State, params: NDArray[np.void], temp_c: float = CLAIM_TEMP_C,
           days: float = CLAIM_DAYS) -> dict[str, Floats]:  # fmt: skip
    """What uneaten food does in ``days`` at ``temp_c``; arrays ``[M, Z]``.

    First-order decay of the fast and medium pools, ``C (1 - exp(-k Q10^((T-20)/10) t))``; its
    heat by oxygen used; its nitrogen less what microbes keep, with the ammonia already there.
    Air and water are taken as ample. ``food_kg`` is what the outlook calls food left, where firm
    food and casts count for little; the claims are of both pools whole. Dry card brings the C:N of
    the uneaten food to 25 and the bed's moisture to 85 %.
    """
    warm = params["decay_q10"] ** ((temp_c - 20.0) / 10.0)
    heat = np.zeros(state.cells.ash_kg.shape[:2])
    freed = state.cells.ammonia_kg.sum(axis=2)
    carbon_left = np.zeros_like(heat)
    nitrogen_left = state.cells.ammonia_kg.sum(axis=2)
    kept = params["residue_yield"]
    for pool, name in ((FAST, "fast_rate_per_day"), (MEDIUM, "medium_rate_per_day")):
        share = 1.0 - np.exp(-params[name] * warm * days)[:, None]
        carbon = state.cells.carbon_kg[..., pool].sum(axis=2)
        nitrogen = state.cells.nitrogen_kg[..., pool].sum(axis=2)
        burnt = carbon * share * (1.0 - kept[:, None])
        heat += burnt * OXYGEN_PER_CARBON[pool] * params["heat_per_oxygen_j_kg"][:, None]
        bound = carbon * share * (kept / params["residue_c_to_n"])[:, None]
        freed = freed + nitrogen * share - bound
        carbon_left += carbon
        nitrogen_left = nitrogen_left + nitrogen
    water = state.cells.water_kg.sum(axis=2)
    dry = dry_kg(state)
    return {
        "food_kg": edible_kg(state),
        "spare_water_kg": np.maximum(0.0, water - dry * SPARE_OVER / (1.0 - SPARE_OVER)),
        "heat_mj": heat / 1e6,
        "ammonia_g": 1000.0 * np.maximum(0.0, freed),
        "dry_card_kg": _card_for(carbon_left, nitrogen_left, water, dry),
    }


def _card_for(carbon: Floats, nitrogen: Floats, water: Floats, dry: Floats) -> Floats:
    """Dry card [kg] for C:N and for moisture, whichever wants more."""
    card = load()[CARD]
    per_kg = 1.0 - card.moisture_frac
    carbon_kg = per_kg * card.carbon_frac_dry
    nitrogen_kg = per_kg * card.n_frac_dry
    for_ratio = (C_TO_N_LEAST * nitrogen - carbon) / (carbon_kg - C_TO_N_LEAST * nitrogen_kg)
    too_wet = water - TOO_WET * (water + dry)
    for_water = too_wet / (TOO_WET - card.moisture_frac)
    return np.asarray(np.maximum(0.0, np.maximum(for_ratio, for_water)))


def pantry_of(case: Case) -> Pantry:
    """The balance of each zone now, and where ``case.normals`` is given what to put by."""
    found = claims(case.twin.state, case.twin.params)
    rows = tuple(
        PantryRow(case.twin.zone_ids[z], **{name: band(v[:, z]) for name, v in found.items()})
        for z in case.living
    )
    card, leaves = to_put_by(case, case.normals)
    return Pantry(case.twin.bed.id, rows, card, leaves, CLAIM_TEMP_C, CLAIM_DAYS,
                  _words(case, found["food_kg"], rows, card, leaves))  # fmt: skip


def to_put_by(case: Case, normals: Normals | None) -> tuple[float, float]:
    """Dry card and dry leaves [kg] for the winter months of the place.

    Card goes with what the bed is fed each week, at the share of a meal: its part of what comes
    in, and no more than a week's ration for the area that is fed. Leaves lie 10 cm deep on the
    bed, laid twice. Nothing where no month is that cold.
    """
    if normals is None:
        return 0.0, 0.0
    months = sum(
        0.5 * (low + high) < WINTER_MEAN_C
        for low, high in zip(normals.daily_low_c, normals.daily_high_c, strict=True)
    )
    weekly = [(load()[item.material], item.per_week_kg) for item in _weekly(case.store)]
    card = 0.0
    if weekly and months:
        card = card_share(weekly, load()[CARD]) * _weekly_kg(case) * months * WEEKS_A_MONTH
    area = sum(case.area_m2(z) for z in case.living)
    leaves = 2.0 * LEAF_COVER_M * area * load()[LEAVES].bulk_density_kg_m3 if months else 0.0
    return float(card), float(leaves)


def _weekly_kg(case: Case) -> float:
    """What of the weekly food goes to this bed."""
    comes = sum(item.per_week_kg for item in _weekly(case.store)) * case.share_of_store
    ration = WEEKLY_SCRAPS_KG_M2 * sum(case.area_m2(z) for z in fed_positions(case))
    return min(comes, ration)


def _weekly(store: Sequence[StoreItem]) -> list[StoreItem]:
    return [item for item in store if item.per_week_kg > 0.0 and not item.hold]


def _words(case: Case, food_kg: Floats, rows: Sequence[PantryRow], card: float,
           leaves: float) -> str:  # fmt: skip
    speech = case.speech
    food = speech.mass(float(np.median(food_kg[:, list(case.living)].sum(axis=1))))
    heat_mj = sum(row.heat_mj[1] for row in rows)
    heat = whole(heat_mj)
    claim = sum(row.dry_card_kg[1] for row in rows)
    temp = speech.temp(CLAIM_TEMP_C)
    said = [say("About {food} of food lies uneaten.", food=food)]
    if heat_mj < 0.5 and claim < 0.05:
        said = [say("Hardly any food lies uneaten.")]
    elif claim >= 0.05:
        said.append(say("A month at {temp} would draw about {heat} MJ of heat from it and ask for"
                        " {card} of dry card.", temp=temp, heat=heat,
                        card=speech.mass(claim)))  # fmt: skip
    else:
        said.append(say("A month at {temp} would draw about {heat} MJ of heat from it and ask for"
                        " no card.", temp=temp, heat=heat))  # fmt: skip
    if card > 0.0 or leaves > 0.0:
        said.append(say("For a winter put by {card} of dry card and {leaves} of dry leaves.",
                        card=speech.mass(card), leaves=speech.mass(leaves)))  # fmt: skip
    return sentences(*said)
