"""What *today* shows: the chores at every bed, and the leaves of the beds of one page."""

from __future__ import annotations

from typing import Any

from bedlore.service.account import chores_account, report_account
from bedlore.service.learnt_words import rests_words
from bedlore.service.morning import Morning
from bedlore.service.phrases import days_of, range_word, short_weekday, temp_word
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.store.db.advice_book import DbAdvice
from bedlore.web import pictures
from bedlore.web.leaves.card import with_spans
from bedlore.web.leaves.kept import kept, kept_of_beds
from bedlore.web.leaves.part import Part
from bedlore.web.wiring import Told

Context = dict[str, Any]
WEEK_D = 7
BEDS_A_PAGE = 8  # drawings and all; more would weigh too much for a weak signal


def chores_of(told: Told, shown: Shown) -> list[Context] | None:
    """What to do at every bed, the most urgent first; None when it can no longer be read."""
    found: list[Context] | None = kept(told, f"chores-{shown.units}", lambda: _chores(told, shown))
    return found


def _chores(told: Told, shown: Shown) -> list[Context] | None:
    given = DbAdvice(told.row).given(told.run_id)
    if given is None:
        return None
    farm = told.morning.farm
    standing = {bed.id for bed in farm.standing(told.morning.now.date())}
    return [
        {"id": one["bed"], "name": one["name"], "mark": one["mark"], "shape": one["mark_shape"],
         "due": one["urgency"] == "due", "headline": shown.sentence(one["headline"])}
        for one in chores_account((one for one in given if one.bed_id in standing), farm)
    ]  # fmt: skip


def today_leaves(told: Told, part: Part, chores: list[Context], shown: Shown) -> Context | None:
    """``leaves`` of the beds of one page and what they rest on (``rests``); None when they can no
    longer be read."""
    found: Context | None = kept_of_beds(
        told, part.of(chores), f"today-{part.place}-{shown.units}",
        lambda mine: {"leaves": _leaves(mine, shown), "rests": _rests(mine.morning)},
    )  # fmt: skip
    return found


def _leaves(told: Told, shown: Shown) -> list[Context]:
    """Each bed in words, with its drawing and its coming week."""
    account = report_account(told.morning)
    zone = account["time_zone"]
    found = []
    row = pictures.shelf_of(account["beds"], shown) if account["beds"] else []
    for bed, glance in zip(account["beds"], row, strict=True):
        leaf = leaf_of(bed, shown, zone)
        kind = bed["advice"]["action"]["kind"]
        leaf.update(kind=kind, glance=glance, section=pictures.section_of(bed, shown),
                    card=with_spans(leaf["card"]), week=_days(bed, shown, zone),
                    write_as=_WRITE_AS.get(kind, "look"))
        found.append(leaf)
    return found


# The kind of entry in which somebody says what was done instead.
_WRITE_AS = {"feed": "feed", "water": "water", "bedding": "bedding", "cover": "cover",
             "uncover": "cover", "insulate": "cover", "mat": "mat"}  # fmt: skip


def _days(bed: Context, shown: Shown, zone: str) -> list[Context]:
    """The coming week: the most likely coldest and warmest of each day where worms live."""
    whole, limits = bed["days"]["whole"], bed["limits"]
    days = []
    for k, day in enumerate(days_of(bed["days"]["times"], zone)[:WEEK_D]):
        low, high = whole["temp_coldest_c"][2][k], whole["temp_warmest_c"][2][k]
        words = dict.fromkeys(temp_word(t, limits["cold_c"], limits["hot_c"]) for t in (low, high))
        days.append({
            "day": short_weekday(day),
            "range": f"{shown.temp(low, unit=False)} – {shown.temp(high, unit=False)}",
            "word": " – ".join(map(range_word, words)),
            "class": temp_word(low, limits["cold_c"], limits["hot_c"]),
        })  # fmt: skip
    return days


def _rests(morning: Morning) -> list[str]:
    """What the beds' figures rest on: one line for all when it is the same."""
    zone = morning.farm.site.zone_info()
    words = {bed.bed_id: rests_words(bed.rests, zone) for bed in morning.beds}
    if len(set(words.values())) == 1:
        return list(words.values())[:1]
    named = {bed.id: bed.name or bed.id for bed in morning.farm.beds}
    return [f"{named[bed]}: {line}" for bed, line in words.items()]
