"""Jobs and how they went."""

from __future__ import annotations

from typing import Any

from django.db import models

from bedlore.store.db.models.farms import FarmRow
from bedlore.store.db.models.said import SaidField


class JobRun(models.Model):
    """A piece of work for a farm: ``kind`` with a ``key`` (a day) happens once.

    ``state``: waiting, running, done, failed (given up). ``sentence`` tells the keeper how it
    went.
    """

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="jobs")
    kind = models.CharField(max_length=16)
    key = models.CharField(max_length=40)
    state = models.CharField(max_length=8, default="waiting")
    tries = models.PositiveIntegerField(default=0)
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    next_try_at = models.DateTimeField(null=True, blank=True)
    sentence: Any = SaidField(blank=True)

    class Meta:
        db_table = "store_job"
        constraints = [
            models.UniqueConstraint(fields=["farm", "kind", "key"], name="store_job_once"),
            models.CheckConstraint(
                condition=models.Q(state__in=["waiting", "running", "done", "failed"]),
                name="store_known_state"),
        ]  # fmt: skip
        indexes = [models.Index(fields=["farm", "-asked_at"], name="store_job_latest")]
