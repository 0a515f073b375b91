"""One bed of the report in words and short tables, ready for the page and the printed sheet."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.decide.words import odds_short
from bedlore.say import capital, message, say
from bedlore.service.phrases import (
    OddsRow,
    band_words,
    basis_words,
    day_words,
    days_of,
    mass_band,
    odds_rows,
    short_day,
)
from bedlore.service.shown import Shown, figures, whole

Told = dict[str, Any]
DOTS = 10
LOW, MID, HIGH = 0, 2, 4  # 5, 50 and 95 % among the quantiles
_BANDS = {"cold": message("Bed cold"), "mild": message("Bed mild"), "warm": message("Bed warm")}
_LEFT = {"none": message("none"), "some": message("some"), "lots": message("lots")}
_URGENCY = {"due": message("due"), "can wait": message("can wait")}


def leaf_of(bed: Told, shown: Shown, time_zone: str) -> Told:
    """Everything of ``bed`` but its pictures, as strings and rows of strings."""
    told, advice, urgency = shown.sentence, bed["advice"], bed["urgency"]
    acting = advice["action"]["kind"] != "nothing"
    odds = odds_rows(advice, bed["limits"], shown)
    return {
        "id": bed["bed"], "name": bed["name"], "mark": bed["mark"], "shape": bed["mark_shape"],
        "urgency": say(_URGENCY[urgency]), "due": urgency == "due", "acting": acting,
        "headline": told(advice["headline"]),
        "cause_of_change": told(advice["cause_of_change"]),
        "lead_words": told(advice["lead_words"]),
        "planned": [told(act["words"]) for act in advice["planned"]],
        "reasons": [{**r, "text": capital(told(r["text"])), "source": told(r["source"]),
                     "basis": basis_words(r["basis"])}
                    for r in advice["reasons"]],
        "odds": [_odds_row(row) for row in odds.rows], "odds_rest": odds.rest,
        "members": advice["members"],
        "cost_of_ignoring": told(advice["cost_of_ignoring"]),
        "expect": told(advice["expect"]),
        "ahead_words": told(advice["ahead_words"]),
        "would_change": [told(line) for line in advice["would_change"]],
        "would_help": [told(line) for line in advice["would_help"]],
        "early": early_lines(bed["early"], shown),
        "cautions": [told(line) for line in advice["cautions"]],
        "dates_ahead": [told(line) for line in bed["dates_ahead"]],
        "notes": [told(line) for line in (bed["rests"]["words"], *bed["notes"])],
        "now": now_facts(bed["now"], shown),
        "rivals": rivals_table(advice, shown),
        "card": card_table(bed["card"], shown),
        "pantry": pantry_table(bed["pantry"], shown),
        "lifeboat": lifeboat_facts(bed["lifeboat"], shown),
        "harm": [{"title": harm_title(one), "words": told(one["words"])} for one in bed["harm"]],
        "days": days_table(bed["days"], shown, time_zone),
        "outlook_sentence": outlook_sentence(bed["days"], shown, time_zone),
        "extremes_sentence": extremes_sentence(bed["days"], shown, time_zone),
    }  # fmt: skip


def early_lines(early: list[Told], shown: Shown) -> list[Told]:
    """Each early sign with what to do, and the symptom that first aid begins with."""
    return [{"words": shown.sentence(one["words"]), "act": shown.sentence(one["act"]),
             "symptom": one["symptom"], "by_chance": shown.sentence(one["by_chance"])}
            for one in early]  # fmt: skip


def _odds_row(row: OddsRow) -> Told:
    return {
        "risk": row.words, "acted": row.acted_words, "left": row.left_words,
        "acted_dots": dot_count(row.acted), "left_dots": dot_count(row.left),
    }  # fmt: skip


def dot_count(share: float) -> float:
    """How many of ten dots to fill: whole ones, or half of one for a chance below 1 in 20."""
    full = round(share * DOTS)
    return 0.5 if full == 0 and share > 0 else float(full)


def now_facts(now: Told, shown: Shown) -> list[list[str]]:
    """The bed as it is taken to be, as (what, range)."""
    return [
        [say("At the thermometer"), band_words(now["temp_probe_c"], shown, "temp")],
        [say("Coldest place worms live in"), band_words(now["temp_coldest_c"], shown, "temp")],
        [say("Warmest place worms live in"), band_words(now["temp_warmest_c"], shown, "temp")],
        [say("Water"), band_words(now["moisture_frac"], shown, "share")],
        [say("Food left"), mass_band(now["food_left_kg"], shown)],
        [say("Worms"), mass_band(now["worms_kg"], shown)],
    ]


def rivals_table(advice: Told, shown: Shown) -> list[list[str]]:
    """What else was weighed: (act, odds of cold, heat and sourness, coldest, food at the end)."""
    chosen = {"action": advice["action"], "effect": advice["effect"]}
    rows = []
    for one in (chosen, *advice["rivals"]):
        effect = one["effect"]
        odds = effect["odds"]
        rows.append([
            shown.sentence(one["action"]["words"]),
            *(odds_short(odds[name], odds["members"], 100)
              for name in ("odds_cold", "odds_hot", "odds_sour")),
            shown.temp(effect["coldest_c"][1]), shown.mass(effect["food_left_kg"][1]),
        ])  # fmt: skip
    return rows


def card_table(card: Told, shown: Shown) -> Told:
    """The if-you-find card: a column a band, a row for what is left."""
    bands = list(dict.fromkeys(row["band"] for row in card["rows"]))
    left = list(dict.fromkeys(row["food_left"] for row in card["rows"]))
    by_place = {(row["food_left"], row["band"]): row for row in card["rows"]}
    rows = []
    for word in left:
        found = [by_place.get((word, band), {"act": "", "why": ""}) for band in bands]
        cells = [{"act": shown.sentence(one["act"]), "why": shown.sentence(one["why"])}
                 for one in found]
        rows.append({"left": word, "left_words": say(_LEFT.get(word, word)), "cells": cells})
    until = day_words(dt.date.fromisoformat(card["good_until"]))
    return {"bands": [say(_BANDS.get(band, band)) for band in bands], "rows": rows,
            "note": shown.sentence(card["note"]), "good_until": until,
            "until": say("Good until {day}.", day=until)}


def pantry_table(pantry: Told, shown: Shown) -> Told:
    """Uneaten food and spare water by zone, most likely, with what they will claim."""
    rows = [
        [row["zone_name"], shown.mass(row["food_kg"][1]), shown.mass(row["spare_water_kg"][1]),
         f"{figures(row['heat_mj'][1])} MJ", f"{figures(row['ammonia_g'][1])} g",
         shown.mass(row["dry_card_kg"][1])]
        for row in pantry["rows"]
    ]
    claims = say("Uneaten now, and what it will claim in {days} days at {temp}",
                 days=pantry["claim_days"], temp=shown.temp(pantry["claim_temp_c"]))  # fmt: skip
    return {"rows": rows, "words": shown.sentence(pantry["words"]), "claims": claims}


def lifeboat_facts(boat: Told, shown: Shown) -> Told | None:
    """What to take indoors, or None when nothing calls for it."""
    if not boat["event"]:
        return None
    return {"words": shown.sentence(boat["words"])}


def harm_title(harm: Told) -> str:
    """``After a power cut``."""
    if harm["event"] == "power cut":
        return say("After a power cut")
    return say("With the door left open")


def days_table(days: Told, shown: Shown, time_zone: str) -> list[list[str]]:
    """The table behind the charts: a row a day, each cell most likely and the range."""

    def cell(name: str, place: int, write: Any) -> str:
        low, mid, high = (write(days["whole"][name][q][place]) for q in (LOW, MID, HIGH))
        return say("{middle} ({low} to {high})", middle=mid, low=low, high=high)

    def degrees(temp_c: float) -> str:
        return whole(shown.degrees(temp_c))

    return [
        [
            short_day(day),
            cell("temp_probe_c", k, degrees), cell("temp_coldest_c", k, degrees),
            cell("temp_warmest_c", k, degrees),
            cell("moisture_frac", k, lambda share: whole(share * 100)),
            cell("food_left_kg", k, shown.mass), cell("worms_kg", k, shown.mass),
        ]
        for k, day in enumerate(days_of(days["times"], time_zone))
    ]  # fmt: skip


def outlook_sentence(days: Told, shown: Shown, time_zone: str) -> str:
    """What the chart at the thermometer says, in one sentence."""
    probe = days["whole"]["temp_probe_c"]
    first = [probe[q][0] for q in (LOW, MID, HIGH)]
    last = [probe[q][-1] for q in (LOW, MID, HIGH)]
    end = days_of(days["times"], time_zone)[-1]
    return say("At the thermometer {first} a day from now, and {last} on {day}.",
               first=band_words(first, shown, "temp"), last=band_words(last, shown, "temp"),
               day=day_words(end))  # fmt: skip


def extremes_sentence(days: Told, shown: Shown, time_zone: str) -> str:
    """What the chart of extremes says, in one sentence."""
    coldest, warmest = days["whole"]["temp_coldest_c"], days["whole"]["temp_warmest_c"]
    low_at = min(range(len(coldest[MID])), key=coldest[MID].__getitem__)
    day = day_words(days_of(days["times"], time_zone)[low_at])
    lowest = shown.temp(coldest[MID][low_at])
    return say("The coldest place worms live in is most likely to reach {lowest} by {day}, with 1"
               " chance in 20 of {low} or less on some day; the warmest stays most likely below"
               " {high}.", lowest=lowest, day=day, low=shown.temp(min(coldest[LOW])),
               high=shown.temp(max(warmest[MID])))  # fmt: skip
