"""Learning as a job, and the score card with outlooks that can be judged."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from unittest.mock import Mock

import numpy as np
import pytest
from django.test import Client

from bedlore.farm import log
from bedlore.learn.verify import past_outlook
from bedlore.service import nightly
from bedlore.service.book import Author, ToWrite
from bedlore.service.morning import Morning
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, JobRun
from bedlore.web import errands, tasks, wiring
from tests import morning_fake
from tests.web.conftest import judge

pytestmark = pytest.mark.django_db
Browser = Callable[..., Client]
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def judged(told: Morning, farm_row: FarmRow) -> Morning:
    """Thirty outlooks of the first bed and a reading a day after each."""
    keeping = wiring.stores_of(farm_row).keeping
    shutil.rmtree(keeping.folder, ignore_errors=True)
    bed, rng = told.farm.beds[0], np.random.default_rng(2)
    zone, entries = bed.zones[0].id, []
    for day in range(30):
        made = morning_fake.NOW - dt.timedelta(days=32 - day)
        temp = 6.0 + rng.normal(0.0, 1.0, (60, 14 * 24))
        keeping.keep_outlooks([past_outlook(bed.id, zone, made, temp)])
        entries.append(log.Probe(id=f"seen-{day}", at=made + 24 * HOUR, bed=bed.id, zone=zone,
                                 temp_c=6.0 + float(rng.normal()), error_k=0.3))  # fmt: skip
    DbLog(farm_row).write([ToWrite(entry) for entry in entries], Author(), morning_fake.NOW)
    judge(farm_row, told)
    yield told
    shutil.rmtree(keeping.folder, ignore_errors=True)


def test_the_score_card_says_how_often_the_band_held(
    as_: Browser, judged: Morning, farm_row: FarmRow
) -> None:
    text = as_("viewer").get("/farms/mill/score-card/").content.decode()
    assert "The 9-in-10 band held" in text
    assert "better than the last reading" in text or "worse than the last reading" in text
    assert "1 day ahead" in text
    assert text.count("<rect") == 10
    assert "Learn from the log now" not in text  # a viewer may not


def test_a_keeper_asks_for_learning_and_sees_how_it_stands(
    as_: Browser, told: Morning, farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "run_job", Mock())
    keeper = as_("keeper")
    assert "Learn from the log now" in keeper.get("/farms/mill/score-card/").content.decode()
    assert keeper.post("/farms/mill/score-card/learn/").status_code == 302
    assert keeper.post("/farms/mill/score-card/learn/").status_code == 302
    job = JobRun.objects.get(kind=tasks.LEARN)
    assert job.state == "waiting"
    assert "are being learnt" in keeper.get("/farms/mill/score-card/").content.decode()
    assert as_("viewer").post("/farms/mill/score-card/learn/").status_code == 403


def test_after_learning_the_beds_are_planned_anew(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "run_job", Mock())
    monkeypatch.setattr(tasks, "learn_beds", lambda *_: Mock(beds=told.beds))
    monkeypatch.setattr(tasks, "work_out", lambda *_: told)
    monkeypatch.setattr(tasks, "draw_safely", lambda _: None)
    for kind in (tasks.OUTLOOK, tasks.LEARN):
        tasks._do(JobRun(farm=farm_row, kind=kind, key="once"))
        planned = JobRun.objects.filter(kind=errands.FURTHER).count()
        assert planned == (1 if kind == tasks.LEARN else 0)


def test_learning_is_asked_for_after_enough_entries(
    farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    stores, now = wiring.stores_of(farm_row), morning_fake.NOW
    shutil.rmtree(stores.keeping.folder, ignore_errors=True)
    assert not nightly.learning_is_due(stores, now)
    bed = stores.farms.load_farm().beds[0]
    first = dt.datetime.combine(bed.started, dt.time(15), dt.UTC)
    entries = [log.Probe(id=f"p{i}", at=first + i * HOUR, bed=bed.id, temp_c=6.0)
               for i in range(nightly.LEARN_FROM)]  # fmt: skip
    DbLog(farm_row).write([ToWrite(entry) for entry in entries], Author(), now)
    assert nightly.learning_is_due(stores, now)
