"""Odds, dates and notable limits in the words that the terminal and the page share."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from bedlore.decide.words import denominator_for, listed, odds_short
from bedlore.service.shown import Shown, whole

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
# Odds below this are told together in one line rather than each with its dots.
NOTABLE = 0.015
_SENTENCE_END = re.compile(r"(?<=\.)\s+(?=[A-Z0-9])")
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
    text = f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    return f"{text} {day.year}" if year else text


def short_day(day: dt.date) -> str:
    """``Mon 12 Jan``."""
    return f"{DAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]}"


def moment_words(when: dt.datetime) -> str:
    """``Monday 12 January 2026, 07:00``."""
    return f"{day_words(when.date(), year=True)}, {when:%H:%M}"


def risk_words(risk: str, limits: Mapping[str, Any], shown: Shown) -> str:
    """What a risk means: ``colder than 4 °C`` (anywhere that worms live)."""
    return {
        "cold": f"colder than {shown.temp(limits['cold_c'])}",
        "hot": f"hotter than {shown.temp(limits['hot_c'])}",
        "sour": "turning sour",
        "dry": f"drier than {shown.percent(limits['moisture_low'])} water",
        "wet": f"wetter than {shown.percent(limits['moisture_high'])} water",
    }[risk]


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
    most = odds_short(seen, members, 100)
    bound = most if most.startswith("fewer") else f"no more than {most}"
    return OddsRows(rows, _sentence(listed(rest), bound, len(rest)))


def _sentence(rest: str, bound: str, count: int) -> str:
    if not rest:
        return ""
    each = "each " if count > 1 else ""
    return f"{rest[0].upper()}{rest[1:]}: {each}{bound}."


def fact_words(reason: Mapping[str, Any]) -> str:
    """A reason with how it is known: ``It read 2 °C on 28 Feb (measured: your log).``"""
    source = f": {reason['source']}" if reason["source"] else ""
    return f"{sentence_case(reason['text']).rstrip('.')} ({reason['basis']}{source})."


def sentence_case(text: str) -> str:
    """``text`` with a capital first; the rest as it is."""
    return text[:1].upper() + text[1:]


def once(text: str) -> str:
    """``text`` with sentences that were said before left out."""
    return " ".join(dict.fromkeys(_SENTENCE_END.split(text.strip())))


def band_words(band: list[float], shown: Shown, kind: str) -> str:
    """``between 4 and 9 °C (most likely 6)``, ready for more words behind it."""
    values = [shown.degrees(v) for v in band] if kind == "temp" else [v * 100 for v in band]
    unit = shown.degree if kind == "temp" else "%"
    low, middle, high = (whole(value) for value in values)
    if low == high:
        return f"about {middle} {unit}"
    return f"between {low} and {high} {unit} (most likely {middle})"


def mass_band(band: list[float], shown: Shown) -> str:
    """``0.2 to 2 kg, most likely 900 g``."""
    low, middle, high = (shown.mass(value) for value in band)
    if low == high:
        return f"about {middle}"
    return f"{low} to {high}, most likely {middle}"


def temp_word(temp_c: float, cold_c: float, hot_c: float) -> str:
    """cold, cool, mild, warm or hot: cold and hot are past the keeper's limits; worms work best
    from 12 to 25 degC (common practice, no source)."""
    if temp_c < cold_c:
        return "cold"
    if temp_c > hot_c:
        return "hot"
    mild_from = max(12.0, cold_c)
    return "cool" if temp_c < mild_from else "mild" if temp_c <= min(22.0, hot_c) else "warm"
