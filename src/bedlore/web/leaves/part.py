"""A long row of beds, a page at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Context = dict[str, Any]


@dataclass(frozen=True)
class Part:
    """One page of several over ``count`` things, ``size`` on each; ``place`` counts from 0."""

    place: int
    count: int
    size: int

    def of(self, chores: list[Context]) -> list[str]:
        """The ids of those of ``chores`` that stand on this page."""
        here = chores[self.place * self.size : (self.place + 1) * self.size]
        return [chore["id"] for chore in here]

    @property
    def pages(self) -> list[tuple[int, str, bool]]:
        """(number in the address, ``9–16``, whether it is this one) of each; none when all fit
        on one."""
        if self.count <= self.size:
            return []
        return [
            (first // self.size, f"{first + 1}–{min(first + self.size, self.count)}",
             first // self.size == self.place)
            for first in range(0, self.count, self.size)
        ]  # fmt: skip
