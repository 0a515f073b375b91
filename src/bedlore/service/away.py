"""Being away as plain data: what to leave and the neighbour's sheet, for terminal, page, paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

from bedlore.decide.away import LONGEST_D, Away, Left, act_words, away, cup_words
from bedlore.decide.case import Case
from bedlore.decide.cautions import ELECTRIC, HANDS, NO_BURNING
from bedlore.decide.words import odds_words
from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.model import Farm
from bedlore.say import joined, limit_temp, mass, message, on_day, say, thickness
from bedlore.service.account import odds_account, tidy
from bedlore.service.marks import marks

Account = dict[str, Any]
REFERENCE = message("such absences")
SACKS_M = 0.10  # of straw or sacks over the lid in hard frost (common practice, no source)
NO_FROST_C, NO_HEAT_C = 10.0, 18.0  # in the bed, at its coldest and warmest: no word of it
NOTABLE = 0.05  # odds below this are not said to be held or not
SOONEST_D = 14  # how far ahead a leave can be planned: beyond it the bed's own state is unknown


def days_of(leave: dt.date, back: dt.date, today: dt.date) -> tuple[int, int]:
    """Days from ``today`` to leaving and to coming back; raises KeeperError."""
    if back <= leave:
        raise KeeperError(say("You come back before you leave."), "--to", say("Check both dates."))
    if leave < today:
        raise KeeperError(say("{day} is past.", day=leave.isoformat()), "--from",
                          say("Give a day from today on."))  # fmt: skip
    if (leave - today).days > SOONEST_D:
        raise KeeperError(say("{day} is more than {days} days ahead.",
                              day=leave.isoformat(), days=SOONEST_D), "--from",
                          say("Ask again nearer to it: what to leave depends on the bed by"
                              " then."))
    if (back - leave).days > LONGEST_D:
        raise KeeperError(say("That is longer than {days} days.", days=LONGEST_D), "--to",
                          say("For so long somebody must look after the bed as you do."))
    return (leave - today).days, (back - today).days


def day_of(text: str, where: str) -> dt.date:
    """An ISO date that a keeper gave; raises KeeperError."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise KeeperError(say("{text} is not a date.", text=repr(text[:40])), where,
                          say('Write it like "2026-08-03".')) from None


def away_account(farm: Farm, bed: Bed, case: Case, leave: dt.date, back: dt.date,
                 call: str = "") -> Account:  # fmt: skip
    """What ``bedlore away --json`` prints of a bed; ``call`` is whom to call, as it was given."""
    today = case.now.astimezone(farm.site.zone_info()).date()
    plan = away(case, *days_of(leave, back, today))
    visits = [today + dt.timedelta(days=day) for day in plan.best.leaving.visits]
    return {
        **marks(farm)[bed.id].account(),
        "leave": leave.isoformat(), "return": back.isoformat(), "headline": _headline(plan),
        "leave_with": [*(act_words(case, action) for action in plan.best.leaving.before),
                   *_not_held(plan, case)],
        "visits": [day.isoformat() for day in visits],
        "cup": cup_words(case, plan.best.leaving),
        "finds": _finds(plan, case),
        "watch": list(_watch(plan, bed, case.limits, today)),
        "call_if": [say(line) for line in _CALL_IF], "call": call.strip(),
        "never": [say(_NEVER_MORE if visits else _NEVER_ANY), *(say(line) for line in _NEVER)],
        "weighed": [_way(one, plan) for one in (plan.best, *plan.others)],
        "cautions": list(_cautions(plan, bed)),
        "members": plan.members,
    }  # fmt: skip


_CALL_IF = (
    message("worms leave the bed"), message("it smells rotten or stings"),
    message("it is hot to the hand"), message("water stands in it or runs out"),
)  # fmt: skip
_NEVER_MORE = message("More than the cup, or anything else than what is in it.")
_NEVER_ANY = message("Food of any kind: it has enough.")
_NEVER = (
    message("Meat, dairy, fat, salt, bread, or what looks mouldy."),
    message("Digging, turning, lime, or ant poison."),
)


def _headline(plan: Away) -> str:
    way = plan.best.leaving
    feeds = any(action.kind == "feed" for action in way.before)
    match feeds, bool(way.visits):
        case True, True:
            return say("Feed before you leave, and have a neighbour look once a week.")
        case True, False:
            return say("Feed before you leave; nobody needs to feed it while you are away.")
        case False, True:
            return say("Feed nothing before you leave; have a neighbour look once a week.")
        case _:
            return say("Feed nothing before you leave: the bed has enough for so long.")


def _not_held(plan: Away, case: Case) -> Iterator[str]:
    """What the best way still leaves beyond what the keeper accepts."""
    odds, limits = plan.best.effect.odds, case.limits
    for share, accepted, words in (
        (odds.cold, limits.risk_cold, message("Nothing that was weighed keeps it as warm as you"
                                              " want ({odds}). Shelter it before you leave, or"
                                              " move worms indoors.")),
        (odds.hot, limits.risk_hot, message("Nothing that was weighed keeps it as cool as you want"
                                            " ({odds}). Shade and open it before you leave, and"
                                            " ask for looks on hot days.")),
    ):
        if share > max(accepted, NOTABLE):
            yield say(words, odds=odds_words(share, odds.members, REFERENCE))
    yield say("Leave lid and cover as they are now, and write down what you fed.")


def _finds(plan: Away, case: Case) -> list[Account]:
    """The if-you-find card of the neighbour."""
    cup = joined(cup_words(case, plan.best.leaving), " + ")
    nothing = say("Nothing. Cover back on.")
    if plan.best.leaving.visits:
        full = say("One cup on {zone}: {cup}. Spread thin, cover back on.", zone=plan.zone, cup=cup)
        half = say("Half a cup on {zone}, spread thin, cover back on.", zone=plan.zone)
    else:
        full = half = nothing
    return [
        {"food_left": "none", "words": say("no food left"), "act": full},
        {"food_left": "some", "words": say("some food left"), "act": half},
        {"food_left": "lots", "words": say("much food left, or it smells"), "act": nothing},
    ]  # fmt: skip


def _watch(plan: Away, bed: Bed, limits: Limits, today: dt.date) -> Iterator[str]:
    """Frost and heat: when they are to be reckoned with, and what to do then."""
    odds, first = plan.best.effect.odds, plan.best.first_d

    def since(day: int | None) -> str:
        return on_day(today + dt.timedelta(days=max(day or 0, plan.leave_d)))

    if first["cold"] is not None:
        yield say("Where the worms live it may go below {limit} from about {day} on ({odds}). In"
                  " hard frost lay straw or sacks {thickness} thick over the lid and leave it shut;"
                  " do not dig, do not feed.",
                  limit=limit_temp(limits.cold_c), thickness=thickness(SACKS_M),
                  day=since(first["cold"]), odds=odds_words(odds.cold, odds.members, REFERENCE))
    elif plan.best.effect.coldest_c[0] < NO_FROST_C:
        yield say("In hard frost lay straw or sacks over the lid and leave it shut; do not dig.")
    if first["hot"] is not None:
        yield say("It may get too hot from about {day} on ({odds}). Shade it, prop the lid open a"
                  " hand, lay a wet sack over it; do not feed.",
                  day=since(first["hot"]), odds=odds_words(odds.hot, odds.members, REFERENCE))
    elif plan.best.effect.warmest_c[2] > NO_HEAT_C:
        yield say("On days over 30 degC shade it and prop the lid open a hand; do not feed.")
    if first["dry"] is not None:
        yield say("It may dry out from about {day} on: if a handful falls apart, sprinkle a litre"
                  " of water over it.", day=since(first["dry"]))
    if bed.heat_mat is not None:
        yield say("It has a heat mat. After a power cut, or if anything at it is wet: do not touch"
                  " it, switch off at the board, and call.")


def _cautions(plan: Away, bed: Bed) -> Iterator[str]:
    yield HANDS
    if bed.heat_mat is not None:
        yield ELECTRIC
    if plan.best.effect.odds.cold > 0.0:
        yield NO_BURNING


def _way(one: Left, plan: Away) -> Account:
    return {
        "words": _way_words(one), "chosen": one is plan.best,
        "visits_n": len(one.leaving.visits),
        "odds": odds_account(one.effect.odds),
        "food_left_kg": [tidy(v) for v in one.effect.food_left_kg],
        "coldest_c": [tidy(v) for v in one.effect.coldest_c],
        "warmest_c": [tidy(v) for v in one.effect.warmest_c],
        "hungry_d": [tidy(v) for v in one.hungry_d],
        "herd_kept": [tidy(v) for v in one.herd_kept],
        "fed_kg": [tidy(v) for v in one.fed_kg],
    }


_CARE = {
    "water": message("water it"), "bedding": message("lay dry bedding over it"),
    "cover": message("cover it"), "uncover": message("take the cover off"),
    "mat": message("switch the heat mat on"),
}


def _way_words(one: Left) -> str:
    parts: list[str] = []
    for action in one.leaving.before:
        if action.kind == "feed":
            parts.append(say("feed {mass} before", mass=mass(action.mass_kg)))
        else:
            parts.append(say(_CARE[action.kind]))
    if one.leaving.visits:
        parts.append(say("a neighbour looks and feeds once a week"))
    return joined(parts) if parts else say("nothing")
