"""After the night: dates and plans are worked out, kept, and stand on the bed's page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from bedlore.decide.date_records import Milestone, RestDates, Targets
from bedlore.decide.plan_records import Plan
from bedlore.decide.records import Action
from bedlore.service import further
from bedlore.service.morning import Morning
from bedlore.store.db.ahead import DbAhead
from bedlore.store.db.models import FarmRow, JobRun
from bedlore.web import errands, wiring
from tests import morning_fake

pytestmark = pytest.mark.django_db


def dates(bed_id: str, made_at: dt.datetime) -> RestDates:
    day = made_at.date() + dt.timedelta(days=40)
    ready = Milestone("emptied", "bank", "the bank side", (day,) * 5, ((day, 0.5),),
                      "The bank side can be taken: about 21 Feb.")  # fmt: skip
    return RestDates(bed_id, made_at, day, 60, Targets(), (ready,), (), None, ())


def plan(bed_id: str, made_at: dt.datetime) -> Plan:
    effect = morning_fake.effect(morning_fake.morning().beds[0].odds)
    act = Action("feed", "", (("food_mixed_kitchen", 2.0),), words="Feed the whole bed: 2 kg.")
    return Plan(bed_id, made_at, (act,), act.words, effect, effect, 1.0, None, True, "", (), (), (),
                300, 100, 500, ((0.0, 0.1, 0.2),) * 3, "", (), ())  # fmt: skip


def test_the_errand_works_out_every_bed_that_stands(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str, str]] = []
    for name in ("dates_of", "plans_of"):
        monkeypatch.setattr(further, name,
                            lambda *_, bed_id, name=name: asked.append((name, bed_id)))
    job = JobRun(farm=farm_row, kind=errands.FURTHER, key="2026-01-12")
    assert (errands.FURTHER, job.key) in list(errands.after_night(job))
    said = errands.ERRANDS[errands.FURTHER](job, wiring.clock())
    beds = [bed.bed_id for bed in told.beds]
    assert said == f"{len(beds)} beds were planned ahead."
    assert asked == [(name, bed) for bed in beds for name in ("dates_of", "plans_of")]


def test_what_was_kept_stands_on_the_page_while_it_is_fresh(
    farm_row: FarmRow, told: Morning, as_: Callable[[str], Client]
) -> None:
    bed = told.beds[0].bed_id
    keeping = DbAhead(farm_row, settings.DATA_FOLDER / "states")
    keeping.keep_dates("k", dates(bed, told.now))
    keeping.keep_plan("k", plan(bed, told.now))
    page = as_("keeper").get(reverse("bed", args=[farm_row.slug, bed])).content.decode()
    assert "The bank side can be taken" in page
    assert "Feed the whole bed: 2" in page
    keeping.keep_dates("k", dates(bed, told.now - dt.timedelta(days=20)))
    keeping.keep_plan("k", plan(bed, told.now - dt.timedelta(days=2)))
    again = wiring.last_morning(farm_row)
    assert again is not None
    assert not again.morning.dates
    assert not again.morning.plans
