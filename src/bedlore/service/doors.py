"""Invitations, passcodes, API tokens and calendar addresses: given, used, taken back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.say import say
from bedlore.service.rights import ROLES, SCOPES, Role
from bedlore.service.secrets import Secret, digest_of, new_secret

INVITATION_DAYS = 14
MIN_PASSCODE = 6
MAX_NAME = 120
_GONE = say("This link is no longer good: it was used, taken back, or is too old.")


@dataclass(frozen=True)
class Invited:
    """What an open invitation offers."""

    number: int
    farm_id: int
    farm_name: str
    role: Role


@dataclass(frozen=True)
class TokenHolder:
    """Whom a token of the API speaks for; ``farm_id`` None means all farms of the account."""

    account_id: int
    farm_id: int | None
    scopes: frozenset[str]


class Doors(Protocol):
    """Keeps digests of secrets and what they open."""

    def add_invitation(self, farm_id: int, role: Role, digest: str, by: int, now: dt.datetime,
                       ends_at: dt.datetime) -> int:  # fmt: skip
        """Stores an invitation; returns its number."""
        ...

    def open_invitation(self, digest: str, now: dt.datetime) -> Invited | None:
        """The invitation with this digest while it is good."""
        ...

    def use_invitation(self, number: int, account_id: int, now: dt.datetime) -> bool:
        """Gives the role, once; False when somebody was faster. A higher role is kept."""
        ...

    def add_token(self, account_id: int, farm_id: int | None, name: str, digest: str,
                  scopes: frozenset[str], now: dt.datetime,
                  ends_at: dt.datetime | None) -> int:  # fmt: skip
        """Stores a token; returns its number."""
        ...

    def holder_of_token(self, digest: str, now: dt.datetime) -> TokenHolder | None:
        """Whom the token speaks for while it is good; notes its use."""
        ...

    def add_feed(self, farm_id: int, account_id: int, digest: str, now: dt.datetime) -> int:
        """Stores a calendar address; returns its number."""
        ...

    def farm_of_feed(self, digest: str, now: dt.datetime) -> int | None:
        """The farm behind a calendar address while it and the membership are good."""
        ...

    def set_passcode(self, farm_id: int, passcode: str | None, role: Role,
                     now: dt.datetime) -> None:  # fmt: skip
        """Sets the household's passcode (slowly hashed), or closes that door."""
        ...


def invite(
    doors: Doors, farm_id: int, role: Role, by: int, now: dt.datetime
) -> tuple[int, Secret]:
    """An invitation to ``role``; its secret is for the link and is shown once."""
    if role not in ROLES:
        raise FaultList([Fault("role", say("Choose one of {roles}.", roles=", ".join(ROLES)))])
    secret = new_secret("join")
    ends = now + dt.timedelta(days=INVITATION_DAYS)
    return doors.add_invitation(farm_id, role, secret.digest, by, now, ends), secret


def look_at_invitation(doors: Doors, secret: str, now: dt.datetime) -> Invited:
    """What the link offers; raises :class:`KeeperError` when it is no longer good."""
    found = doors.open_invitation(digest_of(secret), now)
    if found is None:
        raise KeeperError(_GONE, fix=say("Ask the keeper for a new one."))
    return found


def accept(doors: Doors, secret: str, account_id: int, now: dt.datetime) -> Invited:
    """Joins the farm."""
    found = look_at_invitation(doors, secret, now)
    if not doors.use_invitation(found.number, account_id, now):
        raise KeeperError(_GONE, fix=say("Ask the keeper for a new one."))
    return found


def issue_token(
    doors: Doors, account_id: int, farm_id: int | None, name: str, scopes: Iterable[str],
    now: dt.datetime, days: int | None = None,
) -> tuple[int, Secret]:  # fmt: skip
    """A token of the API that may do what ``scopes`` say (read, log, keep), and never more than
    its owner; shown once."""
    wanted = frozenset(scopes)
    faults = []
    if not wanted or not wanted <= set(SCOPES):
        faults.append(Fault("scopes", say("Choose from {scopes}.", scopes=", ".join(SCOPES))))
    if not name.strip() or len(name) > MAX_NAME:
        faults.append(Fault("name", say("Give it a name of up to 120 characters, such as what"
                                        " it is used by.")))  # fmt: skip
    if days is not None and not 1 <= days <= 3660:
        faults.append(Fault("days", say("Write a number of days from 1 to 3660, or leave it"
                                        " empty.")))
    if faults:
        raise FaultList(faults)
    secret = new_secret("bedlore")
    ends = now + dt.timedelta(days=days) if days is not None else None
    number = doors.add_token(
        account_id, farm_id, name.strip(), secret.digest, wanted, now, ends
    )
    return number, secret


def open_calendar(
    doors: Doors, farm_id: int, account_id: int, now: dt.datetime
) -> tuple[int, Secret]:
    """A private address of the farm's calendar; shown once."""
    secret = new_secret("calendar")
    return doors.add_feed(farm_id, account_id, secret.digest, now), secret


def set_passcode(
    doors: Doors, farm_id: int, passcode: str, role: Role, now: dt.datetime
) -> None:
    """Lets the household sign in with ``passcode`` as ``role``."""
    faults = []
    if len(passcode) < MIN_PASSCODE or len(set(passcode)) < 3 or len(passcode) > 128:
        faults.append(Fault("passcode", say("Use at least {min_passcode} characters, not all"
                                            " alike.", min_passcode=MIN_PASSCODE)))
    if role not in ROLES:
        faults.append(Fault("role", say("Choose one of {roles}.", roles=", ".join(ROLES))))
    if faults:
        raise FaultList(faults)
    doors.set_passcode(farm_id, passcode, role, now)
