"""After the night: dates and plans are worked out and kept, and the plans take the lead."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from bedlore.decide import plan_search
from bedlore.decide.date_records import Milestone, RestDates, Targets
from bedlore.decide.plan_advice import led_by, outdated
from bedlore.decide.plan_records import Plan
from bedlore.decide.plan_search import Effort
from bedlore.decide.records import Action
from bedlore.service import beds_now, further, morning, nightly
from bedlore.service.lead import leading
from bedlore.service.morning import Lead, Morning
from bedlore.service.plan import plan_key, plans_of
from bedlore.service.record_entry import record_entry
from bedlore.store.ahead_files import FolderAhead
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import AdviceGiven, FarmRow, JobRun, OutlookRun
from bedlore.store.db.weather_store import DbWeather
from bedlore.store.files import FarmFolder
from bedlore.store.weather_files import recorded_weather
from bedlore.web import errands, wiring
from bedlore.web.moving import take_in
from bedlore.wiring import morning_in
from tests import morning_fake
from tests.small_farm import TWO_SIDES, feed, write_farm
from tests.unit.decide.plan_cases import COVERED, fed, plan_of
from tests.web.conftest import INES

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Path) -> None:
    """Plans of one test are not found by the next."""
    settings.DATA_FOLDER = tmp_path


def dates(bed_id: str, made_at: dt.datetime) -> RestDates:
    day = made_at.date() + dt.timedelta(days=40)
    ready = Milestone("emptied", "bank", "the bank side", (day,) * 5, ((day, 0.5),),
                      "The bank side can be taken: about 21 Feb.")  # fmt: skip
    return RestDates(bed_id, made_at, day, 60, Targets(), (ready,), (), None, ())


def keep_plan(row: FarmRow, bed_id: str, *actions: Action) -> Plan:
    """A plan of ``actions`` that fits what is known of the farm this morning."""
    now, farm, keeping = morning_fake.NOW, farm_of_row(row), wiring.keeping_of(row)
    bed = farm.bed(bed_id)
    assert bed is not None
    key = plan_key(farm, bed, DbLog(row).read_log(farm, now), DbWeather(row).recorded(now), now,
                   keeping)  # fmt: skip
    plan = plan_of(*actions, bed_id=bed_id, made_at=now)
    keeping.keep_plan(key, plan)
    return plan


def run_errand(row: FarmRow, monkeypatch: pytest.MonkeyPatch) -> None:
    """The errand after the night, with plans that are kept already."""
    monkeypatch.setattr(errands, "look_further", lambda *_: 1)
    errands.ERRANDS[errands.FURTHER](JobRun(farm=row, kind=errands.FURTHER, key="k"),
                                     wiring.clock())  # fmt: skip


def lead_of(row: FarmRow) -> Lead:
    now, farm = morning_fake.NOW, farm_of_row(row)
    log, recorded = DbLog(row).read_log(farm, now), DbWeather(row).recorded(now)
    return leading(farm, log, recorded, now, wiring.keeping_of(row))


def write_feed(row: FarmRow, bed_id: str) -> None:
    raw = {"kind": "feed", "bed": bed_id, "at": morning_fake.NOW - dt.timedelta(hours=1),
           "parts": [{"material": "food_bread", "mass_kg": 0.5}]}  # fmt: skip
    record_entry(DbLog(row), farm_of_row(row), raw, INES, morning_fake.NOW)


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


def test_dates_kept_stand_on_the_page_while_they_are_fresh(
    farm_row: FarmRow, told: Morning, as_: Callable[[str], Client]
) -> None:
    bed = told.beds[0].bed_id
    keeping = wiring.keeping_of(farm_row)
    keeping.keep_dates("k", dates(bed, told.now))
    page = as_("keeper").get(reverse("bed", args=[farm_row.slug, bed])).content.decode()
    assert "The bank side can be taken" in page
    keeping.keep_dates("k", dates(bed, told.now - dt.timedelta(days=20)))
    again = wiring.last_morning(farm_row)
    assert again is not None
    assert not again.morning.dates


def test_after_the_errand_the_plan_leads_everywhere(
    farm_row: FarmRow, told: Morning, as_: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    bed, other = told.beds[0].bed_id, told.beds[1].bed_id
    drawn: list[int] = []
    monkeypatch.setattr(errands, "draw_safely", drawn.append)
    before = AdviceGiven.objects.get(bed=other)
    keep_plan(farm_row, bed, COVERED, fed(zone="race-1"), fed(on_day=7, zone="race-1"))
    run_errand(farm_row, monkeypatch)

    runs = list(OutlookRun.objects.filter(farm=farm_row).order_by("pk"))
    assert [run.made_at for run in runs] == [told.now, told.now]
    assert (runs[0].inputs, runs[0].weather_note) == (runs[1].inputs, runs[1].weather_note)
    assert AdviceGiven.objects.get(bed=other).pk == before.pk  # its number went along
    assert AdviceGiven.objects.filter(bed=bed).count() == 2  # what was said first stays on record
    assert drawn == [farm_row.pk]
    back = wiring.last_morning(farm_row)
    assert back is not None
    assert back.is_current
    advice = back.morning.beds[0].advice
    assert (advice.leads, advice.action.kind, len(advice.also)) == ("plan", "cover", 1)
    assert wiring.keeping_of(farm_row).morning(told.now) == back.morning.beds

    keeper, headline = as_("keeper"), f"{COVERED.words} Feed race-1"
    for page in ("today", "bed"):
        args = [farm_row.slug, bed] if page == "bed" else [farm_row.slug]
        html = keeper.get(reverse(page, args=args)).content.decode()
        assert headline in html
        assert "This follows the fortnight&#x27;s plan." in html or (
            "This follows the fortnight&#39;s plan." in html
        )
        assert "The quick advice weighs single acts and says: Lay 5 cm" in html
    told_by_api = keeper.get("/api/v1/farms/mill/today").json()
    (mine,) = [one["advice"] for one in told_by_api["beds"] if one["bed"] == bed]
    assert (mine["leads"], mine["headline"]) == ("plan", advice.headline)
    chores = {event.day: event for event in wiring.calendar_events(farm_row)
              if event.bed_id == bed and event.kind == "chore"}
    assert headline in chores[told.now.date()].title
    week = told.now.date() + dt.timedelta(days=7)
    assert "on day 7" in chores[week].title
    assert not chores[week].alarm

    listed = keeper.get(reverse("scores", args=[farm_row.slug])).context["rows"]
    assert [one["headline"] for one in listed] == [one.advice.headline
                                                   for one in back.morning.beds]

    run_errand(farm_row, monkeypatch)  # once more changes nothing
    assert OutlookRun.objects.filter(farm=farm_row).count() == 2


def test_what_somebody_answered_stays(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = AdviceGiven.objects.get(bed=told.beds[0].bed_id)
    DbAdvice(farm_row).note_answer(given.pk, "skipped", [], INES, told.now)
    keep_plan(farm_row, given.bed, COVERED)
    run_errand(farm_row, monkeypatch)
    assert OutlookRun.objects.filter(farm=farm_row).count() == 1
    back = wiring.last_morning(farm_row)
    assert back is not None
    assert back.morning.beds[0].advice == told.beds[0].advice


def test_where_something_was_written_since_the_next_outlook_decides(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    bed, other = told.beds[0].bed_id, told.beds[1].bed_id
    for one in (bed, other):
        keep_plan(farm_row, one, COVERED)
    write_feed(farm_row, bed)
    run_errand(farm_row, monkeypatch)
    assert OutlookRun.objects.filter(farm=farm_row).count() == 1
    lead = lead_of(farm_row)
    fallen = lead(told.beds[0]).advice
    assert fallen == outdated(told.beds[0].advice)  # names what happened, and flips to the quick
    assert lead(told.beds[1]).advice.leads == "plan"  # nothing was written about this one


def test_an_outlook_later_in_the_day_stays_with_the_plan(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    bed = told.beds[0].bed_id
    plan = keep_plan(farm_row, bed, COVERED)

    def told_again(*given: object) -> Morning:
        lead = given[-1]
        assert callable(lead)
        return replace(told, beds=tuple(lead(one) for one in told.beds))

    monkeypatch.setattr(nightly, "morning", told_again)
    found = nightly.work_out(wiring.stores_of(farm_row), told.now)
    assert found.beds[0].advice.effect == plan.effect
    assert [one.advice.leads for one in found.beds] == ["plan", "quick", "quick"]


@pytest.mark.parametrize("made", [dt.timedelta(days=-1), dt.timedelta(hours=1)])
def test_a_plan_of_another_day_or_a_later_hour_is_none(
    farm_row: FarmRow, told: Morning, made: dt.timedelta
) -> None:
    keeping = wiring.keeping_of(farm_row)
    keeping.keep_plan("k", plan_of(COVERED, bed_id=told.beds[0].bed_id, made_at=told.now + made))
    assert lead_of(farm_row)(told.beds[0]) is told.beds[0]


def test_a_chore_is_as_old_as_the_morning_that_first_asked_for_it(
    farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The quick advice that the plan took the lead of does not make the chore a new one."""
    bed = told.beds[0]
    led = led_by(plan_of(COVERED, bed_id=bed.bed_id), bed.advice)
    yesterday = told.now - dt.timedelta(days=1)
    keeping = wiring.keeping_of(farm_row)
    keeping.keep_advice([replace(led, made_at=yesterday)])
    keeping.keep_morning(yesterday, (replace(bed, advice=led),))
    quick = replace(bed.advice, action=fed(), headline="Feed.")
    keeping.keep_advice([quick])
    keeping.keep_morning(told.now, (replace(bed, advice=quick),))
    keep_plan(farm_row, bed.bed_id, COVERED)
    run_errand(farm_row, monkeypatch)
    before = DbAlerts(farm_row).before(told.farm, told.now)
    assert before.asked[bed.bed_id] == yesterday.date()


def test_a_folder_brings_its_plans_along(
    db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a folder's plan leads stays led by it on the server, and after its next outlook."""
    few = morning.farm_members(8)
    for module in (beds_now, morning):
        monkeypatch.setattr(module, "farm_members", lambda: few)
    quick = Effort(few=3, some=4, together=4, least=0, kept_some=4, feeds=6, fresh=20)
    monkeypatch.setattr(plan_search, "Effort", lambda: quick)
    folder = tmp_path / "mill"
    folder.mkdir()
    now = dt.datetime(2025, 5, 20, 12, tzinfo=dt.UTC)
    meal = feed("f1", "2025-05-12T09:00:00Z", 0.8, zone="race")
    write_farm(folder, TWO_SIDES, [meal])
    (folder / "as_of.txt").write_text(now.isoformat(), "utf-8")
    farm = FarmFolder(folder).load_farm()
    plans_of(farm, FarmFolder(folder).read_log(farm, now), recorded_weather(folder, farm.site), now,
             FolderAhead(folder))  # fmt: skip
    (led,) = morning_in(folder, now).beds
    assert led.advice.leads == "plan"

    row = FarmRow.objects.get(slug=take_in(folder).slug)
    back = wiring.last_morning(row)
    assert back is not None
    assert [bed.advice for bed in back.morning.beds] == [led.advice]
    log, recorded = DbLog(row).read_log(farm, now), DbWeather(row).recorded(now)
    lead = leading(farm_of_row(row), log, recorded, now, wiring.keeping_of(row))
    plain = replace(led, advice=replace(led.advice, leads="quick", lead_words=""))
    assert lead(plain).advice.leads == "plan"


def test_a_plan_with_nothing_today_says_when_next_and_asks_for_no_done(
    farm_row: FarmRow, told: Morning, as_: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    today, keeper = reverse("today", args=[farm_row.slug]), as_("keeper")
    assert keeper.get(today).content.decode().count(">Left it<") == 1
    keep_plan(farm_row, told.beds[0].bed_id, fed(on_day=3, zone="race-1"))
    run_errand(farm_row, monkeypatch)
    page = keeper.get(today).content.decode()
    assert page.count(">Left it<") == 2
    assert "Nothing today. Feed race-1: 1.0 kg on day 3." in page
