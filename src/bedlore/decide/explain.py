"""Says the advice: what to do, why, how sure, what would change it, what it costs to ignore."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bedlore.decide.case import Case
from bedlore.decide.cautions import cautions_for
from bedlore.decide.hold import Measure
from bedlore.decide.meals import Table
from bedlore.decide.records import Action, Advice, Effect, Reason
from bedlore.decide.score import Score
from bedlore.decide.words import denominator_for, odds_short, odds_words
from bedlore.farm.log import Probe, Squeeze

# What a handful does when squeezed, by moisture (assumed; damp sponge 70-85 %, from memory).
SQUEEZE_WORDS = ((0.60, "crumbly"), (0.75, "damp"), (0.85, "drops"), (1.01, "runs"))
PROBE_HOLDS_D = 5


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
        would_change=tuple(_would_change(case, food, found)),
        cost_of_ignoring=_cost(case, found),
        cautions=cautions_for(found.action, cold=cold, hot=hot),
        expect=expect(case, food),
        cause_of_change=found.cause,
        members=case.twin.members,
        would_help=tuple(_would_help(case, found)),
        ahead_words=_ahead(food, found),
        inputs=found.inputs,
    )


def _headline(case: Case, found: Findings, cold: bool, hot: bool) -> str:
    text = found.action.words
    if found.action.kind != "nothing" and found.action.on_day > 0:
        text = f"Nothing today. {text}"
    feed = next((m for m in found.measures if m.name == "feed"), None)
    if cold and feed is not None and not feed.holds:
        limit = case.speech.temp(case.limits.cold_c)
        text += f" Feed alone cannot hold this bed above {limit}."
    if hot and feed is not None and feed.shift_k < 0.0:
        text += " More feed would heat the bed further."
    return text


# --- Reasons -----------------------------------------------------------------------------------


def _reasons(case: Case, food: Sequence[Table], found: Findings) -> list[Reason]:
    eating, warmth = _food_reasons(case, food, found), _warmth_reasons(case, found)
    about_food = found.action.kind in ("feed", "nothing", "look") and not _threatened(found)
    # What it gains first, then what it is about: the terminal shows only the first few.
    reasons = _gain_reason(case, found)
    reasons += [*eating, *warmth] if about_food else [*warmth, *eating]
    squeeze = next((e for e in reversed(case.entries) if isinstance(e, Squeeze)), None)
    if found.action.kind in ("water", "bedding") and squeeze is not None:
        day = f"{squeeze.at.day} {squeeze.at:%b}"
        reasons.append(Reason(f"Squeezed on {day}: {squeeze.word}.", "measured", "your log"))
    if found.action.kind in ("water", "bedding"):
        now = case.twin.recent.series("moisture_frac")[:, -1][:, list(case.living)]
        low, high = np.quantile(now, (0.05, 0.95))
        reasons.append(
            Reason(f"The bed holds {low:.0%} to {high:.0%} water.", "worked out", "the bed's twin")
        )
    return reasons


def _threatened(found: Findings) -> bool:
    """Whether cold or heat is likelier than not when nothing is done."""
    return max(found.without.odds.cold, found.without.odds.hot) > 0.5


def _food_reasons(case: Case, food: Sequence[Table], found: Findings) -> list[Reason]:
    said: list[Reason] = []
    mine = [t for t in food if case.twin.zone_ids[t.position] == found.action.zone_id] or list(food)
    for table in mine[:2]:
        name = case.zone_name(table.position)
        if table.measured and table.look_at is not None:
            day = f"{table.look_at.day} {table.look_at:%b}"
            text = f"You found {table.left} of the food left in {name} on {day}."
            said.append(Reason(text, "measured", "your log"))
        else:
            mid = float(np.median(case.uneaten_kg[:, table.position]))
            text = f"About {case.speech.mass(mid)} of soft food lies uneaten in {name}."
            said.append(Reason(text, "worked out", "the bed's twin and your feeds"))
        source = (
            "public sheet, issuer not shown" if "quart" in table.why or "weeks" in table.why
            else "our rule: no more than 1.5 times what went last time"
        )  # fmt: skip
        if found.action.kind == "feed" or table.cap_kg <= 0.0:
            most = case.speech.mass(table.cap_kg)
            ceiling = "nothing" if table.cap_kg <= 0.0 else f"at most {most}"
            said.append(Reason(f"{name}: {ceiling} now, since {table.why}.", "worked out", source))
    return said


def _warmth_reasons(case: Case, found: Findings) -> list[Reason]:
    air = case.air.air_c[:, : case.hours]
    low, high = np.median(air.min(axis=1)), np.median(air.max(axis=1))
    text = (
        f"The air around the bed is expected between {case.speech.temp(float(low))} and"
        f" {case.speech.temp(float(high))} in the fortnight ahead."
    )
    said = [Reason(text, "worked out", "weather ahead")]
    probe = next((e for e in reversed(case.entries) if isinstance(e, Probe)), None)
    if probe is not None and (case.now - probe.at).days <= PROBE_HOLDS_D:
        day = f"{probe.at.day} {probe.at:%b}"
        text = f"Your thermometer read {case.speech.temp(probe.temp_c)} on {day}."
        said.append(Reason(text, "measured", "your log"))
    without = found.without
    text = f"coldest living place goes down to {case.speech.temps(without.coldest_c)}"
    if without.odds.hot > without.odds.cold:
        text = f"warmest living place goes up to {case.speech.temps(without.warmest_c)}"
    said.append(Reason(f"With nothing done its {text}.", "worked out", "the bed's twin"))
    return said


_GAINS = {
    "cold_kd": "less cold where the worms live", "heat_kd": "less heat where the worms live",
    "cold_risk": "lower odds of passing the cold limit",
    "heat_risk": "lower odds of passing the heat limit",
    "sour_risk": "lower odds of turning sour", "sour_days": "less sourness",
    "dry": "less drying out", "wet": "less wetness", "ammonia": "less ammonia",
    "hunger": "fewer days short of food", "herd_lost": "more worms alive",
    "turned": "food turned into castings",
    "overfed": "less uneaten food", "energy": "less power",
}  # fmt: skip


def _gain_reason(case: Case, found: Findings) -> list[Reason]:
    """What the action gains most against doing nothing, or why nothing is best."""
    if found.action.kind == "nothing":
        text = "Nothing that can be done with what is on hand beats waiting beyond noise."
        return [Reason(text, "worked out", f"{case.twin.members} futures of this bed")]
    gains = {n: found.without_score.term(n) - found.score.term(n) for n in _GAINS}
    best = [n for n, gain in sorted(gains.items(), key=lambda kv: -kv[1])[:2] if gain > 0.05]
    if not best:
        return []
    text = f"Against doing nothing it brings {' and '.join(_GAINS[n] for n in best)}."
    return [Reason(text, "worked out", f"{case.twin.members} futures of this bed")]


# --- Odds, cost, change --------------------------------------------------------------------------


def _risks(case: Case, effect: Effect) -> list[tuple[str, float]]:
    say, limits = case.speech, case.limits
    return [
        (f"the coldest living place below {say.temp(limits.cold_c)}", effect.odds.cold),
        (f"the warmest living place above {say.temp(limits.hot_c)}", effect.odds.hot),
        ("a sour bed", effect.odds.sour),
    ]


def _cost(case: Case, found: Findings) -> str:
    """What happens when the advice is left alone."""
    name, p = max(_risks(case, found.without), key=lambda risk: risk[1])
    said = odds_words(p, case.twin.members)
    text = f"With nothing done, {name}: {said}."
    if "sour" not in name and p > 0.0:
        text += (
            " Below it worms slow down and stop laying; frost in the bed costs worms, while cocoons"
            " may live."
            if "cold" in name else " Above it worms flee or die within days."
        )  # fmt: skip
    hungry = found.without_score.term("hunger")
    if hungry > 0.5:
        text += f" The worms would be short of food for about {hungry:.0f} of the 14 days."
    if found.action.kind == "nothing":
        idle = "Nothing on hand changes this." if _threatened(found) else "Waiting costs little."
        text = f"{idle} {text}"
    return text


def _would_change(case: Case, food: Sequence[Table], found: Findings) -> list[str]:
    said: list[str] = []
    if found.action.kind == "feed":
        said.append("A look that finds lots of food left: then nothing yet.")
    elif any(t.left == "lots" for t in food):
        said.append("A look that finds none or only some of the food left: then a small meal.")
    elif any(t.cap_kg <= 0.0 for t in food) or found.action.kind == "nothing":
        said.append("A look at the food left: none speaks for a meal, lots against it.")
    said += _weather_hinge(case, found)
    mid = float(np.median(case.twin.recent.series("temp_probe_c")[:, -1][:, list(case.living)]))
    said.append(
        f"A thermometer far from {case.speech.temp(mid)} at hand's depth: then the twin is off;"
        " log the reading and ask again."
    )
    return said


def _weather_hinge(case: Case, found: Findings) -> list[str]:
    """The coming air that parts the futures that pass a limit from those that do not."""
    for key, word in (("cold", "falls below"), ("hot", "rises above")):
        crossed = found.score.crossed[key]
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
        return [
            f"The weather: where the air {word} {temp}, the limit is passed in"
            f" {odds_short(float(inside), case.twin.members)} futures, else in"
            f" {odds_short(float(outside), case.twin.members)}."
        ]
    return []


def _would_help(case: Case, found: Findings) -> list[str]:
    """Each what-if in one sentence: whether it would help, and by how much."""
    limit = "cold" if found.without.odds.cold >= found.without.odds.hot else "hot"
    said = []
    for measure in found.measures:
        odds, bare = (getattr(e.odds, limit) for e in (measure.effect, measure.bare))
        m = measure.effect.odds.members
        base = denominator_for((odds, bare))
        change = f"{odds_short(odds, m, base)} instead of {odds_short(bare, m, base)}"
        said.append(f"{_MEASURES[measure.name]}: {_verdict(case, measure, limit)} (odds {change}).")
    return said


_MEASURES = {
    "feed": "A double week's ration over the whole bed",
    "cover": "10 cm of dry straw on top",
    "foam": "5 cm of foam board all round, under and on top",
    "foam and feed": "Foam board and a double week's ration",
    "mat": "The heat mat on",
    "uncover": "The cover off",
    "water": "The cover off and a sprinkling of water",
}


def _verdict(case: Case, measure: Measure, limit: str) -> str:
    if measure.shift_k < -0.25:
        return f"would make it worse by {case.speech.kelvin(measure.shift_k)}"
    if not measure.helps:
        return "would not help"
    side = "warmer" if limit == "cold" else "cooler"
    held = "and would hold the limit" if measure.holds else "but would not hold the limit"
    if measure.mean_k > measure.shift_k:
        by = f"{case.speech.kelvin(measure.mean_k)} {side} on the mean"
    else:
        by = f"{case.speech.kelvin(measure.shift_k)} {side} at its worst"
    return f"would keep it about {by} {held}"


def _ahead(food: Sequence[Table], found: Findings) -> str:
    """What the week brings after today."""
    if found.action.kind == "feed":
        return "Look at the food again in three or four days before you feed the next time."
    if any(t.cap_kg <= 0.0 for t in food):
        return "Look at the food again in three days."
    return "Look in again within the week."


def expect(case: Case, food: Sequence[Table]) -> str:
    """What the keeper should find when digging today."""
    if not case.living:
        return "The bed is empty."
    z = food[0].position if food else case.living[0]
    recent = case.twin.recent
    temp = np.quantile(recent.series("temp_probe_c")[:, -1, z], (0.05, 0.5, 0.95))
    moisture = float(np.median(recent.series("moisture_frac")[:, -1, z]))
    word = next(word for limit, word in SQUEEZE_WORDS if moisture < limit)
    left = food[0].left if food else "some"
    low, mid, high = (float(t) for t in temp)
    return (
        f"In {case.zone_name(z)}: {case.speech.temps((low, mid, high))} at"
        f" {case.speech.thickness(0.10)} depth, a handful that says {word} when squeezed, and"
        f" {left} of the last food left."
    )
