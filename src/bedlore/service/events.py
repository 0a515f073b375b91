"""What stands ahead of a farm, day by day: chores, cold and heat that will hurt, expected dates.

One list for the calendar and for mail; the words are those of whoever listens.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal
from zoneinfo import ZoneInfo

from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.decide.words import odds_words
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.model import Farm
from bedlore.say import listener, say, sentences
from bedlore.service.account import advice_account, limits_account
from bedlore.service.morning import BedMorning
from bedlore.service.phrases import day_words, fact_words, risk_words
from bedlore.service.shown import Shown
from bedlore.service.views import OutlookView

Kind = Literal["chore", "late", "cold", "heat", "lifeboat", "back"]
LOWEST, HIGHEST = 0, 4  # places among the outlook's quantiles
MOST_REASONS = 3
assert {"temp_coldest_c", "temp_warmest_c"} <= set(OUTPUT_NAMES)


@dataclass(frozen=True)
class Event:
    """Something on a ``day``. ``alarm`` rings in the morning; ``key`` stays the same when the
    event is told again, so that a calendar changes it instead of adding another. ``since`` is the
    day on which it began: that a chore was due, that odds passed what the keeper accepts.
    ``text`` is paragraphs with an empty line between them."""

    kind: Kind
    bed_id: str
    key: str
    day: dt.date
    title: str
    text: str
    alarm: bool = False
    since: dt.date | None = None


@dataclass(frozen=True)
class Before:
    """What earlier mornings said: since when what is asked of a bed today was due and left open,
    and since when a bed's odds of ``cold`` or ``heat`` stand above what the keeper accepts."""

    asked: Mapping[str, dt.date] = field(default_factory=dict)
    risky: Mapping[tuple[str, Kind], dt.date] = field(default_factory=dict)


def events_of(farm: Farm, beds: Iterable[BedMorning], made_at: dt.datetime,
              before: Before | None = None,
              page_of: Callable[[str], str] | None = None) -> tuple[Event, ...]:  # fmt: skip
    """What the beds' outlooks and advice bring, by day; ``page_of`` gives the address of a bed's
    page for its id."""
    zone = farm.site.zone_info()
    before = before or Before()
    events: list[Event] = []
    for told in beds:
        bed = farm.bed(told.bed_id)
        if bed is not None:
            page = page_of(bed.id) if page_of else ""
            events += _chores(bed, told, made_at.astimezone(zone).date(), before, page)
            events += _weather(bed, told, farm.limits_of(bed), zone, before, page)
            events += _dates(bed, told)
    shown = Shown(listener().units)
    said = (replace(event, title=shown.sentence(event.title), text=shown.sentence(event.text))
            for event in events)  # fmt: skip
    return tuple(sorted(said, key=lambda event: (event.day, event.key)))


def _name(bed: Bed) -> str:
    return bed.name or bed.id


def _chores(bed: Bed, told: BedMorning, today: dt.date, before: Before,
            page: str) -> Iterator[Event]:  # fmt: skip
    """The chore; ``late`` when it was due on an earlier day and nobody said what became of it."""
    action, since = told.advice.action, before.asked.get(told.bed_id, today)
    yield from _later(bed, told, today, page)
    if action.kind == "nothing":
        return
    day = today + dt.timedelta(days=action.on_day)
    acts = "\n".join(act.words for act in (action, *told.advice.also))
    text = _paragraphs(acts, told.advice.lead_words, told.advice.cost_of_ignoring, *_why(told),
                       page)  # fmt: skip
    title = say("{bed}: {chore}", bed=_name(bed), chore=told.advice.headline)
    if day > today or since >= today:
        yield Event("chore", bed.id, f"chore-{bed.id}-{day}", day, title, text, True, since)
        return
    late = say("This was due on {day}, and the log does not say what became of it.",
               day=day_words(since))  # fmt: skip
    title, text = say("Overdue: {chore}", chore=title), _paragraphs(late, text)
    yield Event("late", bed.id, f"late-{bed.id}-{since}", today, title, text, True, since)


def _later(bed: Bed, told: BedMorning, today: dt.date, page: str) -> Iterator[Event]:
    """What the fortnight's plan has for later days; it is planned again before they come."""
    by_day: dict[int, list[str]] = {}
    for act in told.advice.later:
        if act.on_day > told.advice.action.on_day:  # what comes with the chore stands with it
            by_day.setdefault(act.on_day, []).append(act.words)
    for on_day, acts in by_day.items():
        day = today + dt.timedelta(days=on_day)
        title = say("{bed}: {chore}", bed=_name(bed), chore=sentences(*acts))
        yield Event("chore", bed.id, f"chore-{bed.id}-{day}", day, title,
                    _paragraphs(told.advice.lead_words, page))  # fmt: skip


def _weather(bed: Bed, told: BedMorning, limits: Limits, zone: ZoneInfo, before: Before,
             page: str) -> Iterator[Event]:  # fmt: skip
    """The first day on which it could pass a limit, where the odds are above those accepted."""
    cold = _first_past(told.outlook, "temp_coldest_c", limits.cold_c, below=True, zone=zone)
    heat = _first_past(told.outlook, "temp_warmest_c", limits.hot_c, below=False, zone=zone)
    rows: tuple[tuple[Kind, str, dt.date | None, float, float], ...] = (
        ("cold", "cold", cold, told.odds.cold, limits.risk_cold),
        ("heat", "hot", heat, told.odds.hot, limits.risk_hot),
    )
    for kind, risk, day, odds, accepted in rows:
        if day is None or odds <= accepted:
            continue
        title = say("{bed}: cold ahead", bed=_name(bed)) if kind == "cold" else say(
            "{bed}: heat ahead", bed=_name(bed))  # fmt: skip
        past = risk_words(risk, limits_account(limits), Shown(listener().units))
        ahead = say("Within 14 days, if nothing is done, a part of the bed gets {colder_than_limit}"
                    " ({odds}). The first day it could is {day}.", colder_than_limit=past,
                    odds=odds_words(odds, told.odds.members), day=day_words(day))  # fmt: skip
        act = say("What to do: {headline}", headline=told.advice.headline)
        yield Event(kind, bed.id, f"{kind}-{bed.id}", day, title,
                    _paragraphs(ahead, act, *_why(told), page), True,
                    before.risky.get((bed.id, kind)))  # fmt: skip


def _why(told: BedMorning) -> tuple[str, ...]:
    """Reasons and cautions of the bed's advice, each a line."""
    advice: dict[str, Any] = advice_account(told.advice)
    facts = [f"- {fact_words(reason)}" for reason in advice["reasons"][:MOST_REASONS]]
    cautions = [f"- {caution}" for caution in told.advice.cautions]
    return ("\n".join((say("Why:"), *facts)) if facts else "",
            "\n".join((say("Take care:"), *cautions)) if cautions else "")  # fmt: skip


def _paragraphs(*texts: str) -> str:
    return "\n\n".join(text for text in texts if text)


def _first_past(outlook: OutlookView, name: str, limit: float, *, below: bool,
                zone: ZoneInfo) -> dt.date | None:  # fmt: skip
    values = outlook.series(name)[LOWEST if below else HIGHEST]
    for step, value in enumerate(values):
        if (value < limit) if below else (value > limit):
            hours = outlook.every_h * (step + 1)
            return (outlook.start + dt.timedelta(hours=hours)).astimezone(zone).date()
    return None


def _dates(bed: Bed, told: BedMorning) -> Iterator[Event]:
    boat = told.lifeboat
    if boat.event and boat.when is not None:
        title = say("{bed}: take some worms indoors", bed=_name(bed))
        yield Event("lifeboat", bed.id, f"lifeboat-{bed.id}", boat.when.date(), title, boat.words,
                    alarm=True)  # fmt: skip
    if boat.event and boat.back_by is not None:
        title = say("{bed}: herd expected back", bed=_name(bed))
        yield Event("back", bed.id, f"back-{bed.id}", boat.back_by, title, boat.words)
