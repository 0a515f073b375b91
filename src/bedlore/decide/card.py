"""The if-you-find card: what to do by the food that is found, worked out beforehand.

Every row is tried on the model: the bed as it is, in steady weather of the band, with that much
food in it, under meals of several sizes. The largest that neither heats nor sours the bed and is
mostly gone in a fortnight goes on the card, never more than the ceiling after a look that finds
that much. The card needs no forecast, so no network.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import FAST, Air
from bedlore.bed.engine import State
from bedlore.decide.action_rows import rows
from bedlore.decide.action_words import item_name
from bedlore.decide.candidates import LEAST_DOSE_KG_M2, Menu, is_rich, menus, rule_most_kg
from bedlore.decide.case import Case, fresh_kg, soft_in
from bedlore.decide.meals import LOOK_LEFT, Table, peace_until, tables
from bedlore.decide.records import Action, CardBand, FindCard, FindRow, FoodLeft
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.outlook.ahead import crossings, look_ahead
from bedlore.say import Said, joined, on_day, say, whole
from bedlore.weather.air import vapour_density_kg_m3

BANDS: dict[CardBand, float] = {"cold": 4.0, "mild": 14.0, "warm": 24.0}
SIZES = (1.5, 1.0, 0.5, 0.25)  # times the meal
GONE_SHARE = 0.5  # of the meal within a fortnight (assumed)
ALREADY_HOT = 0.25  # share of futures in which the bed is too hot before it is fed (assumed)
MEMBERS = 12
DAYS = 14
GOOD_D = 14
SWING_K = 3.0
_HUMID = 0.80


_Crossed = dict[str, NDArray[np.bool_]]


@dataclass(frozen=True)
class _Plate:
    """The zone that is fed next, the mix, the meal [kg] that sizes are taken of, and the most [kg]
    that may be given by what is found."""

    table: Table
    mix: Menu
    meal_kg: float
    most_kg: dict[FoodLeft, float]


def find_card(case: Case) -> FindCard:
    """The card of one bed from now on."""
    end = peace_until(case)
    if end is not None:
        return _left_alone(case, case.day(end))
    plate = _plate(case)
    by_band = {band: _column(case, plate, band) for band in BANDS}
    found = [column[place] for place in range(3) for column in by_band.values()]
    good = case.day(case.now + dt.timedelta(days=GOOD_D))
    note = say("Bands go by a thermometer at hand's depth. Smells sour or sharp: no food, loosen,"
               " lay dry card, look again in three days.")  # fmt: skip
    return FindCard(case.twin.bed.id, tuple(found), case.now, good, note)


def _left_alone(case: Case, until: dt.date) -> FindCard:
    """The card of a new bed in its two weeks' peace; it holds until they end."""
    act = say("New bed: leave it until {day}.", day=on_day(until))
    why = say("A new bed is left alone for two weeks after its first feed, whatever is left.")
    found = tuple(FindRow(left, band, act, why) for left in LOOK_LEFT for band in BANDS)
    note = say("Smells sour or sharp: loosen, lay dry card, look again in three days.")
    return FindCard(case.twin.bed.id, found, case.now, until, note)


def _plate(case: Case) -> _Plate | None:
    """The zone with the least soft food, and what the rules allow there after each finding."""
    mixes, bare = menus(case), tables(case, "none")
    if not bare or not mixes:
        return None
    place = min(range(len(bare)),
                key=lambda i: float(np.median(case.uneaten_kg[:, bare[i].position])))  # fmt: skip
    table, mix = bare[place], mixes[0]
    most: dict[FoodLeft, float] = {
        left: (0.5 if is_rich(mix) else 1.0) * rule_most_kg(case, tables(case, left)[place], mix)
        for left in LOOK_LEFT
    }
    week = WEEKLY_SCRAPS_KG_M2 * case.area_m2(table.position)
    meal = min(week, table.meal.mass_kg if table.meal else table.cap_kg)
    return _Plate(table, mix, meal, most)


def _column(case: Case, plate: _Plate | None, band: CardBand) -> tuple[FindRow, ...]:
    """The rows of one band: none, some and lots of food left.

    Food that lies there never lets more be laid on it, so that what was too much on none is not
    tried on some.
    """
    lots = FindRow("lots", band, say("No food. Look again in four days."),
                   say("Food that lies uneaten sours, and heats the bed when it warms."))
    if plate is None:
        why = say("Nothing on hand to feed. Look again in a week.")
        return FindRow("none", band, why, ""), FindRow("some", band, why, ""), lots
    none, most = _row(case, plate, "none", band, SIZES[0])
    some = _row(case, plate, "some", band, most)[0] if most else replace(none, food_left="some")
    return none, some, lots


def _row(case: Case, plate: _Plate, left: FoodLeft, band: CardBand,
         most: float) -> tuple[FindRow, float]:  # fmt: skip
    """What to do, and the size of the meal; sizes up to ``most`` are tried."""
    sizes = [size for size in SIZES if size <= most and _allowed(case, plate, left, size)]
    unfed = cache(lambda: _crossed(case, plate, 0.0, left, band)[0])
    hot = FindRow(left, band, say("No food. Look again in three days."),
                  say("What lies in the bed already heats it in such weather."))  # fmt: skip
    why = say("Too little is allowed to be worth the walk.")
    if not sizes and _share(unfed()["hot"]) > ALREADY_HOT:
        return hot, 0.0
    for size in sizes:
        passed, gone = _crossed(case, plate, size * plate.meal_kg, left, band)
        # A bed that is hot unfed is hot when it is fed.
        if _share(passed["hot"]) > ALREADY_HOT < _share(unfed()["hot"]):
            return hot, 0.0
        objection = _objection(case, unfed, passed, gone)
        if objection is None:
            why = say("About {share}% of the soft food goes in a fortnight.",
                      share=whole(100.0 * gone))  # fmt: skip
            return FindRow(left, band, _act(case, plate, size * plate.meal_kg), why), size
        why = objection
    return FindRow(left, band, say("No food yet. Look again in a week."), why), 0.0


def _allowed(case: Case, plate: _Plate, left: FoodLeft, size: float) -> bool:
    """Whether a meal is within the ceiling and worth the walk."""
    kg = size * plate.meal_kg
    least = LEAST_DOSE_KG_M2 * case.area_m2(plate.table.position)
    return least <= kg <= plate.most_kg[left] + 1e-9


def _objection(case: Case, unfed: Callable[[], _Crossed], passed: _Crossed,
               gone: float) -> Said | None:  # fmt: skip
    """What speaks against a meal: what it adds to heat or sourness, or food that lies.

    How the bed fares ``unfed`` is only worked out where a fed one passes a limit too often.
    """
    for key, risk, why in (
        ("hot", case.limits.risk_hot, say("Even a small meal could heat the bed too far.")),
        ("sour", case.limits.risk_sour, say("Even a small meal could turn the bed sour.")),
    ):
        if _share(passed[key]) > risk < _share(passed[key] & ~unfed()[key]):
            return why
    if gone >= GONE_SHARE:
        return None
    return say("Even a small meal would not be half gone in a fortnight.")


def _share(crossed: NDArray[np.bool_]) -> float:
    return float(crossed.mean())


def _crossed(case: Case, plate: _Plate, mass_kg: float, left: FoodLeft,
             band: CardBand) -> tuple[_Crossed, float]:  # fmt: skip
    """Which members pass a limit after a meal, and the share of soft food gone in time."""
    members = case.members(MEMBERS)
    # The forecast must not enter: what is fed comes as warm as the air of the band.
    case = replace(case, air=steady_air(BANDS[band]))
    given = rows(case, _meal(case, plate, mass_kg)) if mass_kg > 0.0 else []
    state = as_found(case, members, plate, left, BANDS[band])
    z = plate.table.position
    laid = fresh_kg(state)[:, z] + soft_in(given)
    ahead = look_ahead(case.twin, steady_air(BANDS[band]), given, hours=DAYS * 24, every=24,
                       members=members, state=state)  # fmt: skip
    left_over = fresh_kg(ahead.run.state)[:, z] / np.maximum(laid, 1e-9)
    return crossings(ahead, case.limits), 1.0 - float(np.median(left_over))


def _meal(case: Case, plate: _Plate, mass_kg: float) -> Action:
    parts = tuple((item.material, mass_kg * share) for item, share in plate.mix)
    return Action("feed", case.twin.zone_ids[plate.table.position], parts)


def _act(case: Case, plate: _Plate, mass_kg: float) -> str:
    """The meal in containers, by what each part weighs."""
    speech = case.speech
    parts = [
        say("{amount} of {material}", material=item_name(case, item.material),
            amount=speech.in_containers(item.material, mass_kg * share)
            or speech.mass(mass_kg * share))
        for item, share in plate.mix
    ]  # fmt: skip
    return say("Feed {zone}: {parts}, spread thin.", zone=case.zone_name(plate.table.position),
               parts=joined(parts, " + "))  # fmt: skip


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
