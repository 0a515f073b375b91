"""Doors: invitations, household passcodes, tokens of the API, addresses of calendars.

Secrets are kept as digests only (256 random bits need no slow hash; passcodes, which people
choose, get Argon2). A revoked row stays, so that its last use can be seen.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models

from bedlore.store.db.models.farms import FarmRow


class Invitation(models.Model):
    """A link that gives one person a role on a farm, once."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="invitations")
    role = models.CharField(max_length=8)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    ends_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    used_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True,
                                related_name="+")  # fmt: skip
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_invitation"


class Passcode(models.Model):
    """A household's passcode: whoever types it acts as ``account`` on the farm."""

    farm = models.OneToOneField(FarmRow, models.CASCADE, related_name="passcode")
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    hashed = models.CharField(max_length=200)
    set_at = models.DateTimeField()

    class Meta:
        db_table = "store_passcode"


class ApiToken(models.Model):
    """A token of the API. ``scopes``: words of read, log, keep. ``farm`` None: all its farms."""

    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="tokens")
    farm = models.ForeignKey(FarmRow, models.CASCADE, null=True, blank=True)
    name = models.CharField(max_length=120)
    digest = models.CharField(max_length=64, unique=True)
    scopes = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_token"


class CalendarFeed(models.Model):
    """A private address of a farm's calendar."""

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="feeds")
    account = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="feeds")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        db_table = "store_calendar_feed"


class SignInTry(models.Model):
    """A failed sign-in, by a digest of who or from where; old ones are dropped."""

    key = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        db_table = "store_sign_in_try"
        indexes = [models.Index(fields=["key", "at"], name="store_try_recent")]
