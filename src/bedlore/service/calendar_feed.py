"""The calendar of a farm (RFC 5545): chores, weather that will hurt, and expected dates."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.model import Farm
from bedlore.service.morning import BedMorning
from bedlore.service.views import OutlookView

MEDIAN, LOWEST, HIGHEST = 2, 0, 4  # places among the outlook's quantiles
assert {"temp_coldest_c", "temp_warmest_c"} <= set(OUTPUT_NAMES)


@dataclass(frozen=True)
class Event:
    """Something on a day. ``alarm`` rings in the morning; ``key`` stays the same when the
    event is told again, so that a calendar changes it instead of adding another."""

    key: str
    day: dt.date
    title: str
    text: str
    alarm: bool = False


def events_of(farm: Farm, beds: Iterable[BedMorning], made_at: dt.datetime) -> tuple[Event, ...]:
    """What the beds' outlooks and advice put into the calendar, by day."""
    zone = farm.site.zone_info()
    events: list[Event] = []
    for told in beds:
        bed = farm.bed(told.bed_id)
        if bed is not None:
            events += _chores(bed, told, made_at.astimezone(zone).date())
            events += _weather(bed, told, farm.limits_of(bed), zone)
            events += _dates(bed, told)
    return tuple(sorted(events, key=lambda event: (event.day, event.key)))


def _name(bed: Bed) -> str:
    return bed.name or bed.id


def _chores(bed: Bed, told: BedMorning, today: dt.date) -> Iterator[Event]:
    advice = told.advice
    if advice.action.kind == "nothing":
        return
    day = today + dt.timedelta(days=advice.action.on_day)
    reasons = "\n".join(f"- {reason.text} ({reason.basis})" for reason in advice.reasons)
    cautions = "\n".join(advice.cautions)
    text = f"{advice.action.words}\n\n{reasons}\n\n{advice.cost_of_ignoring}\n{cautions}".strip()
    yield Event(f"chore-{bed.id}-{day}", day, f"{_name(bed)}: {advice.headline}", text, alarm=True)


def _weather(bed: Bed, told: BedMorning, limits: Limits, zone: ZoneInfo) -> Iterator[Event]:
    """The first day on which the bed is more likely than not, or possibly, past a limit."""
    cold = _first_past(told.outlook, "temp_coldest_c", limits.cold_c, below=True, zone=zone)
    heat = _first_past(told.outlook, "temp_warmest_c", limits.hot_c, below=False, zone=zone)
    for kind, day, odds, accepted in (
        ("cold", cold, told.odds.cold, limits.risk_cold),
        ("heat", heat, told.odds.hot, limits.risk_hot),
    ):
        if day is not None and odds > accepted:
            share = max(1, round(odds * 10))
            yield Event(
                f"{kind}-{bed.id}", day, f"{_name(bed)}: {kind} ahead",
                f"In about {share} of 10 futures like this one a part of the bed passes your"
                f" {kind} limit within 14 days if nothing is done; {day:%d %B} is the first day"
                " it could.", alarm=True,
            )  # fmt: skip


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
        yield Event(f"lifeboat-{bed.id}", boat.when.date(),
                    f"{_name(bed)}: take some worms indoors", boat.words, alarm=True)  # fmt: skip
    if boat.event and boat.back_by is not None:
        yield Event(f"back-{bed.id}", boat.back_by, f"{_name(bed)}: herd expected back",
                    boat.words)  # fmt: skip


def calendar_text(farm: Farm, address: str, events: Iterable[Event], made_at: dt.datetime) -> bytes:
    """The calendar as RFC 5545 text. ``address`` names the farm in the events' ids."""
    from icalendar import Calendar
    from icalendar import Event as Entry

    calendar: Any = Calendar()
    calendar.add("prodid", "-//bedlore//calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", farm.name)
    calendar.add("refresh-interval", dt.timedelta(hours=6), parameters={"VALUE": "DURATION"})
    for event in events:
        entry: Any = Entry()
        digest = hashlib.sha256(f"{address}|{event.key}".encode()).hexdigest()[:32]
        entry.add("uid", f"{digest}@bedlore")
        entry.add("dtstamp", made_at.astimezone(dt.UTC))
        entry.add("dtstart", event.day)
        entry.add("dtend", event.day + dt.timedelta(days=1))
        entry.add("summary", event.title)
        entry.add("description", event.text)
        entry.add("transp", "TRANSPARENT")
        if event.alarm:
            entry.add_component(_alarm(event.title))
        calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _alarm(title: str) -> Any:
    from icalendar import Alarm

    alarm: Any = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", title)
    alarm.add("trigger", dt.timedelta(hours=7))
    return alarm
