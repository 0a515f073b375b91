"""Jobs: asked for once, tried again when they fail, with a sentence on how they went."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable

from django.db import transaction
from django_tasks import TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from bedlore.errors import KeeperError
from bedlore.say import say, say_many, sentences
from bedlore.service.alerts import NotYet
from bedlore.service.nightly import (
    LONGEST_RUN,
    fetch_weather,
    learn_beds,
    learning_is_due,
    next_try,
    night_is_due,
    work_out,
)
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import FarmRow, JobRun, OutlookRun
from bedlore.web import errands, wiring
from bedlore.web.leaves.ahead import draw_safely

log = logging.getLogger(__name__)
NIGHT, OUTLOOK, LEARN = "night", "outlook", "learn"


def ask(row: FarmRow, kind: str, key: str, again: bool = False) -> JobRun:
    """Asks for a job of ``kind`` (``night``, ``outlook`` or ``learn``); one with this key is done
    once.
    ``again`` gives one that failed another chance."""
    now = wiring.clock()
    with transaction.atomic():
        job, is_new = JobRun.objects.get_or_create(
            farm=row, kind=kind, key=key, defaults={"asked_at": now}
        )
        if not is_new and again and job.state == "failed":
            job.state, job.tries, job.asked_at, is_new = "waiting", 0, now, True
            job.save()
        if is_new:
            run_job.enqueue(job.pk)
    return job


def ask_outlook(row: FarmRow) -> JobRun:
    """Asks for a fresh outlook, unless one waits already."""
    waiting = JobRun.objects.filter(farm=row, kind=OUTLOOK, state="waiting").first()
    return waiting or ask(row, OUTLOOK, wiring.clock().isoformat(timespec="milliseconds"))


def ask_learning(row: FarmRow) -> JobRun:
    """Asks for the beds to be learnt from the log, unless that waits already or was done within
    this hour."""
    busy = JobRun.objects.filter(farm=row, kind=LEARN, state__in=("waiting", "running")).first()
    return busy or ask(row, LEARN, wiring.clock().isoformat(timespec="hours"), again=True)


@task()
def run_job(job_id: int) -> str:
    """Does a job that waits, and says how it went; a failed one is tried again later."""
    now = wiring.clock()
    if not JobRun.objects.filter(pk=job_id, state="waiting").update(state="running",
                                                                    started_at=now):  # fmt: skip
        return "not waiting"
    job = JobRun.objects.select_related("farm").get(pk=job_id)
    job.tries += 1
    try:
        job.sentence = _do(job)
        job.state, job.next_try_at = "done", None
    except SystemExit:  # the worker is told to stop; the job is for the next one
        JobRun.objects.filter(pk=job_id).update(state="waiting")
        run_job.enqueue(job_id)
        return "put back"
    except NotYet as wait:
        job.sentence, job.tries = wait.message, job.tries - 1
        _wait(job, wait.until)
    except KeeperError as problem:
        _failed(job, problem.said)
    except Exception as problem:  # whatever it is, the keeper is told and the queue goes on
        log.exception("job %s of farm %s failed", job.kind, job.farm.slug)
        _failed(job, say("It could not be worked out ({name}).", name=type(problem).__name__))
    job.ended_at = wiring.clock()
    job.save()
    return str(job.state)


def _do(job: JobRun) -> str:
    if job.kind in errands.ERRANDS:
        return errands.ERRANDS[job.kind](job, wiring.clock())
    stores = wiring.stores_of(job.farm)
    now = wiring.now_of(job.farm)
    said = []
    if job.kind == NIGHT and job.farm.as_of is None:
        said.append(fetch_weather(stores, wiring.forecaster(), now))
    if job.kind == LEARN:
        learning = learn_beds(stores, now)
        said.append(say_many("One bed was learnt from its log.",
                             "{count} beds were learnt from their logs.", len(learning.beds)))
    told = work_out(stores, now)
    said.append(say_many("One bed was looked at.", "{count} beds were looked at.", len(told.beds)))
    draw_safely(job.farm_id)
    if job.kind == NIGHT:
        for kind, key in errands.after_night(job):
            ask(job.farm, kind, key)
    if job.kind == LEARN:  # plans rest on what was believed of the beds before
        for kind, key in errands.ahead(f"learnt-{job.key}"):
            ask(job.farm, kind, key)
    if job.kind != LEARN and job.farm.as_of is None and learning_is_due(stores, now):
        ask_learning(job.farm)
    return sentences(*said)


def _failed(job: JobRun, sentence: str) -> None:
    job.sentence = sentence
    again_at = None if job.kind in errands.ONCE else next_try(job.tries, wiring.clock())
    if again_at is None:
        job.state, job.next_try_at = "failed", None
    else:
        _wait(job, again_at)


def _wait(job: JobRun, until: dt.datetime) -> None:
    job.state, job.next_try_at = "waiting", until
    run_job.using(run_after=until).enqueue(job.pk)


def put_back(is_gone: Callable[[str], bool]) -> int:
    """Puts jobs back into the queue whose worker ``is_gone``; returns how many. A worker calls
    this when it starts: the one before it may have been cut short."""
    count = 0
    for result in DBTaskResult.objects.running():
        if not result.worker_ids or not is_gone(str(result.worker_ids[-1])):
            continue
        ended = {"status": TaskResultStatus.FAILED, "finished_at": wiring.clock()}
        with transaction.atomic():
            DBTaskResult.objects.filter(pk=result.pk).update(**ended)
            (job_id,) = result.args_kwargs["args"]
            if JobRun.objects.filter(pk=job_id, state="running").update(state="waiting"):
                run_job.enqueue(job_id)
                count += 1
    return count


def look_round(now: dt.datetime | None = None) -> int:
    """Asks for what is due on every farm, and picks up jobs whose worker died; returns how many
    jobs were asked for. A worker calls this every minute."""
    now = now or wiring.clock()
    asked = 0
    lost = JobRun.objects.filter(state="running", started_at__lt=now - LONGEST_RUN)
    for job in lost:
        if JobRun.objects.filter(pk=job.pk, state="running").update(state="waiting"):
            run_job.enqueue(job.pk)
            asked += 1
    for row in FarmRow.objects.all():
        asked += _ask_if_due(row, now)
    return asked


def _ask_if_due(row: FarmRow, now: dt.datetime) -> int:
    jobs = JobRun.objects.filter(farm=row, kind=NIGHT)
    if row.as_of is not None:
        due = None
    else:
        done = jobs.order_by("-asked_at").values_list("key", flat=True)[:5]
        due = night_is_due(farm_of_row(row), frozenset(done), now)
    if due is None and not OutlookRun.objects.filter(farm=row).exists() and not jobs.exists():
        due = f"first-{now:%Y-%m-%d}"
    if due is not None:
        ask(row, NIGHT, due)
        return 1
    return _ask_ahead(row) if row.as_of is not None and not jobs.exists() else 0


def _ask_ahead(row: FarmRow) -> int:
    """Asks once for each job that looks further than the outlook that a farm came with: no night
    comes where time stands still."""
    known = set(JobRun.objects.filter(farm=row).values_list("kind", flat=True).distinct())
    due = [(kind, key) for kind, key in errands.ahead("first") if kind not in known]
    for kind, key in due:
        ask(row, kind, key)
    return len(due)
