"""The log as many people and phones write it at once: records, and the port that keeps it."""

from __future__ import annotations

import datetime as dt
import secrets
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from bedlore.errors import KeeperError
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading


class Changed(KeeperError):
    """Somebody else changed the same thing in the meantime; nothing was written."""


class TakenId(KeeperError):
    """The id stands for something else already; nothing was written."""


@dataclass(frozen=True)
class Author:
    """Who writes: a name to be kept with what is written, and the account behind it."""

    name: str = ""
    account_id: int | None = None


@dataclass(frozen=True)
class ToWrite:
    """An entry to be written. ``client_id`` is the sender's own name for it ("" for none) and
    ``sent_hash`` a digest of what was sent under that name."""

    entry: AnyEntry
    client_id: str = ""
    sent_hash: str = ""


@dataclass(frozen=True)
class Written:
    """An entry as it stands in the book. ``number`` grows with each entry; ``holds`` is False
    once it was corrected or taken back."""

    entry: AnyEntry
    number: int
    written_at: dt.datetime
    written_by: str
    client_id: str = ""
    sent_hash: str = ""
    holds: bool = True


@dataclass(frozen=True)
class Receipt:
    """What became of an entry: ``repeated`` when it had been written before, and what was taken
    for what in it (path, sentence)."""

    written: Written
    repeated: bool = False
    remarks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class LogFilter:
    """Which entries to list; empty means any. ``only_held`` leaves out what was corrected or
    taken back, and voids."""

    bed: str = ""
    zone: str = ""
    kinds: tuple[str, ...] = ()
    since: dt.datetime | None = None
    until: dt.datetime | None = None
    written_by: str = ""
    text: str = ""
    only_held: bool = True


@dataclass(frozen=True)
class Place:
    """A place in the list, newest first: go on behind the entry of this time and number."""

    at: dt.datetime
    number: int


class LogBook(Protocol):
    """Keeps the log of one farm for many writers: entries are added, never changed."""

    def read_log(self, farm: Farm, now: dt.datetime | None = None) -> LogReading:
        """All entries, understood with ``farm``; entries after ``now`` are kept aside."""
        ...

    def append(self, entries: Sequence[AnyEntry]) -> None:
        """Adds ``entries`` for good."""
        ...

    def write(
        self, entries: Sequence[ToWrite], by: Author, now: dt.datetime, must_hold: str = ""
    ) -> list[Receipt]:
        """Adds ``entries`` for good, all or none; each one that was written before is not
        written again. Raises :class:`TakenId`, and :class:`Changed` when the entry
        ``must_hold`` no longer holds."""
        ...

    def find(self, name: str) -> Written | None:
        """The entry with this id, or sent under this client id."""
        ...

    def known(self, entry_ids: Sequence[str]) -> dict[str, AnyEntry]:
        """Those of the entries with these ids that are in the book."""
        ...

    def page(self, wanted: LogFilter, limit: int, behind: Place | None = None) -> list[Written]:
        """Entries by time, newest first."""
        ...

    def chain(self, entry_id: str) -> list[Written]:
        """The entry with all that amends it or that it amends, in order of writing."""
        ...


def new_entry_id(now: dt.datetime) -> str:
    """An id that sorts by the time of writing: of two corrections the later one holds. A farm may
    be seen at a moment that does not pass (``now``), so the clock's own time follows."""
    stamp = f"{now.astimezone(dt.UTC):%Y%m%dt%H%M%S%f}"
    return f"{stamp}-{time.time_ns():016x}{secrets.token_hex(4)}"
