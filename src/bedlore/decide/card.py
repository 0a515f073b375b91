"""The if-you-find card: what to do by the food that is found, worked out beforehand.

Every row is tried on the model: the bed as it is, in steady weather of the band, with that much
food in it, under meals of several sizes. The largest that neither heats nor sours the bed and is
mostly gone in a fortnight goes on the card. The card needs no forecast, so no network.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import FAST, Air
from bedlore.bed.engine import State
from bedlore.decide.candidates import LEAST_DOSE_KG_M2, Menu, item_name, menus, rows
from bedlore.decide.case import Case, fresh_kg, soft_in
from bedlore.decide.meals import CLEARED_FACTOR, FIRST_FEED_L, LOOK_LEFT, Table, tables
from bedlore.decide.records import Action, CardBand, FindCard, FindRow, FoodLeft
from bedlore.facts.feedstocks import load
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.outlook.ahead import crossings, look_ahead
from bedlore.weather.air import vapour_density_kg_m3

BANDS: dict[CardBand, float] = {"cold": 4.0, "mild": 14.0, "warm": 24.0}
BAND_WORDS = {"cold": "bed below 8 degC", "mild": "bed 8 to 20 degC", "warm": "bed above 20 degC"}
SIZES = (1.5, 1.0, 0.5, 0.25)  # times the meal
GONE_SHARE = 0.5  # of the meal within a fortnight (assumed)
MEMBERS = 12
DAYS = 14
GOOD_D = 14
SWING_K = 3.0
_HUMID = 0.80


@dataclass(frozen=True)
class _Plate:
    """The zone that is fed next, the mix, and the meal [kg] that sizes are taken of."""

    table: Table
    mix: Menu
    meal_kg: float


def find_card(case: Case) -> FindCard:
    """The card of one bed from now on."""
    plate = _plate(case)
    found = [
        _row(case, plate, left, band)
        for left in ("none", "some", "lots") for band in ("cold", "mild", "warm")
    ]  # fmt: skip
    good = (case.now + dt.timedelta(days=GOOD_D)).date()
    note = (
        "Bands go by a thermometer at hand's depth. Smells sour or sharp: no food, loosen, lay dry"
        " card, look again in three days."
    )
    return FindCard(case.twin.bed.id, tuple(found), case.now, good, note)


def _plate(case: Case) -> _Plate | None:
    food, mixes = tables(case), menus(case)
    if not food or not mixes:
        return None
    table = min(food, key=lambda t: float(np.median(case.uneaten_kg[:, t.position])))
    week = WEEKLY_SCRAPS_KG_M2 * case.area_m2(table.position)
    quart = FIRST_FEED_L / 1000.0 * load()["food_mixed_kitchen"].bulk_density_kg_m3
    meal = min(week, table.meal.mass_kg if table.meal else quart)
    return _Plate(table, mixes[0], meal)


def _row(case: Case, plate: _Plate | None, left: FoodLeft, band: CardBand) -> FindRow:
    if left == "lots":
        why = "Food that lies uneaten sours, and heats the bed when it warms."
        return FindRow(left, band, "No food. Look again in four days.", why)
    if plate is None:
        return FindRow(left, band, "Nothing on hand to feed. Look again in a week.", "")
    ceiling = CLEARED_FACTOR * plate.meal_kg * (1.0 - LOOK_LEFT[left])
    for size in SIZES:
        mass = size * plate.meal_kg
        too_small = mass < LEAST_DOSE_KG_M2 * case.area_m2(plate.table.position)
        if mass > ceiling + 1e-9 or too_small:
            continue
        fits, why = _fits(case, plate, mass, left, band)
        if fits:
            return FindRow(left, band, _act(case, plate, mass), why)
    why = f"In a {band} bed a meal would not be half gone in a fortnight, or would heat or sour it."
    return FindRow(left, band, "No food yet. Look again in a week.", why)


def _fits(case: Case, plate: _Plate, mass_kg: float, left: FoodLeft,
          band: CardBand) -> tuple[bool, str]:  # fmt: skip
    """Whether a meal keeps the limits of heat and sourness and is mostly gone in time."""
    members = case.members(MEMBERS)
    action = _meal(case, plate, mass_kg)
    given = rows(case, action)
    state = as_found(case, members, plate, left, BANDS[band])
    z = plate.table.position
    laid = fresh_kg(state)[:, z] + soft_in(given)
    ahead = look_ahead(case.twin, steady_air(BANDS[band]), given, hours=DAYS * 24, every=24,
                       state=state, params=case.twin.params[members])  # fmt: skip
    passed = crossings(ahead, case.limits)
    gone = 1.0 - float(np.median(fresh_kg(ahead.run.state)[:, z] / np.maximum(laid, 1e-9)))
    fine = not passed["hot"].mean() > case.limits.risk_hot
    fine = fine and passed["sour"].mean() <= case.limits.risk_sour
    why = f"About {gone:.0%} of the soft food goes in a fortnight."
    return bool(fine and gone >= GONE_SHARE), why


def _meal(case: Case, plate: _Plate, mass_kg: float) -> Action:
    parts = tuple((item.material, mass_kg * share) for item, share in plate.mix)
    return Action("feed", case.twin.zone_ids[plate.table.position], parts)


def _act(case: Case, plate: _Plate, mass_kg: float) -> str:
    """The meal in containers, by what each part weighs."""
    say = case.speech
    parts = [
        f"{say.in_containers(item.material, mass_kg * share) or say.mass(mass_kg * share)}"
        f" of {item_name(case, item.material)}"
        for item, share in plate.mix
    ]
    return f"Feed {case.zone_name(plate.table.position)}: {' + '.join(parts)}, spread thin."


def as_found(case: Case, members: NDArray[np.int64], plate: _Plate, left: FoodLeft,
             temp_c: float) -> State:  # fmt: skip
    """The twin's state with as much soft food in the zone as was found, at ``temp_c``."""
    state = case.twin.state.pick(members)
    state.cells.temp_c[:] = temp_c
    state.zones.surface_c[:] = temp_c
    z = plate.table.position
    wanted = LOOK_LEFT[left] * plate.meal_kg
    there = np.maximum(case.uneaten_kg[members, z], 1e-9)
    share = np.minimum(1.0, wanted / there)
    state.cells.carbon_kg[:, z, :, FAST] *= share[:, None]
    state.cells.nitrogen_kg[:, z, :, FAST] *= share[:, None]
    state.cells.starch_kg[:, z] *= share[:, None]
    return state


def steady_air(mean_c: float) -> Air:
    """A fortnight of one band: a day's swing about its mean, in damp air."""
    hour = np.arange(DAYS * 24)
    air_c = (mean_c - SWING_K * np.cos(2.0 * np.pi * (hour - 4.0) / 24.0))[None]
    vapour = vapour_density_kg_m3(air_c, np.full_like(air_c, _HUMID))
    return Air(air_c, air_c, vapour, np.full_like(air_c, mean_c))


def rows_of(card: FindCard, left: FoodLeft) -> Sequence[FindRow]:
    """The rows for one amount of food left."""
    return [row for row in card.rows if row.food_left == left]
