"""Farms as described, every description they ever had, and columns for finding their parts.

:class:`FarmRow.body` is the one truth (the whole :class:`bedlore.farm.model.Farm` as JSON). Beds,
zones and materials are drawn from it into rows of their own whenever it is saved.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class FarmRow(models.Model):
    """A farm. ``version`` grows with each save and guards against two editors at once.

    ``as_of`` is the moment an invented farm is seen at; empty for the clock.
    """

    slug = models.SlugField(max_length=80, unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=64)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField()
    version = models.PositiveIntegerField(default=1)
    body = models.TextField()
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    as_of = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_farm"
        ordering = ("name", "pk")


class FarmVersion(models.Model):
    """A description as it was saved: by whom, when and why."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="versions")
    version = models.PositiveIntegerField()
    body = models.TextField()
    saved_at = models.DateTimeField()
    saved_by = models.CharField(max_length=120, blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True)
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        db_table = "store_farm_version"
        constraints = [models.UniqueConstraint(fields=["farm", "version"],
                                               name="store_farm_version_once")]  # fmt: skip


class BedRow(models.Model):
    """A bed. ``removed_at`` is set when the farm file no longer names it; its log stays."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="beds")
    slug = models.CharField(max_length=80)
    name = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=8)
    place = models.CharField(max_length=8)
    started = models.DateField()
    position = models.PositiveIntegerField()
    version = models.PositiveIntegerField(default=1)
    body = models.TextField()
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_bed"
        ordering = ("position",)
        constraints = [models.UniqueConstraint(fields=["farm", "slug"], name="store_bed_once")]


class BedVersion(models.Model):
    """How a bed was built from ``since`` on: a bed can be rebuilt, a tray added."""

    bed = models.ForeignKey(BedRow, models.CASCADE, related_name="versions")
    version = models.PositiveIntegerField()
    body = models.TextField()
    since = models.DateTimeField()
    saved_by = models.CharField(max_length=120, blank=True)

    class Meta:
        db_table = "store_bed_version"
        ordering = ("version",)
        constraints = [models.UniqueConstraint(fields=["bed", "version"],
                                               name="store_bed_version_once")]  # fmt: skip


class ZoneRow(models.Model):
    """A side's quarter, a tray or a metre of a bed."""

    bed = models.ForeignKey(BedRow, models.CASCADE, related_name="zones")
    slug = models.CharField(max_length=80)
    name = models.CharField(max_length=120, blank=True)
    side = models.CharField(max_length=80, blank=True)
    position = models.PositiveIntegerField()
    active = models.BooleanField()

    class Meta:
        db_table = "store_zone"
        ordering = ("position",)
        constraints = [models.UniqueConstraint(fields=["bed", "slug"], name="store_zone_once")]


class StoreRow(models.Model):
    """A material on hand."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="store")
    position = models.PositiveIntegerField()
    material = models.CharField(max_length=80)
    name = models.CharField(max_length=120, blank=True)
    mass_kg = models.FloatField()
    per_week_kg = models.FloatField()
    hold = models.BooleanField()

    class Meta:
        db_table = "store_material"
        ordering = ("position",)
