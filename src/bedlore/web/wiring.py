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
from bedlore.service.plan import plans_shown
from bedlore.store.db.ahead import DbAhead
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.doors import DbDoors, DbTries
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.keeping import DbKeeping, beds_of_run, latest_run
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
    cache = settings.DATA_FOLDER / "states"
    return Stores(DbFarmStore(row), DbLog(row), DbWeather(row), DbKeeping(row, cache))


@dataclass(frozen=True)
class Told:
    """The last morning that was worked out, and how old it is."""

    morning: Morning
    run_id: int
    worked_at: dt.datetime
    is_current: bool

    @property
    def age_h(self) -> float:
        """Hours since it was worked out."""
        return (clock() - self.worked_at) / dt.timedelta(hours=1)

    def of_beds(self, bed_ids: Collection[str]) -> Told:
        """The same morning with these beds alone."""
        beds = tuple(told for told in self.morning.beds if told.bed_id in bed_ids)
        return replace(self, morning=replace(self.morning, beds=beds))


def last_morning(row: FarmRow, bed: str = "") -> Told | None:
    """What pages show: the newest morning stored (of one bed, when named), or None before the
    first. Nothing is worked out here."""
    run = latest_run(row)
    beds = beds_of_run(run, bed) if run is not None else None
    if run is None or beds is None:
        return None
    farm = farm_of_row(row)
    standing = {bed.id for bed in farm.standing(run.made_at.date())}
    there = tuple(told for told in beds if told.bed_id in standing)
    faults = tuple(Fault(path, from_text(said)) for path, said in json.loads(run.kept_aside))
    keeping = DbAhead(row, settings.DATA_FOLDER / "states")
    ids = tuple(told.bed_id for told in there)
    morning = Morning(farm, run.made_at, faults, run.weather_note, there,
                      shown_with(keeping, run.made_at, ids),
                      plans_shown(keeping, run.made_at, ids))  # fmt: skip
    return Told(morning, run.pk, run.worked_at, run.inputs == keeping.inputs(run.made_at))


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
