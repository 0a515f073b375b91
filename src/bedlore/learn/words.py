"""Readings in words: squeeze test, food left, smell. Ordered probit with lapses.

Categories are not numbers 1, 2, 3: their widths differ and the ends are open. Cut points and
their spread are our own proposal; "one or two drops" is common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.densities import normal_between
from bedlore.learn.moment import Moment
from bedlore.learn.sight import About, Place, Sight, View
from bedlore.learn.unknowns import Unknown

Floats = NDArray[np.float64]
SQUEEZE_WORDS = ("crumbly", "damp", "drops", "runs")
SQUEEZE_CUTS = (0.60, 0.70, 0.80)
SQUEEZE_SD, CUT_SD, BIAS_SD, LAPSE = 0.04, 0.03, 0.03, 0.02
FOOD_WORDS = ("none", "some", "lots")
FOOD_CUTS = (math.log(0.10), math.log(0.50))  # of the last feed's soft part
FOOD_SD, FOOD_EYE_SD, FOOD_LAPSE = 0.5, 0.4, 0.03
SMELL_SD, SMELL_LAPSE = 0.7, 0.1
SOUR_SMELT, AMMONIA_SMELT_MG_G = 2.0, 0.5  # assumed


def _word_log_likelihood(latent: Floats, low: Floats, high: Floats, sd: float, words: int,
                         lapse: float) -> Floats:  # fmt: skip
    """Ordered probit: between the cut points, with a share of answers given at random."""
    inside = normal_between((low - latent) / sd, (high - latent) / sd)
    return np.asarray(np.log((1.0 - words * lapse) * inside + lapse))


@dataclass(frozen=True)
class SqueezeTest(Place):
    """A handful squeezed: cut points of the words are learnt, and each keeper's bias."""

    word: str
    depth_m: float = 0.1
    who: str = ""
    about: ClassVar[About] = "moisture"

    @property
    def series(self) -> str:
        """The keeper."""
        return f"squeeze:{self.who or 'keeper'}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """The keeper's bias and the three cut points."""
        cuts = (Unknown(f"squeeze_cut:{i}", "keeper") for i in range(len(SQUEEZE_CUTS)))
        return (Unknown(self.series, "keeper"), *cuts)

    def predict(self, moment: Moment, view: View) -> Floats:
        """Moisture ``[M]`` as this hand feels it."""
        felt = moment.moisture_frac(self.zones, self.depth_m)
        return np.asarray(felt + BIAS_SD * view(self.series))

    def _cuts(self, view: View, members: int) -> Floats:
        """Cut points ``[3, M]``, in order."""
        cuts = [c + CUT_SD * view(f"squeeze_cut:{i}") for i, c in enumerate(SQUEEZE_CUTS)]
        return np.sort(np.stack(cuts), axis=0)

    def _bounds(self, latent: Floats, view: View) -> tuple[Floats, Floats]:
        cuts = self._cuts(view, len(latent))
        edges = [np.full(len(latent), -np.inf), *cuts, np.full(len(latent), np.inf)]
        at = SQUEEZE_WORDS.index(self.word)
        return edges[at], edges[at + 1]

    def sight(self, latent: Floats, view: View) -> Sight:
        """Between two cut points."""
        return Sight(latent, *self._bounds(latent, view), SQUEEZE_SD)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Ordered probit with lapse."""
        low, high = self._bounds(latent, view)
        return _word_log_likelihood(latent, low, high, SQUEEZE_SD, len(SQUEEZE_WORDS), LAPSE)


@dataclass(frozen=True)
class FoodLeft(Place):
    """Food left of the last feed (``last_feed_kg`` soft carbon): none, some or lots."""

    word: str
    last_feed_kg: float
    who: str = ""
    about: ClassVar[About] = "food"

    @property
    def series(self) -> str:
        """The keeper."""
        return f"food_eye:{self.who or 'keeper'}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """What the keeper still calls food."""
        return (Unknown(self.series, "keeper"),)

    def predict(self, moment: Moment, view: View) -> Floats:
        """Log share of the last feed's soft part that is still there ``[M]``."""
        share = moment.soft_food_kg(self.zones) / self.last_feed_kg
        return np.asarray(np.log(share + 1e-3) + FOOD_EYE_SD * view(self.series))

    def _bounds(self, latent: Floats) -> tuple[Floats, Floats]:
        edges = (-np.inf, *FOOD_CUTS, np.inf)
        at = FOOD_WORDS.index(self.word)
        return np.full(len(latent), edges[at]), np.full(len(latent), edges[at + 1])

    def sight(self, latent: Floats, view: View) -> Sight:
        """Between two cut points."""
        return Sight(latent, *self._bounds(latent), FOOD_SD)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Ordered probit with lapse."""
        low, high = self._bounds(latent)
        return _word_log_likelihood(latent, low, high, FOOD_SD, len(FOOD_WORDS), FOOD_LAPSE)


@dataclass(frozen=True)
class Smell(Place):
    """Whether the bed smells ``sour`` or ``sharp`` (``seen``), against an index with a wide eye."""

    what: Literal["sour", "sharp"]
    seen: bool
    about: ClassVar[About] = "smell"

    @property
    def series(self) -> str:
        """The kind of smell."""
        return f"smell:{self.what}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """None."""
        return ()

    def predict(self, moment: Moment, view: View) -> Floats:
        """Log of the index over what is smelt ``[M]``."""
        if self.what == "sour":
            return np.asarray(np.log((moment.sourness(self.zones) + 0.05) / SOUR_SMELT))
        return np.asarray(np.log((moment.ammonia_mg_g(self.zones) + 0.01) / AMMONIA_SMELT_MG_G))

    def _bounds(self, latent: Floats) -> tuple[Floats, Floats]:
        low, high = (0.0, np.inf) if self.seen else (-np.inf, 0.0)
        return np.full(len(latent), low), np.full(len(latent), high)

    def sight(self, latent: Floats, view: View) -> Sight:
        """Above or below what is smelt."""
        return Sight(latent, *self._bounds(latent), SMELL_SD)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Probit with lapse."""
        low, high = self._bounds(latent)
        return _word_log_likelihood(latent, low, high, SMELL_SD, 2, SMELL_LAPSE)
