"""What each zone was fed, how much of it is gone, and the most it may be given next.

The ceiling: no dose exceeds 1.5 times what the zone cleared last time, none where lots was left or
it smelt sour or sharp these last days, and a new bed gets about one quart and then two weeks' peace
(public sheet, issuer not shown, read: "first feed about 1 quart, then leave about two weeks").
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bedlore.bed import plan
from bedlore.decide.case import Case, edible_in
from bedlore.facts.feedstocks import load
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.log import AnyEntry, Feed, Look, Switch
from bedlore.outlook.twin import Twin
from bedlore.say import Said, message, on_day, say, say_many

CLEARED_FACTOR = 1.5
FIRST_FEED_L = 0.946  # one US quart
FIRST_WAIT_D = 14
MEAL_H = 48.0  # feeds within this of a meal's first belong to it (assumed)
LOOK_HOLDS_D = 7.0  # how long a look at the food counts for more than the model (assumed)
SMELL_HOLDS_D = 3.0  # how long a bad smell keeps food back, as the card and first aid have it
# What a keeper calls lots and some, as shares of the last meal still soft (assumed).
LOTS_SHARE = 0.6
SOME_SHARE = 0.15
# The least meal that shares are taken of: two days of 1 lb/ft2 a week (NC State, read).
_LEAST_MEAL_KG_M2 = 2.0 / 7.0 * WEEKLY_SCRAPS_KG_M2
Left = Literal["none", "some", "lots"]
# Shares of the last meal (assumed).
LOOK_LEFT: dict[Left, float] = {"none": 0.0, "some": 0.4, "lots": 0.9}
_BAD_SMELLS = {
    "sour": message("it smelt sour on {day}"), "sharp": message("it smelt sharp on {day}"),
}  # fmt: skip


@dataclass(frozen=True)
class Meal:
    """Feeds to a zone close together: total mass and the time of the first and the last.

    ``edible_kg`` is what of it the model counts as food, as fresh scraps.
    """

    first: dt.datetime
    last: dt.datetime
    mass_kg: float
    edible_kg: float


@dataclass(frozen=True)
class Table:
    """What is known of the food in the zone at ``position``.

    ``cleared_kg`` of the last meal, ``cap_kg`` the most to give now, ``left`` as a keeper would
    call it, ``measured`` when a look at the bed says so, ``why`` what sets the ceiling, by which
    ``rule``: the public sheet's, ours, or a look in the log.
    """

    position: int
    meal: Meal | None
    cleared_kg: float
    cap_kg: float
    left: Left
    measured: bool
    why: str
    look_at: dt.datetime | None = None
    rule: Literal["sheet", "ours", "log"] = "ours"


def fed_positions(case: Case) -> tuple[int, ...]:
    """Zones that are fed now: the fed side, the top tray in use, or the face of a wedge."""
    bed, living = case.twin.bed, case.living
    if not living:
        return ()
    if bed.kind in ("stack", "wedge"):
        return living[:1]
    switched = [entry for entry in case.entries if isinstance(entry, Switch)]
    side = switched[-1].side if switched else _first_side(case)
    mine = tuple(z for z in living if case.zone(z).side == side)
    return mine or living


def _first_side(case: Case) -> str:
    for zone in case.twin.bed.zones:
        if zone.active and zone.worms_kg > 0.0:
            return zone.side
    return case.twin.bed.zones[0].side


def meals(entries: Sequence[AnyEntry], zone_id: str, sharing: Sequence[str], side: str = "",
          ) -> list[Meal]:  # fmt: skip
    """The meals of one zone in order; a feed to the side or the whole bed is shared out.

    ``sharing`` are the zones a feed without a zone went to.
    """
    found: list[Meal] = []
    for entry in entries:
        if not isinstance(entry, Feed):
            continue
        share = 1.0
        if entry.zone is None or (side and entry.zone == side and side != zone_id):
            if zone_id not in sharing:
                continue
            share = 1.0 / max(len(sharing), 1)
        elif entry.zone != zone_id:
            continue
        mass = share * sum(part.mass_kg for part in entry.parts)
        edible = share * _edible(entry)
        if found and (entry.at - found[-1].first).total_seconds() < MEAL_H * 3600.0:
            last = found.pop()
            found.append(
                Meal(last.first, entry.at, last.mass_kg + mass, last.edible_kg + edible)
            )
        else:
            found.append(Meal(entry.at, entry.at, mass, edible))
    return found


def _edible(entry: Feed) -> float:
    """What of a feed the model counts as food [kg, as fresh scraps]."""
    parts = [(load()[part.material], part.mass_kg, None) for part in entry.parts]
    return edible_in([plan.add_material(0, 0, parts)])


def tables(case: Case, seen: Left | None = None) -> tuple[Table, ...]:
    """One :class:`Table` for each zone that is fed now; ``seen`` as though a look in each of them
    now found that much of the food left."""
    fed = fed_positions(case)
    sharing = [case.twin.zone_ids[z] for z in fed]
    return tuple(_table(case, z, sharing, seen) for z in fed)


def peace_until(case: Case) -> dt.datetime | None:
    """When a new bed's two weeks' peace after its first feed end; None where it is not in them.

    The very first feed to anything in the bed counts.
    """
    first = _first_feed(case)
    end = first + dt.timedelta(days=FIRST_WAIT_D) if first is not None else None
    return end if end is not None and case.now < end and _is_new(case) else None


def _first_feed(case: Case) -> dt.datetime | None:
    return next((entry.at for entry in case.entries if isinstance(entry, Feed)), None)


def _table(case: Case, z: int, sharing: list[str], seen: Left | None) -> Table:
    zone = case.zone(z)
    eaten = meals(case.entries, zone.id, sharing, zone.side)
    meal = eaten[-1] if eaten else None
    look = _latest_look(case, zone.id, zone.side)
    left, measured = _left(case, z, meal, look) if seen is None else (seen, True)
    look_at = look.at if look is not None and measured else None
    smelt = bad_smell(case, zone.id, zone.side) if seen is None else None
    if smelt is not None:
        cleared = _cleared(case.twin, z, meal, left if measured else None) if meal else 0.0
        why = _smell_words(case, smelt)
        return Table(z, meal, cleared, 0.0, left, measured, why, look_at, "log")
    if meal is None:
        return _first_meal(case, z, len(sharing), left, measured, look_at)
    cleared = _cleared(case.twin, z, meal, left if measured else None)
    end = peace_until(case)
    if end is not None:
        days = int((end - case.now).total_seconds() / 86400.0) + 1
        why = say_many(
            "a new bed is left alone for two weeks after its first feed, {count} day more",
            "a new bed is left alone for two weeks after its first feed, {count} days more", days,
        )  # fmt: skip
        return Table(z, meal, cleared, 0.0, left, measured, why, look_at, "sheet")
    if left == "lots":
        return Table(z, meal, cleared, 0.0, left, measured, say("lots of food was left"), look_at)
    cap = CLEARED_FACTOR * cleared
    why = say("1.5 times the {mass} it cleared of the last meal", mass=case.speech.mass(cleared))
    if cleared < 0.02 * meal.edible_kg:
        why, cap = say("next to nothing of the last meal has gone yet"), 0.0
    return Table(z, meal, cleared, cap, left, measured, why, look_at)


def _is_new(case: Case) -> bool:
    """Whether the bed began within its first weeks; an old bed with a new log is not new."""
    return (case.now.date() - case.twin.bed.started).days <= 60


def _first_meal(case: Case, z: int, zones: int, left: Left, measured: bool,
                look_at: dt.datetime | None) -> Table:  # fmt: skip
    """A zone that the log never saw fed: about a quart to the bed, shared by its zones."""
    if left == "lots" and measured:
        return Table(z, None, 0.0, 0.0, left, measured, say("lots of food was left"), look_at)
    waiting = peace_until(case) is not None
    quart_kg = FIRST_FEED_L / 1000.0 * load()["food_mixed_kitchen"].bulk_density_kg_m3
    never_fed = _first_feed(case) is None
    cap = 0.0 if waiting else quart_kg / max(zones, 1) if never_fed else quart_kg
    why = (
        say("a new bed is left alone for two weeks after its first feed") if waiting
        else say("no feed of it is in the log, so it gets about a quart to begin with")
    )  # fmt: skip
    return Table(z, None, 0.0, cap, left, measured, why, look_at, "sheet")


def _latest_look(case: Case, zone_id: str, side: str) -> Look | None:
    """The last look that says how much food is left in this zone, its side or the bed."""
    wanted = (None, zone_id, side)
    looks = [
        entry for entry in case.entries
        if isinstance(entry, Look) and entry.food_left is not None and entry.zone in wanted
        and entry.at <= case.now
    ]
    return looks[-1] if looks else None


def bad_smell(case: Case, zone_id: str = "", side: str = "") -> Look | None:
    """The last look that says how this zone, its side or the bed smells, if it is of the last days
    and the smell was bad; without a zone the last one anywhere in the bed."""
    wanted = (None, zone_id, side)
    since = case.now - dt.timedelta(days=SMELL_HOLDS_D)
    looks = [
        entry for entry in case.entries
        if isinstance(entry, Look) and entry.smell is not None and since <= entry.at <= case.now
        and (not zone_id or entry.zone in wanted)
    ]
    return looks[-1] if looks and looks[-1].smell in _BAD_SMELLS else None


def _smell_words(case: Case, look: Look) -> Said:
    return say(_BAD_SMELLS[look.smell or ""], day=on_day(case.day(look.at)))


def _left(case: Case, z: int, meal: Meal | None, look: Look | None) -> tuple[Left, bool]:
    """How much is left, and whether a look says so; a look older than the meal is out of date."""
    if look is not None and look.food_left is not None:
        fresh = (case.now - look.at).total_seconds() < LOOK_HOLDS_D * 86400.0
        if fresh and (meal is None or look.at > meal.last):
            return look.food_left, True
    reference = max(meal.mass_kg if meal else 0.0, _LEAST_MEAL_KG_M2 * case.area_m2(z))
    share = float(np.median(case.uneaten_kg[:, z])) / reference
    return ("lots" if share > LOTS_SHARE else "some" if share > SOME_SHARE else "none"), False


def _cleared(twin: Twin, z: int, meal: Meal, seen: Left | None) -> float:
    """How much of the last meal [kg] is gone: as the look says, else as the twin has it."""
    if seen is not None:
        return meal.mass_kg * (1.0 - LOOK_LEFT[seen])
    food = twin.recent.series("food_left_kg")[:, :, z]
    before = int((meal.first - twin.recent_start).total_seconds() // 86400) - 1
    held = food[:, before] if 0 <= before < food.shape[1] else 0.0
    left = food[:, -1] - held
    gone = 1.0 - float(np.median(left)) / max(meal.edible_kg, 1e-9)
    return float(np.clip(gone, 0.0, 1.0)) * meal.mass_kg
