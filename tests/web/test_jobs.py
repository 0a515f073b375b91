"""Jobs: asked for once, tried again, and told to the keeper."""

from __future__ import annotations

import datetime as dt
import subprocess

import pytest
from django_tasks_db.models import DBTaskResult

from bedlore.errors import KeeperError
from bedlore.farm.model import Farm
from bedlore.service.morning import Morning
from bedlore.service.nightly import MOST_TRIES, fetch_weather, next_try, night_is_due
from bedlore.store.db.models import FarmRow, JobRun, WeatherPiece
from bedlore.web import tasks, wiring, working
from bedlore.web.working import run_worker
from tests.unit.farm.test_bed import FARM
from tests.unit.weather.test_series import series
from tests.web.conftest import NOW

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_job_is_asked_for_once_and_done(
    farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "_do", lambda job: f"{job.kind} done.")
    first = tasks.ask(farm_row, tasks.NIGHT, "2026-02-01")
    assert tasks.ask(farm_row, tasks.NIGHT, "2026-02-01") == first
    run_worker(once=True)
    job = JobRun.objects.get()
    assert (job.state, job.tries, job.sentence) == ("done", 1, "night done.")
    assert tasks.run_job.call(job.pk) == "not waiting"


def test_a_job_that_fails_is_tried_again_and_then_given_up(
    farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(job: JobRun) -> str:
        raise KeeperError("The log cannot be read.") if job.tries < 3 else ZeroDivisionError

    monkeypatch.setattr(tasks, "_do", fail)
    job = tasks.ask(farm_row, tasks.NIGHT, "2026-02-01")
    for tries in range(1, MOST_TRIES + 1):
        tasks.run_job.call(job.pk)
        job.refresh_from_db()
        assert job.tries == tries
        assert job.state == ("failed" if tries == MOST_TRIES else "waiting")
        assert (job.next_try_at is None) == (tries == MOST_TRIES)
        told = "cannot be read" if tries < 3 else "could not be worked out (ZeroDivisionError)"
        assert told in job.sentence
    tasks.ask(farm_row, tasks.NIGHT, "2026-02-01", again=True)
    job.refresh_from_db()
    assert (job.state, job.tries) == ("waiting", 0)


def test_waits_grow_and_end() -> None:
    waits = [next_try(tries, NOW) for tries in range(1, MOST_TRIES)]
    assert None not in waits
    assert waits == sorted(waits)  # type: ignore[type-var]
    assert next_try(MOST_TRIES, NOW) is None


def test_a_job_whose_worker_died_is_picked_up(farm_row: FarmRow) -> None:
    job = tasks.ask(farm_row, tasks.NIGHT, "x")
    JobRun.objects.update(state="running", started_at=wiring.clock() - dt.timedelta(hours=2))
    assert tasks.look_round() >= 1
    job.refresh_from_db()
    assert job.state == "waiting"


def test_a_worker_that_starts_puts_back_what_the_one_before_left(farm_row: FarmRow) -> None:
    job = tasks.ask(farm_row, tasks.NIGHT, "x")
    DBTaskResult.objects.get().claim("somebody")
    JobRun.objects.update(state="running", started_at=wiring.clock())
    assert tasks.put_back(lambda _: False) == 0
    assert tasks.put_back(lambda worker: worker == "somebody") == 1
    job.refresh_from_db()
    assert job.state == "waiting"
    states = sorted(DBTaskResult.objects.values_list("status", flat=True))
    assert states == ["FAILED", "READY"]
    assert tasks.put_back(lambda _: True) == 0


def test_a_worker_is_gone_only_when_it_was_here() -> None:
    with subprocess.Popen(["true"]) as process:
        process.wait()
        number = process.pid
    here = working._own_id().partition("@")[2]
    assert working.is_gone(f"{number}-a1@{here}")
    assert not working.is_gone(working._own_id())
    assert not working.is_gone(f"{number}-a1@another-machine")
    assert not working.is_gone("not a worker")
    assert len(working._own_id()) <= 64


def test_a_worker_told_to_stop_gives_its_job_back(
    farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(job: JobRun) -> str:
        raise SystemExit(0)

    monkeypatch.setattr(tasks, "_do", stop)
    job = tasks.ask(farm_row, tasks.NIGHT, "x")
    assert tasks.run_job.call(job.pk) == "put back"
    job.refresh_from_db()
    assert (job.state, job.tries) == ("waiting", 0)
    assert DBTaskResult.objects.ready().count() == 2  # its first turn, and another


def test_each_farm_gets_its_night_by_its_own_clock(farm_row: FarmRow) -> None:
    early = dt.datetime(2026, 2, 2, 2, 30, tzinfo=dt.UTC)  # half past three at the mill
    assert night_is_due(FARM, frozenset(), early) is None
    late = early + dt.timedelta(hours=1)
    assert night_is_due(FARM, frozenset(), late) == "2026-02-02"
    assert night_is_due(FARM, frozenset({"2026-02-02"}), late) is None
    assert tasks.look_round(late) == 1
    assert tasks.look_round(late + dt.timedelta(minutes=1)) == 0
    assert JobRun.objects.get().key == "2026-02-02"


def test_where_time_stands_still_what_lies_further_ahead_is_asked_for_once(
    farm_row: FarmRow, told: Morning
) -> None:
    """The invented farm comes with its outlook, and gets no night."""
    assert tasks.look_round(told.now) == 2
    assert sorted(JobRun.objects.values_list("kind", flat=True)) == ["further", "shelter"]
    assert tasks.look_round(told.now + dt.timedelta(days=3)) == 0
    JobRun.objects.filter(kind="shelter").delete()  # a farm from before there was such a job
    assert tasks.look_round(told.now + dt.timedelta(days=4)) == 1


class FakeService:
    def __init__(self, works: bool) -> None:
        self.works = works

    def forecast(self, farm: Farm):
        return (series(48, NOW), "Two days ahead.") if self.works else (None, "No forecast.")


def test_the_forecast_is_kept_and_becomes_the_past(farm_row: FarmRow) -> None:
    stores = wiring.stores_of(farm_row)
    assert "No weather service" in fetch_weather(stores, None, NOW)
    assert fetch_weather(stores, FakeService(False), NOW) == "No forecast."
    assert not WeatherPiece.objects.exists()
    fetch_weather(stores, FakeService(True), NOW)
    known = stores.weather.recorded(NOW)
    assert known.series is None
    assert known.known.forecast is not None
    assert len(known.known.forecast) == 48
    later = stores.weather.recorded(NOW + dt.timedelta(hours=20))
    assert later.series is not None
    assert len(later.series) == 20
    measured = series(10, NOW, temp_c=-7.0)
    stores.weather.add(measured, "record", NOW + dt.timedelta(hours=11))
    joined = stores.weather.recorded(NOW + dt.timedelta(hours=20)).series
    assert joined is not None
    assert list(joined.temp_c[:10]) == list(measured.temp_c)
    assert list(joined.temp_c[10:]) == list(later.series.temp_c[10:])
    old = stores.weather.recorded(NOW + dt.timedelta(days=9))
    assert old.known.forecast is None
    assert any("days old" in note for note in old.notes)


def test_typed_days_count_newest_first(farm_row: FarmRow) -> None:
    weather = wiring.stores_of(farm_row).weather
    weather.type_days("2026-02-02: -7 degC to 2 degC\n2026-02-03: - to 3 degC", NOW)
    weather.type_days("2026-02-02: 20 degF to 30 degF", NOW + dt.timedelta(hours=1))
    days = weather.recorded(NOW + dt.timedelta(hours=2)).known.typed
    assert [day.day.day for day in days] == [2, 3]
    assert days[0].low_c == pytest.approx(-6.667, abs=1e-3)
    with pytest.raises(KeeperError):
        weather.type_days("tomorrow: cold", NOW)
