"""Accounts, and what each may do on which farm."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.db import models


class Account(AbstractUser):
    """A person, or a household that shares one passcode (``is_household``).

    The units and the language are the person's own; blank follows the farm and the browser.
    """

    units = models.CharField(
        max_length=8, blank=True, choices=[("metric", "metric"), ("us", "US")], default=""
    )
    language = models.CharField(max_length=12, blank=True, default="")
    is_household = models.BooleanField(default=False)

    class Meta:
        db_table = "store_account"

    @property
    def shown_name(self) -> str:
        """What others read: the full name where there is one."""
        return self.get_full_name() or self.username


class Membership(models.Model):
    """A person's role on a farm: keeper, helper or viewer."""

    farm = models.ForeignKey("store.FarmRow", models.CASCADE, related_name="memberships")
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE,
                                related_name="memberships")  # fmt: skip
    role = models.CharField(max_length=8)
    since = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["farm", "account"], name="store_one_role_each"),
            models.CheckConstraint(condition=models.Q(role__in=["keeper", "helper", "viewer"]),
                                   name="store_known_role"),
        ]  # fmt: skip
