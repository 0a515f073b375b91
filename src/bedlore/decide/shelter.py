"""What would carry a bed through the coming cold snap or heat: every way run, ranked, in degrees.

Straw, leaves, foam, the mat and a move indoors against cold; shade, ice bottles, water, the cover
off and a cool room against heat. All run on the same members in the same weather, so that what
differs is the shelter. Nothing need be on hand: each says what it takes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, State, simulate
from bedlore.bed.matter import DRY_HEAT_J_KGK, DRY_PER_CARBON, FUSION_J_KG, WATER_HEAT_J_KGK
from bedlore.decide.action_rows import FOAM, FOAM_M, foamed, rows, walled
from bedlore.decide.action_words import NOTHING, foam_words
from bedlore.decide.case import Case, dry_kg
from bedlore.decide.cautions import ELECTRIC, FOAM_CHEWED, LIFTING, NO_BURNING
from bedlore.decide.course import thinned
from bedlore.decide.harm import harms_of
from bedlore.decide.hold import (
    STRAW_M,
    Limit,
    helps,
    mat_warmer,
    mean_shift_k,
    most_feed,
    shift_k,
    straw_words,
)
from bedlore.decide.lifeboat import lifeboat_of
from bedlore.decide.records import Action, Effect
from bedlore.decide.score import Score, effect, score
from bedlore.decide.words import denominator_for, odds_short
from bedlore.facts.building import MATERIALS
from bedlore.outlook.ahead import Ahead
from bedlore.say import (
    Words,
    kelvin,
    limit_temp,
    litres,
    mass,
    on_day,
    say,
    sentences,
    setting,
    temp,
    thickness,
)
from bedlore.weather.air import vapour_density_kg_m3

MEMBERS = 60
THREAT = 0.02  # odds of a limit from which shelter is looked for (assumed)
LEAVES_M = 0.20
ROOM_C: dict[Limit, float] = {"cold": 10.0, "hot": 20.0}  # a cellar; a cool room (assumed)
MOST_CARRIED_KG = 120.0  # a whole box heavier than this is not carried (assumed)
LEAST_KWH = 0.05  # electricity that is worth a word
BOTTLE_KG = 1.5
BOTTLES = (4, 10)
ICE_C = -18.0
_ICE_HEAT_J_KGK = 2050.0  # handbook
PORTION_H = 6  # a bottle gives its cold over a day, in four portions
LEAST_COOLED_C = 8.0  # a bottle does not cool a bed below this
ShelterName = Literal[
    "straw", "leaves", "foam", "mat", "foam and mat", "feed", "indoors", "shade", "ice", "water",
    "uncover",
]
Forward = Callable[[], tuple[Ahead, list[Floats]]]
Base = Literal[10, 100]


@dataclass(frozen=True)
class Shelter:
    """One way: ``kelvin`` by which the worst living place is milder, ``mean_k`` by which the
    fortnight is where it is out of bounds; odds of the limit with it and without."""

    name: ShelterName
    amount: int  # of bottles a day; 0 where it is not counted
    odds: float
    kelvin: float
    mean_k: float
    helps: bool
    holds: bool
    work_h: float
    energy_kwh: float
    takes: Words
    words: Words = ""


@dataclass(frozen=True)
class Shelters:
    """Every way for one bed, the best first; ``threat`` "" when nothing calls for it."""

    bed_id: str
    made_at: dt.datetime
    threat: Literal["cold", "hot", ""]
    when: dt.date | None  # the worst day of the fortnight
    odds: float
    worst_c: tuple[float, float, float]
    members: int
    ways: tuple[Shelter, ...]
    harm: Words
    lifeboat: Words
    cautions: tuple[Words, ...]
    words: Words


def shelters_of(case: Case) -> Shelters:
    """The ways to shelter the bed of ``case``, or that nothing calls for it."""
    few = thinned(case, MEMBERS)
    bare_ahead = few.run([])
    every = np.arange(few.twin.members)
    bare = score(few, NOTHING, bare_ahead, [], every)
    came = effect(bare_ahead, few.limits)
    limit: Limit = "cold" if came.odds.cold >= came.odds.hot else "hot"
    odds = float(getattr(came.odds, limit))
    harm = sentences(*(one.words for one in harms_of(few)))
    boat = lifeboat_of(few, bare_ahead)
    worst = came.coldest_c if limit == "cold" else came.warmest_c
    if odds < THREAT:
        words = say("Nothing in the coming fortnight calls for shelter.")
        return Shelters(case.twin.bed.id, case.now, "", None, odds, worst, few.twin.members, (),
                        harm, boat.words, (), words)  # fmt: skip
    ways = [
        _shelter(few, limit, bare, came, name, amount, forward)
        for name, amount, forward in (_in_cold(few) if limit == "cold" else _in_heat(few))
    ]
    base = denominator_for([odds, *(way.odds for way in ways)])
    ways = [replace(way, words=_way_words(way, limit, odds, few.twin.members, base))
            for way in ways]  # fmt: skip
    ways.sort(key=lambda way: (not way.holds, round(way.odds, 2), way.work_h, -way.kelvin))
    return Shelters(
        case.twin.bed.id, case.now, limit, _worst_day(few, bare_ahead, limit), odds, worst,
        few.twin.members, tuple(ways), harm, boat.words, _cautions(limit, ways),
        _words(few, limit, bare_ahead, came, base),
    )  # fmt: skip


def _shelter(case: Case, limit: Limit, bare: Score, came: Effect, name: ShelterName, amount: int,
             forward: Forward) -> Shelter:  # fmt: skip
    ahead, given = forward()
    members = np.arange(case.twin.members)
    found = score(case, NOTHING, ahead, given, members)
    with_it = effect(ahead, case.limits)
    odds = float(getattr(with_it.odds, limit))
    risk = case.limits.risk_cold if limit == "cold" else case.limits.risk_hot
    shift, mean = shift_k(with_it, came, limit), mean_shift_k(found, bare, limit, case.hours / 24)
    better = helps(found, bare, limit, shift, mean)
    energy = with_it.energy_kwh - came.energy_kwh
    return Shelter(name, amount, odds, shift, mean, better, odds <= risk, _WORK_H[name], energy,
                   _takes(case, limit, name, amount))  # fmt: skip


# Hours of the keeper's over the fortnight (assumed).
_WORK_H: dict[ShelterName, float] = {
    "straw": 0.5, "leaves": 2.0, "foam": 2.0, "mat": 0.1, "foam and mat": 2.1, "feed": 0.5,
    "indoors": 2.0, "shade": 0.5, "ice": 2.0, "water": 0.3, "uncover": 0.2,
}  # fmt: skip


def _way_words(way: Shelter, limit: Limit, bare: float, members: int, base: Base) -> Words:
    """``The mat's thermostat at 10 degC: 1 K warmer at its worst; odds 5 in 10 instead of 9 in 10;
    12 kWh more.`` All odds of a bed are counted in as many."""
    values: dict[str, Words] = {
        "takes": way.takes, "verdict": _verdict(limit, way.kelvin, way.mean_k, way.helps),
        "odds": odds_short(way.odds, members, base), "bare": odds_short(bare, members, base),
    }  # fmt: skip
    if abs(way.energy_kwh) < LEAST_KWH:
        return say("{takes}: {verdict}; odds {odds} instead of {bare}.", **values)
    energy = (say("{kwh} kWh more", kwh=round(way.energy_kwh, 1)) if way.energy_kwh > 0.0
              else say("{kwh} kWh less", kwh=round(-way.energy_kwh, 1)))  # fmt: skip
    return say("{takes}: {verdict}; odds {odds} instead of {bare}; {energy}.", energy=energy,
               **values)  # fmt: skip


def _verdict(limit: Limit, shift: float, mean: float, better: bool) -> Words:
    if min(shift, mean) < -0.25:
        return say("worse by {amount}", amount=kelvin(min(shift, mean)))
    if not better:
        return say("hardly helps")
    amount = kelvin(max(shift, mean))
    at_worst = shift >= mean
    if limit == "cold":
        return (say("{amount} warmer at its worst", amount=amount) if at_worst
                else say("{amount} warmer on the mean", amount=amount))  # fmt: skip
    return (say("{amount} cooler at its worst", amount=amount) if at_worst
            else say("{amount} cooler on the mean", amount=amount))  # fmt: skip


# --- The ways ----------------------------------------------------------------------------------

Way = tuple[ShelterName, int, Forward]


def _in_cold(case: Case) -> Iterator[Way]:
    straw = Action("cover", material="straw_loose", thickness_m=STRAW_M)
    yield "straw", 0, _acted(case, rows(case, straw))
    yield "leaves", 0, _leaves(case)
    yield "foam", 0, _foamed(case)
    yield "feed", 0, _acted(case, rows(case, most_feed(case)))
    warm = mat_warmer(case)
    if warm is not None:
        mat = rows(case, warm)
        yield "mat", 0, _acted(case, mat)
        yield "foam and mat", 0, _foamed(case, mat)
    if _can_be_carried(case):
        yield "indoors", 0, _in_air(case, _room(case, ROOM_C["cold"]))


def _in_heat(case: Case) -> Iterator[Way]:
    area = sum(case.area_m2(z) for z in case.living)
    water = Action("water", parts=(("water", round(4.0 * area, 1)),))
    uncover = Action("uncover")
    yield "uncover", 0, _acted(case, rows(case, uncover))
    yield "water", 0, _acted(case, [*rows(case, uncover), *rows(case, water)])
    if case.twin.bed.place == "outdoors":
        yield "shade", 0, _in_air(case, case.air._replace(outer_c=case.air.air_c))
    for bottles in BOTTLES:
        yield "ice", bottles, _iced(case, bottles)
    if _can_be_carried(case):
        yield "indoors", 0, _in_air(case, _room(case, ROOM_C["hot"]))


def _acted(case: Case, given: list[Floats]) -> Forward:
    return lambda: (case.run(given), given)


def _in_air(case: Case, air: Air) -> Forward:
    return lambda: (replace(case, air=air).run([]), [])


def _leaves(case: Case) -> Forward:
    """Dry leaves held round the walls with wire, and on top; none below."""
    k = MATERIALS["leaves_loose"].k_w_mk
    on_top = rows(case, Action("cover", material="leaves_loose", thickness_m=LEAVES_M))
    return _acted(walled(case, LEAVES_M / k), on_top)


def _foamed(case: Case, besides: Sequence[Floats] = ()) -> Forward:
    """Foam all round, and under a bed that stands on legs."""
    foam = Action("insulate", material=FOAM, thickness_m=FOAM_M)
    return _acted(foamed(case, [foam]), [*rows(case, foam), *besides])


def _room(case: Case, temp_c: float) -> Air:
    """A room of one temperature; its floor is as warm."""
    air_c = np.full_like(case.air.air_c, temp_c)
    vapour = vapour_density_kg_m3(air_c, np.full_like(air_c, 0.75))
    return Air(air_c, air_c, vapour, air_c)


def bed_kg(case: Case) -> float:
    """What lies in the bed, wet, on the median; the box not counted."""
    state = case.twin.state
    wet = dry_kg(state).sum(axis=1) + state.cells.water_kg.sum(axis=(1, 2))
    return float(np.median(wet))


def _can_be_carried(case: Case) -> bool:
    bed = case.twin.bed
    return bed.stand != "ground" and (bed.kind == "stack" or bed_kg(case) <= MOST_CARRIED_KG)


def ice_cold_j(bottles: int, bed_c: float) -> float:
    """Heat that bottles of ice from the freezer take up until they are as warm as the bed.

    By hand: one of 1.5 kg from -18 degC into a bed of 30 degC takes 745 kJ.
    """
    per_kg = _ICE_HEAT_J_KGK * -ICE_C + FUSION_J_KG + WATER_HEAT_J_KGK * max(bed_c, 0.0)
    return bottles * BOTTLE_KG * per_kg


def _iced(case: Case, bottles: int) -> Forward:
    """Bottles of ice laid in each day: their cold is taken from the whole bed in four portions.

    Where they lie it is colder than that; between them it is not.
    """
    def forward() -> tuple[Ahead, list[Floats]]:
        state, runs = case.twin.state, []
        for first in range(0, case.hours - PORTION_H + 1, PORTION_H):
            state = _cooled(state, bottles * PORTION_H / 24.0)
            air = Air(*(array[:, first : first + PORTION_H] for array in case.air))
            run = simulate(case.twin.geometry, case.twin.params, state, air, plan.in_order([]),
                           hours=PORTION_H, every=PORTION_H)  # fmt: skip
            runs.append(run)
            state = run.state
        values = np.concatenate([run.values for run in runs], axis=1)
        tally = np.sum([run.tally for run in runs], axis=0)
        # Its temperatures are as doubtful as those it is held against.
        run = case.twin.doubt.dressed(Run(values, PORTION_H, tally, state))
        return Ahead(case.now, run, case.twin.zone_ids), []

    return forward


def _cooled(state: State, bottles: float) -> State:
    """``state`` with the cold of ``bottles`` spread over what lies in the bed (above freezing)."""
    after = state.copy()
    cells = after.cells
    organic = (cells.carbon_kg * np.array(DRY_PER_CARBON)).sum(axis=3)
    holds = (organic + cells.ash_kg) * DRY_HEAT_J_KGK + cells.water_kg * WATER_HEAT_J_KGK
    whole = holds.sum(axis=(1, 2))
    mean_c = (holds * cells.temp_c).sum(axis=(1, 2)) / np.maximum(whole, 1e-9)
    cold = np.array([ice_cold_j(1, float(c)) for c in mean_c]) * bottles
    down = np.minimum(cold / np.maximum(whole, 1e-9), np.maximum(mean_c - LEAST_COOLED_C, 0.0))
    cells.temp_c[:] = np.where(cells.temp_c > 0.0, cells.temp_c - down[:, None, None],
                               cells.temp_c)  # fmt: skip
    return after


# --- In words ----------------------------------------------------------------------------------


def _takes(case: Case, limit: Limit, name: ShelterName, amount: int) -> Words:
    area = sum(case.area_m2(z) for z in case.living)
    match name:
        case "straw":
            return say("{straw}, about {volume}", straw=straw_words(),
                       volume=litres(1000 * STRAW_M * area))  # fmt: skip
        case "leaves":
            return say("{thickness} of dry leaves round the walls and on top, about {volume}",
                       thickness=thickness(LEAVES_M),
                       volume=litres(1000 * LEAVES_M * (area + _wall_m2(case))))  # fmt: skip
        case "foam":
            return foam_words(case)
        case "mat" | "foam and mat":
            return _mat_takes(case, foam=name != "mat")
        case "feed":
            return say("A double week's ration over the whole bed")
        case "indoors":
            return say("A move into a room of {temp}, with {weight} in the bed",
                       temp=temp(ROOM_C[limit]), weight=mass(bed_kg(case)))  # fmt: skip
        case "shade":
            return say("Shade over the bed all day")
        case "ice":
            return say("{count} frozen bottles of {size} a day, wrapped, on top of the bedding",
                       count=amount, size=litres(BOTTLE_KG))  # fmt: skip
        case "water":
            return say("The cover off and a sprinkling of water")
        case _:
            return say("The cover off")


def _mat_takes(case: Case, *, foam: bool) -> Words:
    """The mat on, or warmer where it is on already."""
    warm = mat_warmer(case)
    if warm is None or warm.setpoint_c is None:
        return say("Foam board and the heat mat on") if foam else say("The heat mat on")
    set_to = setting(warm.setpoint_c)
    if foam:
        return say("Foam board and the mat's thermostat at {temp}", temp=set_to)
    return say("The mat's thermostat at {temp}", temp=set_to)


def _wall_m2(case: Case) -> float:
    bed = case.twin.bed
    return 2.0 * (bed.length_m + bed.width_m) * bed.depth_m


def _worst_day(case: Case, ahead: Ahead, limit: Limit) -> dt.date:
    """The day on which most members have their worst hour."""
    name = "temp_coldest_c" if limit == "cold" else "temp_warmest_c"
    values = ahead.run.series(name)[:, :, list(case.living)]
    worst = values.min(axis=2).argmin(axis=1) if limit == "cold" else values.max(axis=2).argmax(
        axis=1
    )
    day = int(np.bincount(worst).argmax())
    when = case.now + dt.timedelta(hours=(day + 0.5) * ahead.run.every)
    return when.astimezone(case.zone_info).date()


def _words(case: Case, limit: Limit, ahead: Ahead, came: Effect, base: Base) -> Words:
    odds, band = (
        (came.odds.cold, came.coldest_c) if limit == "cold" else (came.odds.hot, came.warmest_c)
    )
    day, members = on_day(_worst_day(case, ahead, limit)), case.twin.members
    if limit == "cold":
        return say("Cold ahead, worst about {day}: with nothing done the coldest living place goes"
                   " down to {worst}; below {line} in {odds} futures.", day=day,
                   worst=temp(band[1]), line=limit_temp(case.limits.cold_c),
                   odds=odds_short(odds, members, base))  # fmt: skip
    return say("Heat ahead, worst about {day}: with nothing done the warmest living place goes up"
               " to {worst}; above {line} in {odds} futures.", day=day, worst=temp(band[1]),
               line=limit_temp(case.limits.hot_c),
               odds=odds_short(odds, members, base))  # fmt: skip


def _cautions(limit: Limit, ways: list[Shelter]) -> tuple[Words, ...]:
    names = {way.name for way in ways}
    found: list[Words] = []
    if limit == "cold":
        found.append(NO_BURNING)
    if names & {"mat", "foam and mat"}:
        found.append(ELECTRIC)
    if "indoors" in names:
        found.append(LIFTING)
    if "foam" in names:
        found.append(FOAM_CHEWED)
    return tuple(found)
