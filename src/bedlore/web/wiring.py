"""Puts the database's adapters into the use cases, for pages, API and jobs alike."""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Collection
from dataclasses import dataclass, replace

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from bedlore.errors import Fault, KeeperError
from bedlore.farm.model import Farm
from bedlore.fetch.client import ForecastClient, HttpSettings
from bedlore.fetch.forecast import SERVICES, fetch_forecast
from bedlore.say import from_text, say
from bedlore.service.book import Author
from bedlore.service.dates import shown_with
from bedlore.service.events import Event, events_of
from bedlore.service.morning import Morning
from bedlore.service.nightly import Stores
from bedlore.store.db.ahead import DbAhead
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.doors import DbDoors, DbTries
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.keeping import beds_of_run, latest_run
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.store.db.weather_store import DbWeather
from bedlore.store.log_codec import LogFiles
from bedlore.weather.series import WeatherSeries

DOORS, TRIES, LOG_FILES = DbDoors(), DbTries(), LogFiles()


def clock() -> dt.datetime:
    """The present moment (UTC)."""
    return dt.datetime.now(dt.UTC)


def now_of(row: FarmRow) -> dt.datetime:
    """The moment the farm is seen at: the clock's, or the invented farm's own."""
    return row.as_of or clock()


def author_of(account: Account) -> Author:
    """How what ``account`` writes is signed."""
    return Author(account.shown_name[:120], account.pk)


def author(request: HttpRequest) -> Author:
    """How what this request writes is signed."""
    return author_of(request.user)


def stores_of(row: FarmRow) -> Stores:
    """Everything of a farm that the night's work reads and writes."""
    return Stores(DbFarmStore(row), DbLog(row), DbWeather(row), keeping_of(row))


def keeping_of(row: FarmRow) -> DbAhead:
    """What is kept of a farm between mornings: outlooks, learnings, scores, dates and plans."""
    return DbAhead(row, settings.DATA_FOLDER / "states")


@dataclass(frozen=True)
class Told:
    """The last morning that was worked out, with the beds asked for, and how old it is."""

    row: FarmRow
    morning: Morning
    run_id: int
    worked_at: dt.datetime
    is_current: bool

    @property
    def age_h(self) -> float:
        """Hours since it was worked out."""
        return (clock() - self.worked_at) / dt.timedelta(hours=1)

    def of_beds(self, bed_ids: Collection[str] | None) -> Told | None:
        """The same morning with these beds (None: with all); None when a version whose records
        were different wrote it."""
        if bed_ids is not None and not bed_ids:
            return replace(self, morning=replace(self.morning, beds=()))
        beds, farm, now = beds_of_run(self.run_id, bed_ids), self.morning.farm, self.morning.now
        if beds is None:
            return None
        standing = {bed.id for bed in farm.standing(now.date())}
        there = tuple(told for told in beds if told.bed_id in standing)
        keeping, ids = keeping_of(self.row), tuple(told.bed_id for told in there)
        morning = replace(self.morning, beds=there, dates=shown_with(keeping, now, ids))
        return replace(self, morning=morning)


def last_morning(row: FarmRow, bed_ids: Collection[str] | None = None) -> Told | None:
    """What pages show: the newest morning stored, or None before the first. Nothing is worked out
    here. Reading a bed takes some milliseconds: a page names those it shows."""
    run = latest_run(row)
    if run is None:
        return None
    faults = tuple(Fault(path, from_text(said)) for path, said in json.loads(run.kept_aside))
    morning = Morning(farm_of_row(row), run.made_at, faults, run.weather_note, ())
    is_current = run.inputs == keeping_of(row).inputs(run.made_at)
    return Told(row, morning, run.pk, run.worked_at, is_current).of_beds(bed_ids)


def calendar_events(row: FarmRow) -> tuple[Event, ...]:
    """What stands ahead of the farm, for its calendar and for mail."""
    told = last_morning(row)
    if told is None:
        return ()
    farm, now = told.morning.farm, told.morning.now
    before = DbAlerts(row).before(farm, now)

    def page(bed_id: str) -> str:
        return page_address("bed", row.slug, bed_id)

    return events_of(farm, told.morning.beds, now, before, page)


def page_address(name: str, *args: str) -> str:
    """The whole address of a page, for mail and calendars."""
    return f"{settings.ADDRESS}{reverse(name, args=args)}"


class Service:
    """A :class:`~bedlore.service.nightly.Forecaster` over a weather service."""

    def __init__(self, name: str, contact: str, url: str = "") -> None:
        self._name, self._url = name, url
        self._client = ForecastClient(HttpSettings(contact, settings.DATA_FOLDER / "forecasts"))

    def forecast(self, farm: Farm) -> tuple[WeatherSeries | None, str]:
        """The forecast, if there is one, and what the keeper has."""
        result = fetch_forecast(self._client, self._name, farm.site, self._url or None)
        return result.series, result.sentence


def forecaster() -> Service | None:
    """The weather service that BEDLORE_WEATHER names (none when empty: a farm's place is told
    to nobody unless the keeper wants it)."""
    name = os.environ.get("BEDLORE_WEATHER", "")
    if not name:
        return None
    if name not in SERVICES:
        fix = say("Choose one of {services}.", services=", ".join(SERVICES))
        raise KeeperError(say("{name} is no weather service known here.", name=repr(name)),
                          "BEDLORE_WEATHER", fix)  # fmt: skip
    return Service(name, os.environ.get("BEDLORE_WEATHER_CONTACT", ""),
                   os.environ.get("BEDLORE_WEATHER_URL", ""))  # fmt: skip
