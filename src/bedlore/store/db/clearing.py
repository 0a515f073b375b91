"""Clears away what is done with, by a stated rule, so that a small machine never fills up.

An outlook is kept whole for ``WHOLE_D`` days: its window, and a month for late entries. Then of
each bed stay the odds, the advice with its answer, and of the day's first outlook the
thermometers' quantiles, which scoring needs. The newest outlook is always whole. Notes of jobs
stay ``NOTES_D`` days.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db import transaction
from django_tasks_db.models import DBTaskResult

from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.keeping import latest_run
from bedlore.store.db.models import FarmRow, JobRun, OutlookRun
from bedlore.store.db.small_outlooks import made_small
from bedlore.store.learnings import WHOLE_D

NOTES_D = 90
QUEUE_D = 7
MOST_AT_ONCE = 500
SMALL = ""  # in place of the digest of its inputs: nothing is ever taken from it again


@dataclass(frozen=True)
class Cleared:
    """How many beds' outlooks were made small, and how many notes of jobs went."""

    outlooks: int
    jobs: int


def clear(row: FarmRow, now: dt.datetime) -> Cleared:
    """Clears away what is old on a farm; a farm with much to clear is done over several nights.

    ``now`` is the clock's; outlooks of an invented farm age by its own.
    """
    outlooks = _make_outlooks_small(row, row.as_of or now)
    notes = JobRun.objects.filter(farm=row, state__in=("done", "failed"),
                                  ended_at__lt=now - dt.timedelta(days=NOTES_D))  # fmt: skip
    jobs, _ = notes.delete()
    queue = DBTaskResult.objects.filter(finished_at__lt=now - dt.timedelta(days=QUEUE_D))
    queue.delete()
    return Cleared(outlooks, jobs)


def _make_outlooks_small(row: FarmRow, now: dt.datetime) -> int:
    """Empties the bodies of old outlooks but for what scoring needs; returns of how many."""
    latest = latest_run(row)
    if latest is None:
        return 0
    zone = farm_of_row(row).site.zone_info()
    old = OutlookRun.objects.filter(farm=row, made_at__lt=now - dt.timedelta(days=WHOLE_D))
    whole = old.exclude(pk=latest.pk).exclude(inputs=SMALL).order_by("made_at", "pk")
    done = 0
    for run in whole[:MOST_AT_ONCE]:
        is_first = _first_of_day(row, run, zone) == run.pk
        with transaction.atomic():
            for bed in run.beds.all():
                bed.body = made_small(bytes(bed.body)) if is_first else b""
                bed.save(update_fields=["body"])
                done += 1
            run.inputs = SMALL
            run.save(update_fields=["inputs"])
    return done


def _first_of_day(row: FarmRow, run: OutlookRun, zone: ZoneInfo) -> int:
    """The number of the first outlook of the same local day."""
    day = run.made_at.astimezone(zone).date()
    begins = dt.datetime.combine(day, dt.time(), zone)
    ends = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), zone)
    same_day = OutlookRun.objects.filter(farm=row, made_at__gte=begins, made_at__lt=ends)
    return int(same_day.order_by("made_at", "pk").values_list("pk", flat=True)[0])
