"""A quick advice and a fortnight's plan of one bed, written down and not worked out."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.decide.explain import futures_words
from bedlore.decide.plan_records import Plan, ReadingWorth, Rival, Worth
from bedlore.decide.records import Action, Advice, Effect, Reason
from bedlore.outlook.ahead import Odds
from bedlore.say import say

NOW = dt.datetime(2026, 1, 12, 6, tzinfo=dt.UTC)
NOTHING = Action("nothing", words=say("Nothing yet. Leave the bed alone."))


def effect(cold: float, members: int = 500) -> Effect:
    odds = Odds(cold=cold, hot=0.0, sour=0.0, dry=0.0, wet=0.0, members=members)
    return Effect(odds, (2.0, 4.5, 6.0), (6.0, 8.0, 10.0), (0.5, 2.0, 4.0), (0.7, 0.74, 0.8),
                  (0.05, 0.1, 0.2))  # fmt: skip


def fed(mass_kg: float = 1.0, on_day: int = 0, zone: str = "race") -> Action:
    words = f"Feed {zone}: {mass_kg} kg on day {on_day}."
    return Action("feed", zone, (("food_mixed_kitchen", mass_kg),), on_day=on_day, words=words)


COVERED = Action("cover", material="bed_straw_general", thickness_m=0.05, words="Cover the bed.")


def advice_of(action: Action = NOTHING, **more: Any) -> Advice:
    """The quick advice for ``action``, with the gain it has and one fact."""
    reasons = (Reason("The quick act gains a little.", "worked out", futures_words(200)),
               Reason("You found none of the food left.", "measured", "your log"))
    told: dict[str, Any] = {
        "bed_id": "sluice", "made_at": NOW, "action": action, "headline": action.words,
        "reasons": reasons, "effect": effect(0.2, 200), "without": effect(0.3, 200), "rivals": (),
        "would_change": ("A look.",), "cost_of_ignoring": "Waiting costs little.",
        "cautions": ("Wash your hands.",), "expect": "Worms.", "cause_of_change": "",
        "members": 200, "ahead_words": "Look in again within the week.",
    }  # fmt: skip
    return Advice(**{**told, **more})


def plan_of(*actions: Action, **more: Any) -> Plan:
    """A plan of ``actions``, half an hour better than doing nothing."""
    acts = actions or (NOTHING,)
    today = [act.words for act in acts if act.on_day == 0]
    told: dict[str, Any] = {
        "bed_id": "sluice", "made_at": NOW, "actions": acts,
        "headline": " ".join(today) or f"Nothing today. {acts[0].words}",
        "effect": effect(0.05), "without": effect(0.31), "gain_hours": 0.5, "cost": None,
        "keeps": True, "needs": "",
        "worths": tuple(Worth((act,), 1.0, 0.1, 0.0, 0.0, 0.0, 0.0, 0.2, f"{act.kind} is worth it.")
                        for act in acts if act.kind != "nothing"),
        "readings": (ReadingWorth("look", 0.0, 0.9, "A look would hardly change the plan."),
                     ReadingWorth("count", 0.3, 0.5, "A count would halve the range.")),
        "rivals": (Rival((NOTHING,), 0.5, effect(0.31)),), "tried": 300, "members": 100,
        "fresh": 500, "odds_band": ((0.0, 0.1, 0.2),) * 3, "cautions": ("Dust.",),
        "words": ("It gains half an hour.", "300 plans were tried."),
        "would_change": ("A colder night.",), "cost_of_ignoring": "It gets cold.",
    }  # fmt: skip
    return Plan(**{**told, **more})
