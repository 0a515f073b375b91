"""A farm, its people, and browsers signed in as each of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client

from bedlore.service.book import Author
from bedlore.service.morning import BedMorning, Morning
from bedlore.service.nightly import keep_scores
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from tests import morning_fake
from tests.unit.farm.test_bed import FARM

NOW = dt.datetime(2026, 2, 1, 8, tzinfo=dt.UTC)
INES = Author("Ines")


@pytest.fixture
def farm_row(db: None) -> FarmRow:
    return add_farm(FARM, INES, NOW, slug="mill")


@pytest.fixture
def book(farm_row: FarmRow) -> DbLog:
    return DbLog(farm_row)


@pytest.fixture
def people(farm_row: FarmRow) -> dict[str, Account]:
    found = {}
    for role in ("keeper", "helper", "viewer", "stranger"):
        found[role] = Account.objects.create_user(role, password=f"a word for {role}")
        if role != "stranger":
            give_role(found[role].pk, farm_row.pk, role, NOW)
    return found


@pytest.fixture
def as_(people: dict[str, Account]) -> Callable[[str], Client]:
    def browser(role: str, **more: object) -> Client:
        client = Client(**more)
        if role != "nobody":
            client.force_login(people[role])
        return client

    return browser


@pytest.fixture
def told(farm_row: FarmRow) -> Morning:
    """A made-up morning of the farm, stored."""
    farm_row.as_of = morning_fake.NOW
    farm_row.save()
    return tell_morning(farm_row)


def tell_morning(row: FarmRow) -> Morning:
    """A made-up morning of a farm seen at ``morning_fake.NOW``, stored."""
    farm = farm_of_row(row)
    beds = tuple(BedMorning(**vars(bed)) for bed in morning_fake.morning(farm).beds)
    keeping = wiring.stores_of(row).keeping
    keeping.keep_advice(bed.advice for bed in beds)
    keeping.keep_morning(morning_fake.NOW, beds)
    keeping.note("Weather recorded up to yesterday.", [])
    told = Morning(farm, morning_fake.NOW, (), "Weather recorded up to yesterday.", beds)
    judge(row, told)
    return told


def judge(row: FarmRow, told: Morning) -> None:
    """Keeps the score card of a farm as a job of the night does."""
    stores = wiring.stores_of(row)
    log = stores.log.read_log(told.farm, told.now)
    keep_scores(stores.keeping, told, log.current, stores.weather.recorded(told.now))
