"""Outlooks and advice as they were given, stored before anyone knows how they turn out."""

from __future__ import annotations

from typing import Any

from django.db import models

from bedlore.store.db.models.farms import FarmRow
from bedlore.store.db.models.said import SaidField


class OutlookRun(models.Model):
    """One morning of a farm: seen from ``made_at`` (a whole hour), worked out at ``worked_at``.

    ``inputs`` is a digest of farm, log, weather and program it rests on.
    """

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="runs")
    made_at = models.DateTimeField()
    worked_at = models.DateTimeField()
    version = models.CharField(max_length=40)
    inputs = models.CharField(max_length=64)
    weather_note: Any = SaidField(blank=True)
    kept_aside = models.TextField(default="[]")

    class Meta:
        db_table = "store_outlook_run"
        indexes = [models.Index(fields=["farm", "-made_at", "-id"], name="store_run_latest")]


class BedOutlookRow(models.Model):
    """A bed's part of a run: ``body`` is the zlib-packed JSON of a ``BedMorning``."""

    run = models.ForeignKey(OutlookRun, models.CASCADE, related_name="beds")
    bed = models.CharField(max_length=80)
    odds_cold = models.FloatField()
    odds_hot = models.FloatField()
    odds_sour = models.FloatField()
    body = models.BinaryField()

    class Meta:
        db_table = "store_bed_outlook"
        constraints = [models.UniqueConstraint(fields=["run", "bed"],
                                               name="store_bed_outlook_once")]  # fmt: skip


class AdviceGiven(models.Model):
    """Advice for a bed as given. ``answer`` is what the keeper made of it: done, changed or
    skipped, with the ids of the entries that tell of it in ``entry_id``, a space between."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="advice")
    run = models.ForeignKey(OutlookRun, models.CASCADE, related_name="advice", null=True)
    bed = models.CharField(max_length=80)
    made_at = models.DateTimeField()
    action = models.CharField(max_length=16)
    headline: Any = SaidField()
    body = models.TextField()
    answer = models.CharField(max_length=8, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.CharField(max_length=120, blank=True)
    entry_id = models.CharField(max_length=800, blank=True)

    @property
    def entries(self) -> list[str]:
        """The ids of the entries that tell of the answer."""
        return str(self.entry_id).split()

    class Meta:
        db_table = "store_advice"
        indexes = [models.Index(fields=["farm", "bed", "-made_at"], name="store_advice_latest")]
