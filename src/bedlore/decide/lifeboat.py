"""The lifeboat: worms and cocoon-rich castings to take indoors before frost or a heat wave.

A small indoor herd is run through the model at room warmth, fed to its appetite, for several
sizes, until the day by which the herd should be back. Cocoons hatch and hatchlings grow there as
in any bed; every member has its own worms.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import empty_state, simulate
from bedlore.bed.layout import COCOON_STEPS
from bedlore.decide.case import Case
from bedlore.decide.records import Lifeboat
from bedlore.decide.words import odds_words
from bedlore.facts.feedstocks import load
from bedlore.farm.bed import Bed
from bedlore.outlook.ahead import LOST_HERD_KG, Ahead
from bedlore.say import capital, message, on_day, say, sentences
from bedlore.weather.air import vapour_density_kg_m3

FROST_C = 0.0  # freezing takes worms; cocoons may live (extension text, read)
HEAT_C = 33.0  # worms die above 90 degF, 32 degC (extension texts, read)
TRIGGER = 0.05  # odds of frost or heat where worms live that call for a lifeboat (assumed)
SHARES = (0.05, 0.10, 0.20, 0.35, 0.50)  # of the herd, to choose from
BACK_SHARE = 0.9  # of today's herd counts as back
ENOUGH = 0.8  # odds that are aimed at
BACK_D = 120
INDOOR_C = 18.0
MEMBERS = 16
CASTINGS_L_PER_KG = 10.0  # castings taken with each kg of worms (assumed)
_WORMS_KG_M2 = 5.0  # about 1 lb/ft2 (NC State, read): room for the herd once it is back
_FEED_PER_WORM_WEEK = 2.0  # kg a week for each kg of the herd aimed at, at most (assumed)


@dataclass(frozen=True)
class Danger:
    """Which event threatens the herd, how likely, and when it first does (median)."""

    event: str
    odds: float
    when: dt.datetime


def danger(case: Case, ahead: Ahead) -> Danger | None:
    """Frost or heat where worms live, when it is likelier than one in twenty."""
    worms = ahead.run.series("worms_kg")
    lived_in = worms > 0.02 * np.maximum(worms.sum(axis=2, keepdims=True), 1e-9)
    cold = ((ahead.run.series("temp_coldest_c") < FROST_C) & lived_in).any(axis=2)
    hot = ((ahead.run.series("temp_warmest_c") > HEAT_C) & lived_in).any(axis=2)
    found = []
    for event, passed in (("cold", cold), ("heat", hot)):
        odds = float(passed.any(axis=1).mean())
        if odds > TRIGGER:
            first = int(np.median(passed.argmax(axis=1)[passed.any(axis=1)]))
            when = case.now + dt.timedelta(hours=first * ahead.run.every)
            found.append(Danger(event, odds, when))
    return max(found, key=lambda d: d.odds) if found else None


def lifeboat_of(case: Case, ahead: Ahead | None = None,
                back_by: dt.date | None = None) -> Lifeboat:  # fmt: skip
    """How much to take indoors before the coming weather so that the herd is back by a date.

    ``ahead`` is the outlook with nothing done, run here when it is left out; ``back_by`` is
    120 days on when it is left out.
    """
    ahead = ahead or case.outlook or case.run([])
    threat = danger(case, ahead)
    herd = float(case.worms_kg.sum())
    if threat is None or herd < LOST_HERD_KG:
        none = (
            say("Hardly a worm is left to take indoors.") if herd < LOST_HERD_KG
            else say("Nothing ahead calls for taking worms indoors.")
        )  # fmt: skip
        return Lifeboat(case.twin.bed.id, "", None, 0.0, 0.0, None, 0.0, none)
    back = back_by or (case.now + dt.timedelta(days=BACK_D)).date()
    days = max(7, (back - case.now.date()).days)
    share, odds = _smallest(case, herd, days)
    worms_kg = share * herd
    castings_l = CASTINGS_L_PER_KG * worms_kg
    words = _words(case, threat, worms_kg, castings_l, back, odds)
    event = "cold" if threat.event == "cold" else "heat"
    return Lifeboat(case.twin.bed.id, event, threat.when, worms_kg, castings_l, back, odds, words)  # type: ignore[arg-type]


def _smallest(case: Case, herd_kg: float, days: int) -> tuple[float, float]:
    """The smallest share of the herd that is back with good odds, else the best of them.

    More worms are back sooner, so that halving the choice finds it.
    """
    members = case.members(MEMBERS)
    per_litre = cocoons_per_litre(case)[members]
    odds: dict[float, float] = {}

    def back(share: float) -> float:
        grown = indoor_herd(
            case.twin.params[members], share * herd_kg,
            per_litre * CASTINGS_L_PER_KG * share * herd_kg, herd_kg, days,
        )  # fmt: skip
        odds[share] = float((grown[:, -1] >= BACK_SHARE * herd_kg).mean())
        return odds[share]

    place = bisect_left(SHARES, True, key=lambda share: back(share) >= ENOUGH)
    share = SHARES[place] if place < len(SHARES) else max(odds, key=odds.__getitem__)
    return share, odds[share]


def cocoons_per_litre(case: Case) -> Floats:
    """Cocoons in a litre of the richest zone ``[M]``, as the twin has it."""
    last = case.twin.recent
    cocoons = last.series("cocoons_n")[:, -1]
    litres = 1000.0 * last.series("depth_m")[:, -1] * case.twin.geometry.area_m2
    density = np.where(litres > 0.0, cocoons / np.maximum(litres, 1e-9), 0.0)
    return np.asarray(density.max(axis=1))


def indoor_herd(params: NDArray[np.void], worms_kg: float, cocoons: Floats, goal_kg: float,
                days: int) -> Floats:  # fmt: skip
    """Live worms ``[M, days]`` of a boxed herd at 18 degC that starts with ``cocoons`` ``[M]``.

    The box has the room that ``goal_kg`` will want and is fed weekly, by the herd it then holds
    (grown by at most a tenth a week) up to that of ``goal_kg``.
    """
    area = max(goal_kg / _WORMS_KG_M2, 0.02)
    bed = Bed.model_validate({
        "id": "lifeboat", "length_m": max(0.2, area**0.5), "width_m": max(0.1, area**0.5),
        "depth_m": 0.3, "place": "indoors", "started": "2000-01-01",
        "walls": [{"material": "plywood", "thickness_m": 0.012}],
    })  # fmt: skip
    area = bed.area_m2
    members = len(params)
    table = load()
    card = [(table["bed_leaf_mold"], 40.0 * area, 0.75),
            (table["bed_egg_carton"], 20.0 * area, 0.75)]  # fmt: skip
    acts = [plan.add_material(0, 0, card, temp_c=INDOOR_C, feed=False), plan.stock(0, 0, worms_kg)]
    acts += _weekly_meals(worms_kg, goal_kg, days)
    hours = days * 24
    air_c = np.full((1, hours), INDOOR_C)
    air = Air(air_c, air_c, vapour_density_kg_m3(air_c, np.full((1, hours), 0.95)), air_c)
    geometry = bed_geometry(bed)
    start = simulate(geometry, params, empty_state(members, 1, cell_count(bed)), air,
                     plan.in_order(acts[:2]), hours=1)  # fmt: skip
    start.state.herd.cocoon_n[:, 0, :] += cocoons[:, None] / COCOON_STEPS
    run = simulate(geometry, params, start.state, air, plan.in_order(acts[2:]), hours=hours,
                   every=24)  # fmt: skip
    return np.asarray(run.series("worms_kg")[:, :, 0])


def _weekly_meals(worms_kg: float, goal_kg: float, days: int) -> list[Floats]:
    acts = []
    for week in range(days // 7 + 1):
        eaters = min(goal_kg, worms_kg * 1.15**week)
        mass = _FEED_PER_WORM_WEEK * eaters
        parts = [(load()["food_mixed_kitchen"], mass, None),
                 (load()["bed_corrugated"], 0.1 * mass, None)]  # fmt: skip
        acts.append(plan.add_material(week * 168, 0, parts, temp_c=INDOOR_C))
        acts.append(plan.give_water(week * 168 + 1, 0, 0.3 * mass, INDOOR_C))
    return acts


def _words(case: Case, threat: Danger, worms_kg: float, castings_l: float, back: dt.date,
           odds: float) -> str:  # fmt: skip
    speech, when = case.speech, on_day(case.day(threat.when))
    likely = capital(odds_words(threat.odds, case.twin.members))
    if threat.event == "cold":
        coming = say("{odds} bring frost where the worms live, first about {day}.", odds=likely,
                     day=when)  # fmt: skip
    else:
        coming = say("{odds} bring harmful heat in the bed, first about {day}.", odds=likely,
                     day=when)  # fmt: skip
    take = say("Take {mass} of worms and {litres} of castings rich in cocoons indoors, fed each"
               " week at about {temp}.", mass=speech.mass(worms_kg),
               litres=speech.litres(castings_l), temp=speech.temp(INDOOR_C))  # fmt: skip
    boxes = odds_words(odds, MEMBERS, message("such boxes"))
    again = say("If the bed were lost, a herd of today's size by {day} is {odds}.",
                day=on_day(back), odds=boxes)  # fmt: skip
    return sentences(coming, take, again)
