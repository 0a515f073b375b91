"""Messages for the keeper: what is wrong, where, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bedlore.say import again, joined, say, sentences


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with what the keeper wrote.

    ``path`` says where (``beds.sluice.width`` or ``log.csv line 12``), ``sentence`` what is
    wrong and what to do about it.
    """

    path: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.path}: {self.sentence}" if self.path else self.sentence

    @property
    def said(self) -> str:
        """All of it as one text that can be kept and said again."""
        told = {"where": self.path, "told": self.sentence}
        return say("{where}: {told}", **told) if self.path else self.sentence


class KeeperError(Exception):
    """A problem the keeper can mend; shown as a sentence, never as a traceback, to whoever
    listens when it comes up."""

    def __init__(self, message: str, where: str = "", fix: str = "") -> None:
        self.message: str = again(message)
        self.where = where
        self.fix: str = again(fix)
        super().__init__(str(self))

    @property
    def said(self) -> str:
        """All of it as one text that can be kept and said again."""
        told = sentences(self.message, self.fix)
        return say("{where}: {told}", where=self.where, told=told) if self.where else told

    def __str__(self) -> str:
        head = f"{self.where}: {self.message}" if self.where else self.message
        return f"{head} {self.fix}" if self.fix else head


class FaultList(KeeperError):
    """Every fault of one file at once, so that the keeper mends it in one go."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(joined([fault.said for fault in self.faults], "\n"))
