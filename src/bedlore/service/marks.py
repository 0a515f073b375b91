"""The marks nailed on beds: a numeral in a shape, so that they differ without reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm

SHAPES = ("round", "square", "triangle", "diamond", "hexagon")


@dataclass(frozen=True)
class Marked:
    """A bed with its mark; ``number`` is its place in the farm file, from 1."""

    bed: Bed
    number: int

    @property
    def shape(self) -> str:
        """The shape around the numeral."""
        return SHAPES[(self.number - 1) % len(SHAPES)]

    def account(self) -> dict[str, Any]:
        """Which bed it is, as plain data."""
        return {"bed": self.bed.id, "name": self.bed.name, "mark": self.number,
                "mark_shape": self.shape}  # fmt: skip


def marked_beds(farm: Farm) -> list[Marked]:
    """The beds in the order of the farm file, with their marks."""
    return [Marked(bed, number) for number, bed in enumerate(farm.beds, start=1)]


def marks(farm: Farm) -> dict[str, Marked]:
    """The same by bed id."""
    return {one.bed.id: one for one in marked_beds(farm)}
