"""A farm, its people, and browsers signed in as each of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client

from bedlore.service.book import Author
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
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
