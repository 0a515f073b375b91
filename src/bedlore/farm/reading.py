"""What came of reading a log: the entries, what was wrong, and what was kept aside."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from bedlore.errors import Fault
from bedlore.farm.log import AnyEntry, current_entries


@dataclass(frozen=True)
class KeptLine:
    """A line that could not be used; it stays in its file as it was written."""

    file: str
    line: int
    raw: str


@dataclass(frozen=True)
class LogReading:
    """``entries`` as written, by time, corrections not yet applied (see :attr:`current`).

    ``faults``: what was wrong, each with file and line; ``notes``: what was taken for what, and
    what may be worth a look, in lines that are used; ``kept_aside``: the lines not used. Lists
    of faults, notes and lines are cut at a limit; ``faults_left_out`` tells how many faults
    more there were.
    """

    entries: tuple[AnyEntry, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[Fault, ...] = ()
    kept_aside: tuple[KeptLine, ...] = ()
    faults_left_out: int = 0

    @cached_property
    def current(self) -> list[AnyEntry]:
        """The entries that hold once corrections are applied, by time."""
        return current_entries(self.entries)
