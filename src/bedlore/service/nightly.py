"""The night's work for one farm: fetch the forecast, work out the morning, keep it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from bedlore.errors import Fault
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.learn.record import bed_key
from bedlore.say import say
from bedlore.service.belief import new_entries
from bedlore.service.lead import leading
from bedlore.service.learn import Learning, learn
from bedlore.service.morning import Keeping, Morning, Progress, beds_alive, morning
from bedlore.service.plan import PlanKeeping
from bedlore.service.ports import FarmStore, LogStore
from bedlore.service.score import score_account
from bedlore.service.scores_kept import BedScores, scores_to_keep
from bedlore.service.surroundings import Recorded
from bedlore.weather.series import WeatherSeries

FETCH_EVERY = dt.timedelta(hours=3)
MOST_TRIES = 5
_WAITS_MIN = (2, 10, 30, 120)
LONGEST_RUN = dt.timedelta(hours=1)
NIGHT_ENDS_H = 4  # local hour from which on a new day's outlook is made
LEARN_AFTER = 10  # new entries of a bed after which it is learnt anew
LEARN_EVERY_D = 7.0  # days after which a few are enough
LEARN_FROM = 5  # entries below which a bed is not learnt


class WeatherStore(Protocol):
    """Keeps the weather of one farm."""

    def add(self, series: WeatherSeries, kind: str, got_at: dt.datetime) -> None:
        """Keeps a record or a forecast."""
        ...

    def recorded(self, now: dt.datetime) -> Recorded:
        """All that is known."""
        ...


class Forecaster(Protocol):
    """Asks a weather service; trouble is a sentence, never an error."""

    def forecast(self, farm: Farm) -> tuple[WeatherSeries | None, str]:
        """The forecast, if there is one, and what the keeper has."""
        ...


class NotingKeeping(Keeping, PlanKeeping, Protocol):
    """A :class:`Keeping` that also keeps plans, what a morning rests on, and how past ones turned
    out."""

    def note(self, weather_note: str, faults: Iterable[Fault]) -> None:
        """Keeps it with the latest morning."""
        ...

    def keep_scores(self, scores: tuple[BedScores, ...]) -> None:
        """Keeps the score card as it stands with the latest morning."""
        ...


@dataclass(frozen=True)
class Stores:
    """Everything of one farm that the night's work reads and writes."""

    farms: FarmStore
    log: LogStore
    weather: WeatherStore
    keeping: NotingKeeping


def fetch_weather(stores: Stores, forecaster: Forecaster | None, now: dt.datetime) -> str:
    """Keeps the newest forecast; returns a sentence on it."""
    if forecaster is None:
        return say("No weather service is set up; typed days and the normals stand in.")
    series, sentence = forecaster.forecast(stores.farms.load_farm())
    if series is not None:
        stores.weather.add(series, "forecast", now)
    return sentence


def work_out(stores: Stores, now: dt.datetime, progress: Progress | None = None) -> Morning:
    """The farm's morning at ``now``, stored with all it rests on."""
    farm = stores.farms.load_farm()
    log = stores.log.read_log(farm, now)
    # What is written down later has not happened yet, as seen from ``now``.
    log = replace(log, entries=tuple(e for e in log.entries if e.at <= now + dt.timedelta(days=1)))
    recorded, keeping = stores.weather.recorded(now), stores.keeping
    told = morning(farm, log, recorded, now, keeping, progress,
                   leading(farm, log, recorded, now, keeping))  # fmt: skip
    keeping.note(told.weather_note, told.faults)
    keep_scores(keeping, told, log.current, recorded)
    return told


def keep_scores(keeping: NotingKeeping, told: Morning, entries: Sequence[AnyEntry],
                recorded: Recorded) -> None:  # fmt: skip
    """Judges all past outlooks of the morning's farm, and keeps the score card with it."""
    account = score_account(told.farm, entries, recorded, keeping)
    keeping.keep_scores(scores_to_keep(account, {bed.bed_id: bed.rests for bed in told.beds}))


def learning_is_due(stores: Stores, now: dt.datetime) -> bool:
    """Whether so much was written since the beds were learnt (or one was rebuilt) that it is
    time to learn them anew."""
    farm = stores.farms.load_farm()
    entries = stores.log.read_log(farm, now).current
    for bed in beds_alive(farm, now)[0]:
        learnt = stores.keeping.learnt(bed.id)
        fresh = new_entries(learnt, bed, entries)
        if learnt is None or learnt.bed_key != bed_key(bed):
            if fresh >= LEARN_FROM:
                return True
            continue
        old = (now - learnt.at) / dt.timedelta(days=1) >= LEARN_EVERY_D
        if fresh >= LEARN_AFTER or (old and fresh > 0):
            return True
    return False


def learn_beds(stores: Stores, now: dt.datetime, progress: Progress | None = None) -> Learning:
    """Learns all beds of the farm from its log, and keeps what was learnt."""
    farm = stores.farms.load_farm()
    log = stores.log.read_log(farm, now)
    return learn(farm, log, stores.weather.recorded(now), now, stores.keeping,
                 fresh=True, progress=progress)  # fmt: skip


def next_try(tries: int, now: dt.datetime) -> dt.datetime | None:
    """When a job that failed ``tries`` times is tried again; None when it is given up."""
    if tries >= MOST_TRIES:
        return None
    return now + dt.timedelta(minutes=_WAITS_MIN[min(tries, len(_WAITS_MIN)) - 1])


def night_is_due(farm: Farm, done_days: frozenset[str], now: dt.datetime) -> str | None:
    """The day (local, ISO) whose outlook is still to be made, or None."""
    local = now.astimezone(farm.site.zone_info())
    day = local.date().isoformat()
    return day if local.hour >= NIGHT_ENDS_H and day not in done_days else None
