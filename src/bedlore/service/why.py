"""The reasons behind today's advice in full: what it rests on, what lost and by what, what would
change it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from bedlore.decide.records import Action, Advice, Effect
from bedlore.decide.words import denominator_for, odds_short
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.log import AnyEntry
from bedlore.outlook.twin import RECENT_D
from bedlore.say import capital, joined, kelvin, say
from bedlore.service.account import (
    action_account,
    advice_account,
    effect_account,
    rests_account,
)
from bedlore.service.belief import LearntStore
from bedlore.service.learn import parameters_account
from bedlore.service.morning import BedMorning, Morning
from bedlore.service.phrases import risks_briefly

Account = dict[str, Any]
_READINGS = ("probe", "air", "squeeze", "look", "core", "moisture", "depth", "dig")
MOST_LEARNT = 6
_LEAST_ODDS, _LEAST_K, _LEAST_KWH, _LEAST_KG = 0.02, 0.25, 0.1, 0.02  # told as a difference


def why_account(morning: Morning, entries: Sequence[AnyEntry], store: LearntStore) -> Account:
    """What ``bedlore why --json`` prints."""
    beds = []
    for told in morning.beds:
        bed = morning.farm.bed(told.bed_id)
        if bed is not None:
            beds.append(_bed(morning, bed, told, entries, store))
    return {
        "farm": morning.farm.name, "made_at": morning.now.isoformat(),
        "time_zone": morning.farm.site.time_zone, "weather": {"note": morning.weather_note},
        "beds": beds,
    }  # fmt: skip


def _bed(morning: Morning, bed: Bed, told: BedMorning, entries: Sequence[AnyEntry],
         store: LearntStore) -> Account:  # fmt: skip
    advice, limits = told.advice, morning.farm.limits_of(bed)
    learnt = store.learnt(bed.id) if told.rests.standing == "learnt" else None
    return {
        **advice_account(advice), "bed": bed.id, "name": bed.name,
        "rests": rests_account(told.rests, morning.farm),
        "data": _data(bed, entries, morning.now),
        "parameters": parameters_account(learnt)[:MOST_LEARNT] if learnt else [],
        "rivals": list(_rivals(advice, limits)),
    }  # fmt: skip


def _data(bed: Bed, entries: Sequence[AnyEntry], now: dt.datetime) -> list[Account]:
    """Readings of the bed in the last weeks: how many of each kind, and the last one."""
    since = now - dt.timedelta(days=RECENT_D)
    mine = [e for e in entries if e.bed == bed.id and since <= e.at <= now and e.kind in _READINGS]
    count: Counter[str] = Counter(entry.kind for entry in mine)
    last: dict[str, dt.datetime] = {}
    for entry in mine:
        last[entry.kind] = max(entry.at, last.get(entry.kind, entry.at))
    return [
        {"kind": kind, "count": count[kind], "at": last[kind].isoformat()}
        for kind in _READINGS if kind in count
    ]  # fmt: skip


def _rivals(advice: Advice, limits: Limits) -> Iterator[Account]:
    """What else was tried whole, with what it does worse and better than the advice."""
    others: list[tuple[Action, Effect]] = list(advice.rivals)
    if advice.action.kind != "nothing" and all(a.kind != "nothing" for a, _ in others):
        others.append((Action("nothing", words=say("Do nothing.")), advice.without))
    for action, effect in others:
        differences = list(_differences(effect, advice.effect, limits, advice.members))
        if advice.action.kind == "nothing" and differences:
            differences.append(say("all in all no better than waiting beyond noise"))
        words = capital(joined(differences, "; ")) if differences else say(
            "It hardly differs; what asks for less work stands."
        )
        yield {"action": action_account(action), "effect": effect_account(effect),
               "words": words}  # fmt: skip


def _differences(rival: Effect, chosen: Effect, limits: Limits, members: int) -> Iterator[str]:
    """Each way in which a rival differs beyond what is noise."""
    for name, risk in risks_briefly(limits).items():
        theirs, ours = getattr(rival.odds, name), getattr(chosen.odds, name)
        if abs(theirs - ours) >= _LEAST_ODDS:
            of = denominator_for([theirs, ours])
            yield say("{risk} in {theirs} instead of {ours}", risk=risk,
                      theirs=odds_short(theirs, members, of), ours=odds_short(ours, members, of))
    cold = rival.coldest_c[1] - chosen.coldest_c[1]
    if abs(cold) >= _LEAST_K:
        how = say("warmer") if cold > 0 else say("colder")
        yield say("{difference} {how} at its coldest", difference=kelvin(abs(cold)), how=how)
    castings = rival.castings_dry_kg - chosen.castings_dry_kg
    if abs(castings) >= _LEAST_KG:
        how = say("more") if castings > 0 else say("less")
        yield say("{mass} g {how} castings", mass=round(abs(castings) * 1000, -1), how=how)
    energy = rival.energy_kwh - chosen.energy_kwh
    if abs(energy) >= _LEAST_KWH:
        how = say("more") if energy > 0 else say("less")
        yield say("{energy} kWh {how}", energy=f"{abs(energy):.1f}", how=how)
