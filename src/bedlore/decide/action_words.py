"""An action as one plain sentence, in the keeper's own words for what is laid on."""

from __future__ import annotations

from collections.abc import Sequence

from bedlore.decide.action_rows import FOAM_M, goes_under
from bedlore.decide.case import Case
from bedlore.decide.records import Action
from bedlore.facts.building import MATERIALS
from bedlore.facts.feedstocks import load
from bedlore.farm.model import StoreItem
from bedlore.say import Said, capital, common_name, joined, say, say_many, thickness

NOTHING = Action("nothing", words=say("Nothing yet. Leave the bed alone."))


def words_of_all(case: Case, actions: Sequence[Action]) -> list[str]:
    """Each of ``actions``, by day, as a sentence that knows what those before it switched."""
    found, mat_on = [], case.mat_on
    for action in actions:
        found.append(words_of(case, action, mat_on=mat_on))
        if action.kind == "mat":
            mat_on = action.material == "on"
    return found


def words_of(case: Case, action: Action, *, mat_on: bool | None = None) -> str:
    """The action as one plain sentence; ``mat_on`` where the mat is not then as it is now."""
    text = _words_of(case, action, case.mat_on if mat_on is None else mat_on)
    if action.kind in ("nothing", "look"):
        return NOTHING.words
    if action.on_day == 0:
        return capital(text)
    if action.on_day == 1:
        return say("Tomorrow: {what}", what=text)
    return say_many("In {count} day: {what}", "In {count} days: {what}", action.on_day, what=text)


def _words_of(case: Case, action: Action, mat_on: bool) -> str:
    """What to do, without when."""
    speech = case.speech
    whole = say("the whole bed")
    where = case.zone_name(case.position(action.zone_id)) if action.zone_id else whole
    match action.kind:
        case "feed":
            parts = _parts(case, action)
            if action.place == "lump":
                return say("feed {where}: {parts}, in one heap, cover back on.", where=where,
                           parts=parts)  # fmt: skip
            return say("feed {where}: {parts}, spread thin, cover back on.", where=where,
                       parts=parts)  # fmt: skip
        case "water":
            amount = speech.amount("water", action.mass_kg)
            return say("sprinkle {amount} of water over {where}.", amount=amount, where=where)
        case "bedding":
            material, mass = action.parts[0]
            return say("lay {amount} of {material} over {where}, loosely.", where=where,
                       amount=speech.amount(material, mass),
                       material=_dry(case, material))  # fmt: skip
        case "cover":
            return say("cover {where} with {thickness} of {material}.", where=where,
                       thickness=speech.thickness(action.thickness_m),
                       material=_dry(case, action.material))  # fmt: skip
        case "uncover":
            return say("take the cover off {where} and let it breathe.", where=where)
        case "insulate":
            board = speech.thickness(action.thickness_m)
            if goes_under(case):
                return say("put {thickness} of foam board all round, under and on top of {where}.",
                           thickness=board, where=where)  # fmt: skip
            return say("put {thickness} of foam board round the walls and on top of {where}.",
                       thickness=board, where=where)  # fmt: skip
        case "mat" if action.setpoint_c is not None and mat_on:
            return say("set the thermostat of the heat mat to {temp}.",
                       temp=speech.setting(action.setpoint_c))  # fmt: skip
        case "mat" if action.material == "on" and action.setpoint_c is not None:
            return say("switch the heat mat on and set its thermostat to {temp}.",
                       temp=speech.setting(action.setpoint_c))  # fmt: skip
        case "mat" if action.material == "on":
            return say("switch the heat mat on.")
        case "mat":
            return say("switch the heat mat off.")
        case "move":
            return say("carry about half of the worms, with what they sit in, from {where} to"
                       " {there}.", where=where,
                       there=case.zone_name(case.position(action.to_zone)))  # fmt: skip
        case _:
            return NOTHING.words


def _parts(case: Case, action: Action) -> str:
    """What is laid on, with its amounts."""
    parts = [
        say("{amount} {material}", amount=case.speech.amount(m, kg), material=item_name(case, m))
        for m, kg in action.parts
    ]
    if len(parts) == 2:
        return say("{one} with {other}", one=parts[0], other=parts[1])
    return joined(parts, " + ")


def _dry(case: Case, material: str) -> str:
    name = item_name(case, material)
    known = load().get(material)
    is_said = name.startswith("dry ") or (known is not None and known.name.startswith("Dry "))
    return name if is_said else say("dry {material}", material=name)


def own_word(store: Sequence[StoreItem], material: str) -> str:
    """The keeper's own word for a material on hand, "" where there is none.

    Of several lots of it the one that may be used, and of those the largest.
    """
    lots = [item for item in store if item.material == material and item.name]
    return max(lots, key=lambda item: (not item.hold, item.mass_kg)).name if lots else ""


def item_name(case: Case, material: str) -> str:
    """What the keeper calls a material."""
    own = own_word(case.store, material)
    if own:
        return own
    known, built = load().get(material), MATERIALS.get(material)
    found = known or built
    return common_name(found.name if found else material.replace("_", " "))


def foam_words(case: Case) -> Said:
    """Foam board as it is put round this bed."""
    board = thickness(FOAM_M)
    if goes_under(case):
        return say("{thickness} of foam board all round, under and on top", thickness=board)
    return say("{thickness} of foam board round the walls and on top", thickness=board)
