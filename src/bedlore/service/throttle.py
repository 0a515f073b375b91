"""Slows down guessing: too many failed sign-ins for a name or from an address must wait."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Protocol

from bedlore.errors import KeeperError
from bedlore.say import say

WINDOW = dt.timedelta(minutes=15)
MOST_FOR_NAME = 6
MOST_FROM_ADDRESS = 30


class Tries(Protocol):
    """Remembers failed sign-ins."""

    def count(self, key: str, since: dt.datetime) -> int:
        """How many there were."""
        ...

    def add(self, keys: tuple[str, ...], now: dt.datetime) -> None:
        """Remembers one, and forgets those of another day."""
        ...

    def forget(self, key: str) -> None:
        """Forgets those of one key."""
        ...


class TooMany(KeeperError):
    """Too many failed sign-ins."""


def _keys(name: str, address: str) -> tuple[str, str]:
    def digest(text: str) -> str:
        return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()

    # A name is counted with the address, so that a stranger cannot lock its owner out.
    return digest(f"name:{name.strip().lower()}@{address}"), digest(f"address:{address}")


def check_tries(tries: Tries, name: str, address: str, now: dt.datetime) -> None:
    """Raises :class:`TooMany` when another try must wait."""
    by_name, by_address = _keys(name, address)
    since = now - WINDOW
    if (tries.count(by_name, since) >= MOST_FOR_NAME
            or tries.count(by_address, since) >= MOST_FROM_ADDRESS):  # fmt: skip
        raise TooMany(say("There were too many failed tries."),
                      fix=say("Wait a quarter of an hour."))  # fmt: skip


def note_failure(tries: Tries, name: str, address: str, now: dt.datetime) -> None:
    """Remembers a failed sign-in."""
    tries.add(_keys(name, address), now)


def note_success(tries: Tries, name: str, address: str) -> None:
    """Forgets the failures before a sign-in that worked."""
    tries.forget(_keys(name, address)[0])
