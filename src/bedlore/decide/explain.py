"""Says the advice: what to do, why, how sure, what would change it, what it costs to ignore."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bedlore.decide.action_words import foam_words
from bedlore.decide.case import Case
from bedlore.decide.cautions import cautions_for
from bedlore.decide.hold import Measure, straw_words
from bedlore.decide.meals import Table, bad_smell, tables
from bedlore.decide.records import Action, Advice, Effect, Reason
from bedlore.decide.score import Score
from bedlore.decide.words import odds_short, odds_words
from bedlore.farm.log import Probe, Squeeze
from bedlore.learn.herd import LOST_IN_MOST
from bedlore.say import (
    Said,
    limit_temp,
    listed,
    message,
    on_day,
    say,
    say_many,
    sentences,
    whole,
)

# What a handful does when squeezed, by moisture (assumed; damp sponge 70-85 %, from memory).
SQUEEZE_WORDS = (
    (0.60, message("crumbly")), (0.75, message("damp")), (0.85, message("drops")),
    (1.01, message("runs")),
)  # fmt: skip
PROBE_HOLDS_D = 5
HARDLY_KG = 0.015  # half an ounce: nothing that anybody would see (assumed)


@dataclass(frozen=True)
class Findings:
    """What the search came to, before it is said."""

    action: Action
    score: Score
    effect: Effect
    without: Effect
    without_score: Score
    rivals: tuple[tuple[Action, Effect], ...]
    measures: tuple[Measure, ...]
    cause: str
    inputs: tuple[tuple[str, str], ...]


def explain(case: Case, food: Sequence[Table], found: Findings) -> Advice:
    """The advice with its reasons and odds."""
    cold = found.without_score.over_risk["cold_risk"] > 0.0
    hot = found.without_score.over_risk["heat_risk"] > 0.0 and not cold
    return Advice(
        bed_id=case.twin.bed.id,
        made_at=case.now,
        action=found.action,
        headline=_headline(case, found, cold, hot),
        reasons=tuple(_reasons(case, food, found)),
        effect=found.effect,
        without=found.without,
        rivals=found.rivals,
        would_change=tuple(would_change(case, food, found.action.kind, found.score)),
        cost_of_ignoring=cost_of_ignoring(case, found.without, found.without_score,
                                          acting=found.action.kind != "nothing"),
        cautions=cautions_for(found.action, case.store, cold=cold, hot=hot),
        expect=expect(case, food),
        cause_of_change=found.cause,
        members=case.twin.members,
        would_help=tuple(_would_help(case, found)),
        ahead_words=_ahead(case, food, found),
        inputs=found.inputs,
    )


def _headline(case: Case, found: Findings, cold: bool, hot: bool) -> str:
    said: list[str] = [found.action.words]
    if found.action.kind != "nothing" and found.action.on_day > 0:
        said.insert(0, say("Nothing today."))
    if found.action.kind == "insulate":
        said.append(say("It is not among what is on hand."))
    feed = next((m for m in found.measures if m.name == "feed"), None)
    if cold and feed is not None and not feed.holds:
        limit = limit_temp(case.limits.cold_c)
        said.append(say("Feed alone cannot hold this bed above {limit}.", limit=limit))
    if hot and feed is not None and feed.shift_k < 0.0:
        said.append(say("More feed would heat the bed further."))
    return sentences(*said, look_first(case))


def look_first(case: Case) -> Said | str:
    """That worms are to be looked for before any work, where by the log hardly one is left."""
    if case.lost_share <= LOST_IN_MOST:
        return ""
    return say("By the log hardly a worm is left in it: look for worms before anything else.")


def _lost_reason(case: Case) -> list[Reason]:
    if case.lost_share <= LOST_IN_MOST:
        return []
    text = say("By the log no worms are left, or next to none: {odds}.",
               odds=odds_words(case.lost_share, case.twin.members,
                               message("beds like this one")))  # fmt: skip
    return [Reason(text, "worked out", say("the bed's twin"))]


# --- Reasons -----------------------------------------------------------------------------------


def _reasons(case: Case, food: Sequence[Table], found: Findings) -> list[Reason]:
    eating, warmth = _food_reasons(case, food, found), _warmth_reasons(case, found)
    threatened = _threatened(found.without)
    about_food = found.action.kind in ("feed", "nothing", "look") and not threatened
    # What it gains first, then what it is about: the terminal shows only the first few.
    reasons = _lost_reason(case) + _gain_reason(case, found)
    reasons += [*eating, *warmth] if about_food else [*warmth, *eating]
    squeeze = next((e for e in reversed(case.entries) if isinstance(e, Squeeze)), None)
    if found.action.kind in ("water", "bedding") and squeeze is not None:
        text = say("Squeezed on {day}: {word}.", day=on_day(case.day(squeeze.at)),
                   word=say(squeeze.word))  # fmt: skip
        reasons.append(Reason(text, "measured", say("your log")))
    if found.action.kind in ("water", "bedding"):
        now = case.twin.recent.series("moisture_frac")[:, -1][:, list(case.living)]
        low, high = np.quantile(now, (0.05, 0.95))
        text = say("The bed holds {low}% to {high}% water.", low=whole(100.0 * low),
                   high=whole(100.0 * high))  # fmt: skip
        reasons.append(Reason(text, "worked out", say("the bed's twin")))
    return reasons


def _threatened(without: Effect) -> bool:
    """Whether cold or heat is likelier than not when nothing is done."""
    return max(without.odds.cold, without.odds.hot) > 0.5


def _food_reasons(case: Case, food: Sequence[Table], found: Findings) -> list[Reason]:
    said: list[Reason] = []
    mine = [t for t in food if case.twin.zone_ids[t.position] == found.action.zone_id] or list(food)
    for table in mine[:2]:
        name = case.zone_name(table.position)
        if table.measured and table.look_at is not None:
            text = say(_FOUND[table.left], zone=name, day=on_day(case.day(table.look_at)))
            said.append(Reason(text, "measured", say("your log")))
        else:
            kg = float(np.median(case.uneaten_kg[:, table.position]))
            text = (
                say("Hardly any soft food lies uneaten in {zone}.", zone=name) if kg < HARDLY_KG
                else say("About {mass} of soft food lies uneaten in {zone}.",
                         mass=case.speech.mass(kg), zone=name)
            )  # fmt: skip
            said.append(Reason(text, "worked out", say("the bed's twin and your feeds")))
        if found.action.kind == "feed" or table.cap_kg <= 0.0:
            most = case.speech.mass(table.cap_kg)
            text = (
                say("{zone}: nothing now, since {why}.", zone=name, why=table.why)
                if table.cap_kg <= 0.0
                else say("{zone}: at most {most} now, since {why}.", zone=name, most=most,
                         why=table.why)
            )  # fmt: skip
            said.append(Reason(text, "measured" if table.rule == "log" else "worked out",
                               _SOURCES[table.rule]))  # fmt: skip
    return said


_FOUND = {
    "none": message("You found none of the food left in {zone} on {day}."),
    "some": message("You found some of the food left in {zone} on {day}."),
    "lots": message("You found lots of the food left in {zone} on {day}."),
}  # fmt: skip
_SOURCES = {
    "sheet": say("public sheet, issuer not shown"),
    "ours": say("our rule: no more than 1.5 times what went last time"),
    "log": say("your log"),
}


def _warmth_reasons(case: Case, found: Findings) -> list[Reason]:
    air, speech = case.air.air_c[:, : case.hours], case.speech
    low, high = float(np.median(air.min(axis=1))), float(np.median(air.max(axis=1)))
    text = say("The air around the bed is expected between {low} and {high} in the fortnight"
               " ahead.", low=speech.temp(low), high=speech.temp(high))  # fmt: skip
    said = [Reason(text, "worked out", say("weather ahead"))]
    probe = next((e for e in reversed(case.entries) if isinstance(e, Probe)), None)
    if probe is not None and (case.now - probe.at).days <= PROBE_HOLDS_D:
        text = say("Your thermometer read {temp} on {day}.", temp=speech.temp(probe.temp_c),
                   day=on_day(case.day(probe.at)))  # fmt: skip
        said.append(Reason(text, "measured", say("your log")))
    without = found.without
    if without.odds.hot > without.odds.cold:
        text = say("With nothing done its warmest living place goes up to {temps}.",
                   temps=speech.temps(without.warmest_c))  # fmt: skip
    else:
        text = say("With nothing done its coldest living place goes down to {temps}.",
                   temps=speech.temps(without.coldest_c))  # fmt: skip
    said.append(Reason(text, "worked out", say("the bed's twin")))
    return said


_GAINS = {
    "cold_kd": message("less cold where the worms live"),
    "heat_kd": message("less heat where the worms live"),
    "cold_risk": message("lower odds of passing the cold limit"),
    "heat_risk": message("lower odds of passing the heat limit"),
    "sour_risk": message("lower odds of turning sour"), "sour_days": message("less sourness"),
    "dry": message("less drying out"), "wet": message("less wetness"),
    "ammonia": message("less ammonia"),
    "hunger": message("fewer days short of food"), "herd_lost": message("more worms alive"),
    "turned": message("food turned into castings"),
    "overfed": message("less uneaten food"), "energy": message("less power"),
}  # fmt: skip


def futures_words(members: int) -> Said:
    """What a reason rests on that compares an action with doing nothing."""
    return say_many("{count} future of this bed", "{count} futures of this bed", members)


def _gain_reason(case: Case, found: Findings) -> list[Reason]:
    """What the action gains most against doing nothing, or why nothing is best."""
    futures = futures_words(case.twin.members)
    if found.action.kind == "nothing":
        text = say("Nothing that can be done with what is on hand beats waiting beyond noise.")
        return [Reason(text, "worked out", futures)]
    gains = {n: found.without_score.term(n) - found.score.term(n) for n in _GAINS}
    best = [n for n, gain in sorted(gains.items(), key=lambda kv: -kv[1])[:2] if gain > 0.05]
    if not best:
        return []
    text = say("Against doing nothing it brings {gains}.",
               gains=listed([say(_GAINS[n]) for n in best]))  # fmt: skip
    return [Reason(text, "worked out", futures)]


# --- Odds, cost, change --------------------------------------------------------------------------


Risk = Literal["cold", "hot", "sour"]


def _risk_words(case: Case, risk: Risk) -> Said:
    limits = case.limits
    match risk:
        case "cold":
            return say("the coldest living place below {limit}", limit=limit_temp(limits.cold_c))
        case "hot":
            return say("the warmest living place above {limit}", limit=limit_temp(limits.hot_c))
        case _:
            return say("a sour bed")


def cost_of_ignoring(case: Case, without: Effect, score: Score, *, acting: bool) -> str:
    """What happens when the advice is left alone; ``score`` is that of doing nothing, and
    ``acting`` whether there is anything to leave."""
    odds = without.odds
    shares: dict[Risk, float] = {"cold": odds.cold, "hot": odds.hot, "sour": odds.sour}
    risk = max(shares, key=shares.__getitem__)
    said = [say("With nothing done, {risk}: {odds}.", risk=_risk_words(case, risk),
                odds=odds_words(shares[risk], odds.members))]  # fmt: skip
    if risk == "cold" and shares[risk] > 0.0:
        said.append(say("Below it worms slow down and stop laying; frost in the bed costs worms,"
                        " while cocoons may live."))  # fmt: skip
    if risk == "hot" and shares[risk] > 0.0:
        said.append(say("Above it worms flee or die within days."))
    hungry = score.term("hunger")
    if hungry > 0.5 and not _found_lots(case):
        said.append(say("The worms would be short of food for about {days} of the 14 days.",
                        days=whole(hungry)))  # fmt: skip
    if not acting:
        said.insert(0, say("Nothing on hand changes this.") if _threatened(without)
                    else say("Waiting costs little."))  # fmt: skip
        if _threatened(without) and risk in SHELTERED:
            said.insert(1, say(SHELTERED[risk]))
    return sentences(*said)


def _found_lots(case: Case) -> bool:
    """Whether a look found lots of food left: the keeper's eye counts for more than the model's
    hungry days."""
    return any(table.measured and table.left == "lots" for table in tables(case))


# Where to look when nothing on hand helps: shelter tries what a plan does not.
SHELTERED: Mapping[str, str] = {
    "cold": message("Straw, leaves, foam or a warmer room may help: see shelter."),
    "hot": message("Shade, ice or a cooler room may help: see shelter."),
}


def would_change(case: Case, food: Sequence[Table], kind: str, score: Score) -> list[str]:
    """What would change advice of this ``kind`` ("feed" where any part of it is); ``score`` is its
    future's, on the members and the weather of ``case``."""
    said: list[str] = []
    if kind == "feed":
        said.append(say("A look that finds lots of food left: then nothing yet."))
    elif bad_smell(case) is not None:
        said.append(say("A look that smells of earth again: then a small meal."))
    elif any(t.left == "lots" for t in food):
        said.append(say("A look that finds none or only some of the food left: then a small"
                        " meal."))  # fmt: skip
    elif any(t.cap_kg <= 0.0 for t in food) or kind == "nothing":
        said.append(say("A look at the food left: none speaks for a meal, lots against"
                        " it."))  # fmt: skip
    said += _weather_hinge(case, score)
    mid = float(np.median(case.twin.recent.series("temp_probe_c")[:, -1][:, list(case.living)]))
    said.append(say("A thermometer far from {temp} at hand's depth: then the twin is off; log the"
                    " reading and ask again.", temp=case.speech.temp(mid)))  # fmt: skip
    return said


def _weather_hinge(case: Case, score: Score) -> list[str]:
    """The coming air that parts the futures that pass a limit from those that do not."""
    for key, text in _HINGES:
        crossed = score.crossed[key]
        if not 0.05 < crossed.mean() < 0.95:
            continue
        air = case.air.air_c[:, : case.hours]
        air = air[np.arange(len(crossed)) % len(air)]
        extreme = air.min(axis=1) if key == "cold" else -air.max(axis=1)
        hinge = float(np.quantile(extreme, crossed.mean()))
        inside = crossed[extreme <= hinge].mean()
        outside = crossed[extreme > hinge].mean() if (extreme > hinge).any() else inside
        if inside - outside < 0.3:
            continue
        temp = case.speech.temp(hinge if key == "cold" else -hinge)
        return [say(text, temp=temp, inside=odds_short(float(inside), len(crossed)),
                    outside=odds_short(float(outside), len(crossed)))]  # fmt: skip
    return []


_HINGES = (
    ("cold", message("The weather: where the air falls below {temp}, the limit is passed in"
                     " {inside} futures, else in {outside}.")),
    ("hot", message("The weather: where the air rises above {temp}, the limit is passed in"
                    " {inside} futures, else in {outside}.")),
)  # fmt: skip


def _would_help(case: Case, found: Findings) -> list[str]:
    """Each what-if in one sentence: whether it would help, and by how much."""
    limit = "cold" if found.without.odds.cold >= found.without.odds.hot else "hot"
    said: list[str] = []
    if case.mat_on and any(measure.name == "foam" for measure in found.measures):
        said.append(say("The heat mat is on already."))
    for measure in sorted(found.measures, key=lambda m: not m.helps):  # what helps comes first
        passed, bare = (round(getattr(e.odds, limit) * e.odds.members)
                        for e in (measure.effect, measure.bare))  # fmt: skip
        said.append(say("{measure}: {verdict} (the limit passed in {passed} of {tried} futures"
                        " tried, in {bare} with nothing done).",
                        measure=_measure_words(case, measure),
                        verdict=_verdict(case, measure, limit), passed=passed, bare=bare,
                        tried=measure.effect.odds.members))  # fmt: skip
    return said


_MEASURES = {
    "feed": message("A double week's ration over the whole bed"),
    "foam and feed": message("Foam board and a double week's ration"),
    "mat": message("The heat mat on"),
    "uncover": message("The cover off"),
    "water": message("The cover off and a sprinkling of water"),
}


def _measure_words(case: Case, measure: Measure) -> Said:
    if measure.name == "cover":
        return straw_words()
    if measure.name == "foam":
        return foam_words(case)
    if measure.name == "mat" and measure.action.setpoint_c is not None:
        return say("The mat's thermostat at {temp}",
                   temp=case.speech.setting(measure.action.setpoint_c))  # fmt: skip
    return say(_MEASURES[measure.name])


def _verdict(case: Case, measure: Measure, limit: str) -> Said:
    if measure.shift_k < -0.25 and limit == "cold" and measure.name == "feed":
        return say("would draw worms to where it is {kelvin} colder",
                   kelvin=case.speech.kelvin(measure.shift_k))  # fmt: skip
    if measure.shift_k < -0.25:
        return say("would make it worse by {kelvin}", kelvin=case.speech.kelvin(measure.shift_k))
    if not measure.helps:
        return say("would not help")
    on_mean = measure.mean_k > measure.shift_k
    kelvin = case.speech.kelvin(measure.mean_k if on_mean else measure.shift_k)
    by = say(_BY[limit == "cold", on_mean], kelvin=kelvin)
    if measure.holds:
        return say("would keep it {by} and would hold the limit", by=by)
    return say("would keep it {by} but would not hold the limit", by=by)


_BY = {  # against cold or not, on the mean or at the worst
    (True, True): message("{kelvin} warmer on the mean"),
    (True, False): message("{kelvin} warmer at its worst"),
    (False, True): message("{kelvin} cooler on the mean"),
    (False, False): message("{kelvin} cooler at its worst"),
}


def _ahead(case: Case, food: Sequence[Table], found: Findings) -> str:
    """What the week brings after today."""
    if found.action.kind == "feed":
        return say("Look at the food again in three or four days before you feed the next time.")
    if bad_smell(case) is not None:
        return say("What smells sour or sharp wants air and no food: loosen it, lay dry card over"
                   " it, look again in three days. First aid asks for the cause.")  # fmt: skip
    if any(t.cap_kg <= 0.0 for t in food):
        return say("Look at the food again in three days.")
    return say("Look in again within the week.")


def expect(case: Case, food: Sequence[Table]) -> str:
    """What the keeper should find when digging today."""
    if not case.living:
        return say("The bed is empty.")
    z = food[0].position if food else case.living[0]
    temp = np.quantile(case.twin.recent.series("temp_probe_c")[:, -1, z], (0.05, 0.5, 0.95))
    low, mid, high = (float(t) for t in temp)
    fed = bool(food) and (food[0].meal is not None or food[0].measured)
    return say(_EXPECT[food[0].left] if fed else _EXPECT_UNFED, zone=case.zone_name(z),
               temps=case.speech.temps((low, mid, high)), depth=case.speech.thickness(0.10),
               handful=_handful(case, z, mid))  # fmt: skip


def _handful(case: Case, z: int, temp_c: float) -> Said:
    """What a handful of a zone is like at ``temp_c``."""
    if temp_c < 0.0:
        return say("frozen hard")
    moisture = float(np.median(case.twin.recent.series("moisture_frac")[:, -1, z]))
    word = next(word for limit, word in SQUEEZE_WORDS if moisture < limit)
    return say("a handful that says {word} when squeezed", word=say(word))


_EXPECT = {
    "none": message("In {zone}: {temps} at {depth} depth, {handful}, and none of the last food"
                    " left."),
    "some": message("In {zone}: {temps} at {depth} depth, {handful}, and some of the last food"
                    " left."),
    "lots": message("In {zone}: {temps} at {depth} depth, {handful}, and lots of the last food"
                    " left."),
}  # fmt: skip
_EXPECT_UNFED = message("In {zone}: {temps} at {depth} depth, {handful}.")
