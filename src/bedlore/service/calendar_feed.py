"""The calendar of a farm as RFC 5545 text."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable
from typing import Any

from bedlore.farm.model import Farm
from bedlore.service.events import Event


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
