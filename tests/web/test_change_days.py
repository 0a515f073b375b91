"""Writing on the days when the clocks change: asked in the hour that comes twice, and kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client

from bedlore.service.book import LogFilter
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from tests.web.conftest import INES, NOW

Browser = Callable[..., Client]
PROBE = "/farms/mill/write/probe/?bed=sluice"
PLACES = [
    ("Europe/Vienna", "2025-10-26T02:30", dt.datetime(2025, 10, 26, 0, 30, tzinfo=dt.UTC)),
    ("America/New_York", "2025-11-02T01:30", dt.datetime(2025, 11, 2, 5, 30, tzinfo=dt.UTC)),
]


@pytest.fixture(params=PLACES, ids=[zone for zone, _, _ in PLACES])
def night(request: pytest.FixtureRequest, farm_row: FarmRow) -> tuple[str, dt.datetime]:
    """A local time that comes twice where the farm is, and when it first comes."""
    zone, typed, first = request.param
    farm = farm_of_row(farm_row)
    site = farm.site.model_copy(update={"time_zone": zone})
    DbFarmStore(farm_row).save_farm(farm.model_copy(update={"site": site}), by=INES)
    farm_row.refresh_from_db()
    farm_row.as_of = NOW
    farm_row.save()
    return typed, first


def last(book: DbLog) -> dt.datetime:
    return book.page(LogFilter(kinds=("probe",)), 1)[0].entry.at


def test_it_asks_which_and_keeps_it(
    as_: Browser, book: DbLog, night: tuple[str, dt.datetime]
) -> None:
    typed, first = night
    form = {"when": "other", "at": typed, "temp_c": "11", "depth_m": "10"}
    asked = as_("helper").post(PROBE, form)
    assert asked.status_code == 422
    text = asked.content.decode()
    assert "came twice" in text
    assert 'name="which" value="second"' in text
    assert 'value="11"' in text, "what was typed is lost"
    assert book.page(LogFilter(kinds=("probe",)), 1) == []

    for which, at in (("first", first), ("second", first + dt.timedelta(hours=1))):
        answer = as_("helper").post(PROBE, {**form, "which": which})
        assert answer.status_code == 302
        assert max(one.entry.at for one in book.page(LogFilter(kinds=("probe",)), 5)) == at

    shown = as_("helper").get("/farms/mill/log/").content.decode()
    time = typed[-5:]
    assert f"{time} before the clocks went back" in shown
    assert f"{time} after the clocks went back" in shown


def test_a_correction_does_not_move_it(
    as_: Browser, book: DbLog, night: tuple[str, dt.datetime]
) -> None:
    typed, first = night
    form = {"when": "other", "at": typed, "temp_c": "11", "depth_m": "10", "which": "second"}
    as_("keeper").post(PROBE, form)
    written = book.page(LogFilter(kinds=("probe",)), 1)[0].entry
    address = f"/farms/mill/log/{written.id}/"
    answer = as_("keeper").post(address, {"when": "as-written", "temp_c": "12", "depth_m": "10"})
    assert answer.status_code == 302
    corrected = book.page(LogFilter(kinds=("probe",)), 1)[0].entry
    assert corrected.temp_c == 12
    assert corrected.at == first + dt.timedelta(hours=1)
