"""What the use cases need from outside, as protocols; adapters live in ``store`` and others."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Protocol

from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading


class Clock(Protocol):
    """Tells the time."""

    def now(self) -> dt.datetime:
        """The present moment, aware, UTC."""
        ...


class FarmStore(Protocol):
    """Keeps the description of one farm."""

    def load_farm(self) -> Farm:
        """The farm; raises :class:`~bedlore.errors.KeeperError` with sentences."""
        ...

    def save_farm(self, farm: Farm) -> None:
        """Replaces the description by ``farm``, all of it or nothing."""
        ...


class LogStore(Protocol):
    """Keeps the log of one farm: entries are added, never changed."""

    def read_log(self, farm: Farm, now: dt.datetime | None = None) -> LogReading:
        """All entries, understood with ``farm``; entries after ``now`` are kept aside."""
        ...

    def append(self, entries: Sequence[AnyEntry]) -> None:
        """Adds ``entries`` for good: when this returns they survive a power cut. Corrections
        are entries that ``amends`` another."""
        ...
