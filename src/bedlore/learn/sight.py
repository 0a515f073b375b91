"""How a reading is seen by the smoother and by the correction: what all kinds share.

Every reading has a *latent*, a number ``[M]`` that the ensemble predicts, and tells how the value
written down follows from it: a number with error, a word between cut points, or a count. The
smoother uses the interval form (:class:`Sight`), the correction the exact likelihood.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.moment import Moment
from bedlore.learn.unknowns import Unknown

Floats = NDArray[np.float64]
View = Callable[[str], Floats]  # standard normal value [M] of a nuisance by name
About = Literal["temp", "air", "moisture", "food", "count", "amount", "smell"]
THERMOMETERS: tuple[About, ...] = ("temp", "air")


@dataclass(frozen=True)
class Sight:
    """A reading as an interval of its latent: the eye's error ``sd``, then ``low`` to ``high``.

    ``latent``, ``low`` and ``high`` are ``[M]``; ``robust`` lets a reading far off lose weight.
    ``step``, where a likelihood is neither, is Newton's way ``[M]`` to its top and its curvature
    ``[M]`` there; low and high are then only for show.
    """

    latent: Floats
    low: Floats
    high: Floats
    sd: float
    robust: bool = False
    step: tuple[Floats, Floats] | None = None


class Reading(Protocol):
    """What the smoother needs of a reading."""

    @property
    def entry_id(self) -> str: ...
    @property
    def hour(self) -> int: ...
    @property
    def zones(self) -> tuple[int, ...]: ...
    @property
    def about(self) -> About: ...
    @property
    def series(self) -> str:
        """Readings of one series share their errors: the device, the keeper, the stage."""
        ...

    def nuisances(self) -> tuple[Unknown, ...]: ...
    def predict(self, moment: Moment, view: View) -> Floats:
        """The latent ``[M]``."""
        ...

    def sight(self, latent: Floats, view: View) -> Sight: ...
    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Exact log-likelihood ``[M]`` of the value written down."""
        ...


@dataclass(frozen=True)
class Place:
    """Where and when a reading was taken: ``hour`` of the bed's history, ``zones`` positions."""

    entry_id: str
    hour: int
    zones: tuple[int, ...]


def exactly(value: float, latent: Floats) -> tuple[Floats, Floats]:
    """The interval of a number: it begins and ends there."""
    there = np.full(len(latent), value)
    return there, there
