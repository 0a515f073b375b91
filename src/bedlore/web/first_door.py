"""The door for the very first account: open on the machine itself, and to whoever was shown the
address in the machine's own terminal."""

from __future__ import annotations

import datetime as dt
from ipaddress import ip_address

from django.core import signing
from django.http import HttpRequest

from bedlore.store.db.doors import give_role
from bedlore.store.db.models import Account, FarmRow

_SIGNED = signing.TimestampSigner(salt="bedlore.first")
_WORD = "first"
# Where it is. Not looked up: the list of addresses loads the whole application, some 160 MB that
# the process beside the server does not need.
PATH = "/first/"
KEY_LIFE = dt.timedelta(days=1)
_PASSED_ON = ("X-Forwarded-For", "Forwarded")


def nobody_yet() -> bool:
    """Whether this bedlore has no account."""
    return not Account.objects.filter(is_household=False).exists()


def new_key() -> str:
    """A word that opens the door for ``KEY_LIFE``, and only while there is no account."""
    return _SIGNED.sign(_WORD).removeprefix(f"{_WORD}:")


def may_enter(request: HttpRequest) -> bool:
    """Whether the request comes from this machine itself (and was not passed on by a server in
    front of it), or carries a good key."""
    key = request.GET.get("key", "")
    if key:
        try:
            return str(_SIGNED.unsign(f"{_WORD}:{key}", max_age=KEY_LIFE)) == _WORD
        except signing.BadSignature:
            return False
    if any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        return ip_address(str(request.META.get("REMOTE_ADDR", ""))).is_loopback
    except ValueError:
        return False


def give_farms_of_nobody(account: Account, now: dt.datetime) -> None:
    """Makes the first account keeper of the farms that were taken in before there was anybody."""
    for row in FarmRow.objects.filter(memberships=None):
        give_role(account.pk, row.pk, "keeper", now)
