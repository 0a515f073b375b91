"""Which events somebody is told of by mail, and when: never in the night, never twice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol
from zoneinfo import ZoneInfo

from bedlore.errors import KeeperError
from bedlore.service.events import Event, Kind

# Odds may dip under what is accepted for a night or two without the danger being over.
CALM_D = 3


@dataclass(frozen=True)
class Wishes:
    """What one person wants to be told of for one farm; quiet hours are the farm's clock."""

    by_email: bool = False
    frost: bool = True
    heat: bool = True
    chores: bool = True
    quiet_from: dt.time = dt.time(21)
    quiet_until: dt.time = dt.time(7)

    def wants(self, event: Event) -> bool:
        """Whether the event is of a kind that is wanted."""
        wanted: Mapping[Kind, bool] = {"cold": self.frost, "heat": self.heat, "late": self.chores}
        return wanted.get(event.kind, False)


@dataclass(frozen=True)
class Alert:
    """An event to be told; ``key`` names its subject and the day it began, so that it goes out
    once however often it is worked out."""

    key: str
    event: Event


class NotYet(KeeperError):
    """It is to be done later, at ``until``, and nothing is wrong."""

    def __init__(self, until: dt.datetime, sentence: str) -> None:
        self.until = until
        super().__init__(sentence)


class AlertBook(Protocol):
    """Remembers what each person was told."""

    def claim(self, account_id: int, keys: Iterable[str], now: dt.datetime) -> frozenset[str]:
        """Notes that the person is told of ``keys`` now; returns those that were not told
        before."""
        ...

    def release(self, account_id: int, keys: Iterable[str]) -> None:
        """Takes it back: the telling failed."""
        ...


def alerts_of(events: Iterable[Event], wishes: Wishes) -> tuple[Alert, ...]:
    """What somebody with these wishes is to be told, worst first: cold, heat, then chores."""
    order: Sequence[Kind] = ("cold", "heat", "late")
    wanted = [event for event in events if wishes.wants(event)]
    wanted.sort(key=lambda event: (order.index(event.kind), event.day, event.bed_id))
    return tuple(Alert(f"{e.kind}-{e.bed_id}-{e.since or e.day}"[:120], e) for e in wanted)


def quiet_ends(now: dt.datetime, zone: ZoneInfo, wishes: Wishes) -> dt.datetime | None:
    """When the quiet hours that ``now`` falls into end (UTC), or None outside of them."""
    start, end, local = wishes.quiet_from, wishes.quiet_until, now.astimezone(zone)
    time = local.time()
    over_midnight = start > end
    inside = (time >= start or time < end) if over_midnight else start <= time < end
    if not inside:
        return None
    day = local.date() + dt.timedelta(days=1 if over_midnight and time >= start else 0)
    return dt.datetime.combine(day, end, zone).astimezone(dt.UTC)


def began(moments: Iterable[dt.datetime], zone: ZoneInfo) -> dt.date | None:
    """The local day on which an unbroken series of mornings began; ``moments`` are the mornings
    with the danger, newest first. ``CALM_D`` days without one end a series."""
    first: dt.date | None = None
    for moment in moments:
        day = moment.astimezone(zone).date()
        if first is not None and (first - day).days > CALM_D:
            break
        first = day
    return first
