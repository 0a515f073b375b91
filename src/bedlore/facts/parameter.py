"""One record for each model parameter: value, range, unit, source, and how it is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Known = Literal["read", "derived", "memory", "common practice", "assumed"]
Transform = Literal["log", "logit", "linear"]


@dataclass(frozen=True)
class Parameter:
    """A parameter of the bed model.

    ``low`` and ``high`` are the 5 % and 95 % points of the prior. ``transform`` names the space
    in which the prior is normal: ``log`` for rates and scales, ``logit`` for fractions between
    0 and 1, ``linear`` otherwise. ``learnt`` tells whether the log of a bed may move it.
    ``source`` is where the figure was found, ``known`` how: ``read`` in the text cited,
    ``derived`` from stated inputs, recalled from ``memory`` (unverified, so wider), ``common
    practice`` without a source, or ``assumed`` by us.
    """

    name: str
    default: float
    low: float
    high: float
    unit: str
    meaning: str
    source: str
    known: Known
    transform: Transform = "log"
    learnt: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.default <= self.high:
            raise ValueError(f"{self.name}: the default lies outside {self.low}..{self.high}")
        if self.transform == "log" and self.low <= 0:
            raise ValueError(f"{self.name}: a log prior needs positive limits")
        if self.transform == "logit" and not 0 < self.low <= self.high < 1:
            raise ValueError(f"{self.name}: a logit prior needs limits between 0 and 1")
