"""Odds, dates and notable limits in the words that the terminal and the page share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from bedlore.decide.words import denominator_for, listed, odds_short
from bedlore.farm.bed import Limits
from bedlore.say import capital, clause, limit_temp, listener, message, say
from bedlore.say.language import names
from bedlore.service.shown import Shown, whole

# Odds below this are told together in one line rather than each with its dots.
NOTABLE = 0.015
RISKS = ("cold", "hot", "sour", "dry", "wet")


@dataclass(frozen=True)
class OddsRow:
    """Odds of one risk over the window: ``acted`` with the action, ``left`` with nothing done;
    ``accepted`` is what the keeper accepts (None for moisture)."""

    risk: str
    words: str
    acted: float
    left: float
    acted_words: str
    left_words: str
    accepted: float | None


@dataclass(frozen=True)
class OddsRows:
    """The risks worth a line, and a sentence on the others ("" when there are none)."""

    rows: tuple[OddsRow, ...]
    rest: str


def local(moment: str | dt.datetime, time_zone: str) -> dt.datetime:
    """An ISO time in the farm's own time zone."""
    when = dt.datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return when.astimezone(ZoneInfo(time_zone))


def day_words(day: dt.date, *, year: bool = False) -> str:
    """``Monday 12 January``."""
    known = names(listener().language)
    weekday, month = known.days[day.weekday()], known.months[day.month - 1]
    if year:
        return say("{weekday} {day} {month} {year}", weekday=weekday, day=day.day, month=month,
                   year=day.year)  # fmt: skip
    return say("{weekday} {day} {month}", weekday=weekday, day=day.day, month=month)


def short_day(day: dt.date) -> str:
    """``Mon 12 Jan``."""
    known = names(listener().language)
    return say("{short_weekday} {day} {short_month}", day=day.day,
               short_weekday=known.short_days[day.weekday()],
               short_month=known.short_months[day.month - 1])  # fmt: skip


def short_weekday(day: dt.date) -> str:
    """``Mon 12``."""
    known = names(listener().language)
    return f"{known.short_days[day.weekday()]} {day.day}"


def date_words(day: dt.date) -> str:
    """``12 January 2026``."""
    known = names(listener().language)
    return say("{day} {month} {year}", day=day.day, month=known.months[day.month - 1],
               year=day.year)  # fmt: skip


def month_words(day: dt.date) -> str:
    """``January``."""
    return names(listener().language).months[day.month - 1]


def clock_words(here: dt.datetime) -> str:
    """``07:00`` by the clock ``here`` stands in; in the hour that comes twice with which it is."""
    time = f"{here:%H:%M}"
    if here.replace(fold=0).utcoffset() == here.replace(fold=1).utcoffset():
        return time
    if here.fold:
        return say("{time} after the clocks went back", time=time)
    return say("{time} before the clocks went back", time=time)


def days_of(times: Sequence[str], time_zone: str) -> list[dt.date]:
    """The day each step of ``times`` (ends of equal steps, ISO) leads to.

    A step of 24 hours leads to the next day of the calendar, also where that has 23 or 25 hours.
    """
    ends = [dt.datetime.fromisoformat(moment) for moment in times]
    step = ends[1] - ends[0] if len(ends) > 1 else dt.timedelta(days=1)
    if step != dt.timedelta(days=1):
        return [local(end, time_zone).date() for end in ends]
    first = local(ends[0] - step, time_zone).date()
    return [first + step * (k + 1) for k in range(len(ends))]


def moment_words(when: dt.datetime) -> str:
    """``Monday 12 January 2026, 07:00``."""
    return f"{day_words(when.date(), year=True)}, {clock_words(when)}"


def risk_words(risk: str, limits: Mapping[str, Any], shown: Shown) -> str:
    """What a risk means: ``colder than 4 °C`` (anywhere that worms live)."""
    match risk:
        case "cold":
            return say("colder than {limit}", limit=shown.limit(limits["cold_c"]))
        case "hot":
            return say("hotter than {limit}", limit=shown.limit(limits["hot_c"]))
        case "sour":
            return say("turning sour")
        case "dry":
            return say("drier than {limit} water", limit=shown.percent(limits["moisture_low"]))
        case _:
            return say("wetter than {limit} water", limit=shown.percent(limits["moisture_high"]))


def risks_briefly(limits: Limits) -> dict[str, str]:
    """Each risk by name in a few words, to stand within a sentence."""
    return {
        "cold": say("colder than {temp}", temp=limit_temp(limits.cold_c)),
        "hot": say("hotter than {temp}", temp=limit_temp(limits.hot_c)),
        "sour": say("turning sour"), "dry": say("too dry"), "wet": say("too wet"),
    }  # fmt: skip


def odds_rows(advice: Mapping[str, Any], limits: Mapping[str, Any], shown: Shown) -> OddsRows:
    """Each risk worth a line with its odds with and without the action, worst first, all with
    one denominator; the rest in one sentence."""

    def share(side: str, risk: str) -> float:
        return float(advice[side]["odds"][f"odds_{risk}"])

    ranked = sorted(RISKS, key=lambda r: -max(share("effect", r), share("without", r)))
    notable = [r for r in ranked if max(share("effect", r), share("without", r)) >= NOTABLE]
    members = int(advice["effect"]["odds"]["members"])
    of = denominator_for([share(side, r) for r in notable for side in ("effect", "without")])
    rows = tuple(
        OddsRow(
            risk=risk, words=risk_words(risk, limits, shown),
            acted=share("effect", risk), left=share("without", risk),
            acted_words=odds_short(share("effect", risk), members, of),
            left_words=odds_short(share("without", risk), members, of),
            accepted=limits.get(f"risk_{risk}"),
        )
        for risk in notable
    )  # fmt: skip
    rest = [risk_words(risk, limits, shown) for risk in ranked if risk not in notable]
    seen = max((share("effect", r) for r in ranked if r not in notable), default=0.0)
    return OddsRows(rows, _rest(rest, seen, members))


def _rest(risks: Sequence[str], seen: float, members: int) -> str:
    """One sentence on risks too small for a line."""
    if not risks:
        return ""
    most, told = odds_short(seen, members, 100), capital(listed(risks))
    if seen <= 0.0 or round(seen * 100) == 0:  # "fewer than" stands in it already
        if len(risks) == 1:
            return say("{risk}: {odds}.", risk=told, odds=most)
        return say("{risks}: each {odds}.", risks=told, odds=most)
    if len(risks) == 1:
        return say("{risk}: no more than {odds}.", risk=told, odds=most)
    return say("{risks}: each no more than {odds}.", risks=told, odds=most)


def fact_words(reason: Mapping[str, Any]) -> str:
    """A reason with how it is known: ``It read 2 °C on 28 Feb (measured: your log).``"""
    fact, basis = clause(capital(reason["text"])), basis_words(reason["basis"])
    if not reason["source"]:
        return say("{fact} ({basis}).", fact=fact, basis=basis)
    return say("{fact} ({basis}: {source}).", fact=fact, basis=basis, source=reason["source"])


_BASIS = {
    "measured": message("measured"), "worked out": message("worked out"),
    "assumed": message("assumed"),
}  # fmt: skip


def basis_words(basis: str) -> str:
    """How a fact is known."""
    return say(_BASIS.get(basis, basis))


def band_words(band: list[float], shown: Shown, kind: str) -> str:
    """``between 4 and 9 °C (most likely 6)``, ready for more words behind it."""
    values = [shown.degrees(v) for v in band] if kind == "temp" else [v * 100 for v in band]
    unit = shown.degree if kind == "temp" else "%"
    low, middle, high = (whole(value) for value in values)
    if low == high:
        return say("about {amount}", amount=f"{middle} {unit}")
    return say("between {low} and {high} (most likely {middle})", low=low, high=f"{high} {unit}",
               middle=middle)  # fmt: skip


def mass_band(band: list[float], shown: Shown) -> str:
    """``0.2 to 2 kg, most likely 900 g``."""
    low, middle, high = (shown.mass(value) for value in band)
    if low == high:
        return say("about {amount}", amount=middle)
    return say("{low} to {high}, most likely {middle}", low=low, high=high, middle=middle)


TEMP_WORDS = {
    "cold": message("cold"), "cool": message("cool"), "mild": message("mild"),
    "warm": message("warm"), "hot": message("hot"),
}  # fmt: skip


def range_word(key: str) -> str:
    """What :func:`temp_word` found, to be read."""
    return say(TEMP_WORDS[key])


def temp_word(temp_c: float, cold_c: float, hot_c: float) -> str:
    """cold, cool, mild, warm or hot: cold and hot are past the keeper's limits; worms work best
    from 12 to 25 degC (common practice, no source)."""
    if temp_c < cold_c:
        return "cold"
    if temp_c > hot_c:
        return "hot"
    mild_from = max(12.0, cold_c)
    return "cool" if temp_c < mild_from else "mild" if temp_c <= min(22.0, hot_c) else "warm"
