"""The log: entries are added and never changed (the database refuses it, see ``guards``)."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from bedlore.store.db.models.farms import FarmRow


class LogEntry(models.Model):
    """One entry as written. ``body`` is the frozen record as JSON.

    ``client_id`` is the name the sending phone gave it, so that sending it twice writes it once;
    ``sent_hash`` tells whether the second sending said the same. ``holds`` follows from later
    corrections and is the only column that changes.
    """

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="entries")
    entry_id = models.CharField(max_length=80)
    client_id = models.CharField(max_length=80, null=True, blank=True)
    sent_hash = models.CharField(max_length=64, blank=True)
    kind = models.CharField(max_length=16)
    bed = models.CharField(max_length=80)
    zone = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()
    written_at = models.DateTimeField()
    written_by = models.CharField(max_length=120, blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True)
    amends = models.CharField(max_length=80, blank=True)
    holds = models.BooleanField(default=True)
    body = models.TextField()

    class Meta:
        db_table = "store_logentry"
        constraints = [
            models.UniqueConstraint(fields=["farm", "entry_id"], name="store_entry_once"),
            models.UniqueConstraint(fields=["farm", "client_id"], name="store_sent_once"),
        ]
        indexes = [
            models.Index(fields=["farm", "holds", "-at", "-id"], name="store_log_by_time"),
            models.Index(fields=["farm", "bed", "holds", "-at", "-id"], name="store_log_by_bed"),
            models.Index(fields=["farm", "kind", "holds", "-at", "-id"], name="store_log_by_kind"),
            models.Index(fields=["farm", "bed", "kind", "holds", "-at"], name="store_log_last"),
            models.Index(fields=["farm", "amends"], name="store_log_amends"),
        ]


class Photo(models.Model):
    """A photograph of an entry; the file lies in the data folder, named by its digest."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="photos")
    entry_id = models.CharField(max_length=80, db_index=True)
    digest = models.CharField(max_length=64)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    added_at = models.DateTimeField()
    added_by = models.CharField(max_length=120, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_photo"
        constraints = [models.UniqueConstraint(fields=["farm", "entry_id", "digest"],
                                               name="store_photo_once")]  # fmt: skip
