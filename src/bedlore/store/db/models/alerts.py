"""Who wants to be told of frost, heat and overdue chores, how, and what was told."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from bedlore.store.db.models.farms import FarmRow


class AlertSettings(models.Model):
    """One person's wishes for one farm; quiet hours are local times of the farm."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="alert_settings")
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    by_email = models.BooleanField(default=False)
    frost = models.BooleanField(default=True)
    heat = models.BooleanField(default=True)
    chores = models.BooleanField(default=True)
    quiet_from = models.TimeField(default="21:00")
    quiet_until = models.TimeField(default="07:00")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        db_table = "store_alert_settings"
        constraints = [models.UniqueConstraint(fields=["farm", "account"],
                                               name="store_alerts_once")]  # fmt: skip


class AlertSent(models.Model):
    """An alert that went out; ``key`` names its subject and day so that it goes out once."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="alerts")
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    key = models.CharField(max_length=120)
    sent_at = models.DateTimeField()

    class Meta:
        db_table = "store_alert_sent"
        constraints = [models.UniqueConstraint(fields=["farm", "account", "key"],
                                               name="store_alert_once")]  # fmt: skip
