"""A what-if as plain data and in words: what would differ, by how much, in how many futures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bedlore.decide.action_rows import FOAM
from bedlore.decide.action_words import own_word
from bedlore.decide.cautions import cautions_for
from bedlore.decide.records import Action, Band
from bedlore.decide.words import odds_short
from bedlore.facts import feedstocks
from bedlore.facts.building import MATERIALS
from bedlore.farm.model import Farm
from bedlore.outlook.ahead import Odds
from bedlore.say import Said, kelvin, listed, mass, say, setting, thickness
from bedlore.service.account import (
    Account,
    ahead_account,
    effect_account,
    limits_account,
    tidy,
    zone_name,
)
from bedlore.service.phrases import risks_briefly
from bedlore.service.what_if import STEP_H, Change, Future, WhatIf

_LEAST_K = 0.25  # a smaller difference of the middle is not worth a figure
_LEAST_MOISTURE = 0.005
_LEAST_KG = 0.05
_LEAST_ODDS = 0.05
_LEAST_KWH = 0.05


def what_if_account(found: WhatIf, farm: Farm) -> Account:
    """What ``bedlore what-if --json`` prints and its page shows."""
    return {
        "farm": farm.name,
        "made_at": found.made_at.isoformat(),
        "time_zone": farm.site.time_zone,
        "bed": found.bed.id,
        "name": found.bed.name,
        "limits": limits_account(farm.limits_of(found.bed)),
        "members": found.members,
        "every_h": STEP_H,
        "change": found.change.model_dump(exclude_none=True),
        "change_words": change_words(found, farm),
        "as_is": _future(found.as_is, farm),
        "with_it": _future(found.with_it, farm),
        "differences": {
            "temp_probe_mean_k": _tidy(found.probe_k),
            "temp_coldest_mean_k": _tidy(found.coldest_mean_k),
            "temp_coldest_k": _tidy(found.coldest_k),
            "temp_warmest_mean_k": _tidy(found.warmest_mean_k),
            "temp_warmest_k": _tidy(found.warmest_k),
            "moisture_change_frac": _tidy(found.moisture_frac),
            "food_left_change_kg": _tidy(found.food_left_kg),
        },
        "difference_words": list(_words(found, farm)),
        "cautions": _cautions(found, farm),
    }  # fmt: skip


def _future(future: Future, farm: Farm) -> Account:
    return {**effect_account(future.effect), **ahead_account(future.outlook, farm, STEP_H)}


def _tidy(band: Band) -> list[float]:
    return [tidy(value) for value in band]


def change_words(found: WhatIf, farm: Farm) -> Said:
    """What would be changed."""
    return listed(list(_changed(found, farm)))


def _changed(found: WhatIf, farm: Farm) -> Iterator[str]:
    change, bed = found.change, found.bed
    if change.feed_kg:
        where = (zone_name(bed, change.zone) if change.zone
                 else say("where the bed is fed now"))  # fmt: skip
        what = own_word(farm.store, change.material)
        what = what or _plain_name(feedstocks.load()[change.material].name)
        yield say("{mass} of {material} fed, {where}", mass=mass(change.feed_kg), material=what,
                  where=where)  # fmt: skip
    if change.cover == "on":
        known = MATERIALS.get(change.cover_material)
        name = _plain_name(known.name if known else change.cover_material.replace("_", " "))
        yield say("{thickness} of {material} as cover", thickness=thickness(change.cover_m),
                  material=name)  # fmt: skip
    if change.cover == "off":
        yield say("the cover off")
    if change.lid != "as it is":
        yield say("the lid on") if change.lid == "on" else say("the lid off")
    if change.foam_walls_m:
        yield say("{thickness} of foam round walls and floor",
                  thickness=thickness(change.foam_walls_m))  # fmt: skip
    if change.foam_lid_m:
        yield say("{thickness} of foam on top", thickness=thickness(change.foam_lid_m))
    if change.mat == "off":
        yield say("the heat mat off")
    elif change.mat == "on" or change.mat_setpoint_c is not None or change.mat_watts is not None:
        yield _mat_words(change, bed)


def _plain_name(name: str) -> str:
    """A name of the book within a sentence, without what it adds in brackets."""
    plain = name.split(" (")[0]
    return plain[0].lower() + plain[1:]


def _mat_words(change: Change, bed: Any) -> Said:
    watts = change.mat_watts or (bed.heat_mat.watts if bed.heat_mat else 0.0)
    at_c = change.mat_setpoint_c
    at_c = at_c if at_c is not None else (bed.heat_mat.setpoint_c if bed.heat_mat else 0.0)
    return say("a heat mat of {watts} W set to {temp}", watts=round(watts), temp=setting(at_c))


def _words(found: WhatIf, farm: Farm) -> Iterator[str]:
    """The differences, what matters most first."""
    yield from _odds_words(found, farm)
    yield say("At the thermometer, on the mean of the fortnight: {difference}.",
              difference=_difference(found.probe_k))  # fmt: skip
    yield say("The coldest place worms live in: on the mean {mean}; at its coldest {worst}.",
              mean=_difference(found.coldest_mean_k), worst=_difference(found.coldest_k))
    yield say("The warmest place worms live in: on the mean {mean}; at its warmest {worst}.",
              mean=_difference(found.warmest_mean_k), worst=_difference(found.warmest_k))
    points = round(abs(found.moisture_frac[1]) * 100.0, 1)
    if abs(found.moisture_frac[1]) < _LEAST_MOISTURE:
        yield say("Water: no difference worth naming.")
    elif found.moisture_frac[1] > 0:
        yield say("Water: about {points} points more in the end.", points=points)
    else:
        yield say("Water: about {points} points less in the end.", points=points)
    food = found.food_left_kg[1]
    if food > _LEAST_KG:
        yield say("Food left in the end: about {mass} more.", mass=mass(food))
    elif food < -_LEAST_KG:
        yield say("Food left in the end: about {mass} less.", mass=mass(-food))
    with_kwh, as_is_kwh = found.with_it.effect.energy_kwh, found.as_is.effect.energy_kwh
    if max(with_kwh, as_is_kwh) > _LEAST_KWH:
        yield say("Heat mat in the fortnight: {with_it} kWh with it, {as_is} kWh as it is.",
                  with_it=round(with_kwh, 1), as_is=round(as_is_kwh, 1))  # fmt: skip


def _odds_words(found: WhatIf, farm: Farm) -> Iterator[str]:
    members, changed = found.members, False
    for name, words in risks_briefly(farm.limits_of(found.bed)).items():
        before, after = (_share(one.effect.odds, name) for one in (found.as_is, found.with_it))
        if abs(before - after) >= _LEAST_ODDS:
            changed = True
            yield say("Odds of {risk}: {with_it} with it, {as_is} as it is.",
                      with_it=odds_short(after, members), as_is=odds_short(before, members),
                      risk=words)  # fmt: skip
    if not changed:
        yield say("The odds against your limits stay much as they are.")


def _share(odds: Odds, name: str) -> float:
    return float(getattr(odds, name))


def _difference(band: Band) -> Said:
    """A difference of temperature, member by member, in words."""
    low, middle, high = band
    most = max(low, high, key=abs)
    if abs(middle) < _LEAST_K:
        if abs(most) < 2 * _LEAST_K:
            return say("no difference worth naming")
        amount = kelvin(abs(most))
        if most > 0:
            return say("none in most futures, up to {amount} warmer in some", amount=amount)
        return say("none in most futures, up to {amount} colder in some", amount=amount)
    amount = kelvin(abs(middle))
    if middle > 0:
        if low < -_LEAST_K:
            return say("about {amount} warmer, though colder in a few futures", amount=amount)
        return say("about {amount} warmer", amount=amount)
    if high > _LEAST_K:
        return say("about {amount} colder, though warmer in a few futures", amount=amount)
    return say("about {amount} colder", amount=amount)


def _cautions(found: WhatIf, farm: Farm) -> list[str]:
    """The usual cautions of everything that would be done, people first."""
    change = found.change
    actions = []
    if change.feed_kg:
        actions.append(Action("feed", parts=((change.material, change.feed_kg),)))
    if change.cover == "on":
        actions.append(Action("cover", material=change.cover_material))
    if change.cover == "off" or change.lid == "off":
        actions.append(Action("uncover"))
    if change.foam_walls_m or change.foam_lid_m:
        actions.append(Action("insulate", material=FOAM))
    if change.mat == "on" or change.mat_watts is not None:
        actions.append(Action("mat", material="on"))
    odds = found.as_is.effect.odds
    said = [line for action in actions
            for line in cautions_for(action, farm.store, cold=odds.cold > 0.0,
                                     hot=odds.hot > 0.0)]  # fmt: skip
    return list(dict.fromkeys(said))
