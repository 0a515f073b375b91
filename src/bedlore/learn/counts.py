"""Counts and amounts: cores, weighed worms, harvests, depth and weighed moisture.

Catchability Beta(18,2) of adults, Beta(6,4) of the young, Beta(4,6) of hatchlings and cocoons;
clumping of counts log-normal around 1.5 by a factor e^0.6: our own proposals (assumed).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.facts.practice import HANDFUL_L
from bedlore.learn.densities import negative_binomial_logpmf, normal_logpdf
from bedlore.learn.moment import STAGES, Moment
from bedlore.learn.sight import About, Place, Reading, Sight, View, exactly
from bedlore.learn.unknowns import Unknown

Floats = NDArray[np.float64]
LAPSE = 0.02  # a word written down in error
# Mean and sd of the logit of the catch: the Beta priors above, by hand.
CATCH_LOGIT = {"adults": (2.3, 0.75), "juveniles": (0.43, 0.68), "hatchlings": (-0.43, 0.68),
               "cocoons": (-0.43, 0.68)}  # fmt: skip
CLUMP_MEDIAN, CLUMP_LOG_SD = 1.5, 0.6
DEPTH_SD_M, WEIGHED_SD = 0.02, 0.02


def catch_of(stage: str, z: Floats) -> Floats:
    """Share of a stage that is found in a core, at standard normal ``z``."""
    middle, sd = CATCH_LOGIT[stage]
    return np.asarray(1.0 / (1.0 + np.exp(-(middle + sd * z))))


def clumping_of(z: Floats) -> Floats:
    """Size of the negative binomial: small when worms sit in clumps."""
    return np.asarray(CLUMP_MEDIAN * np.exp(CLUMP_LOG_SD * z))


@dataclass(frozen=True)
class CoreCount(Place):
    """A count of one or more stages in ``volume_l``: negative binomial around catch x density."""

    count: int
    volume_l: float
    stages: tuple[str, ...]
    about: ClassVar[About] = "count"

    @property
    def series(self) -> str:
        """The stages counted together."""
        return f"core:{'+'.join(self.stages)}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """Catch of each stage, and clumping."""
        catches = (Unknown(f"catch:{stage}", "counting") for stage in self.stages)
        return (*catches, Unknown("clumping", "clumping"))

    def predict(self, moment: Moment, view: View) -> Floats:
        """Log of the mean count ``[M]``."""
        found = sum(
            catch_of(stage, view(f"catch:{stage}")) * moment.number(stage, self.zones)
            for stage in self.stages
        )
        mean = found * self.volume_l / np.maximum(moment.volume_l(self.zones), 1e-3)
        return np.asarray(np.log(mean + 1e-3))

    def sight(self, latent: Floats, view: View) -> Sight:
        """Newton's step on the log of the mean: bounded either way when worms are clumped."""
        mean, size = np.exp(latent), float(np.median(clumping_of(view("clumping"))))
        thin = 1.0 + mean / size
        slope = (self.count - mean) / thin
        curvature = mean * (1.0 + self.count / size) / thin**2
        # Far from the top the likelihood runs straight: the step ends at the count itself, and
        # the curvature grows so that the slope stays what it is.
        most = np.abs(np.log((self.count + 0.5) / mean)) + 0.5
        curvature = np.maximum(curvature, np.abs(slope) / most)
        spread = math.sqrt(1.0 / (self.count + 1.0) + 1.0 / size)
        # For show, what means the count may well stand for: none found may mean few or none.
        low = np.full(len(latent), math.log(self.count) if self.count else -np.inf)
        high = np.full(len(latent), math.log(self.count + 1.0))
        return Sight(latent, low, high, spread, step=(slope / curvature, curvature))

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Negative binomial."""
        return negative_binomial_logpmf(self.count, np.exp(latent), clumping_of(view("clumping")))


@dataclass(frozen=True)
class Amount(Place):
    """A positive amount with a relative error (sd of its logarithm): harvest mass, worm mass."""

    value: float
    error_frac: float
    what: Literal["harvest", "core_worms"]
    share: float = 1.0  # of the zones, or the core's volume in litres
    about: ClassVar[About] = "amount"

    @property
    def series(self) -> str:
        """What is weighed."""
        return self.what

    def nuisances(self) -> tuple[Unknown, ...]:
        """Catch of the stages in a core; none for a harvest."""
        if self.what == "harvest":
            return ()
        return tuple(Unknown(f"catch:{stage}", "counting") for stage in STAGES[:3])

    def predict(self, moment: Moment, view: View) -> Floats:
        """Log of the amount ``[M]``."""
        if self.what == "harvest":
            return np.asarray(np.log(self.share * moment.wet_mass_kg(self.zones) + 1e-6))
        found = sum(
            catch_of(stage, view(f"catch:{stage}")) * moment.stage_kg(stage, self.zones)
            for stage in STAGES[:3]
        )
        kg = found * self.share / np.maximum(moment.volume_l(self.zones), 1e-3)
        return np.asarray(np.log(kg + 1e-6))

    def sight(self, latent: Floats, view: View) -> Sight:
        """A number with its error, in logarithms."""
        return Sight(latent, *exactly(math.log(self.value), latent), self.error_frac)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Normal in the logarithm."""
        return normal_logpdf(math.log(self.value) - latent, self.error_frac)


@dataclass(frozen=True)
class Measured(Place):
    """A number in SI read straight off: moisture weighed and dried, or depth of the bedding."""

    value: float
    sd: float
    what: Literal["moisture", "depth"]
    depth_m: float | None = None  # of the sample; None is the whole zone
    about: ClassVar[About] = "moisture"

    @property
    def series(self) -> str:
        """What is measured."""
        return f"measured:{self.what}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """None."""
        return ()

    def predict(self, moment: Moment, view: View) -> Floats:
        """Moisture of the zones or their depth ``[M]``."""
        if self.what == "moisture":
            return moment.moisture_frac(self.zones, self.depth_m)
        return moment.depth_m(self.zones)

    def sight(self, latent: Floats, view: View) -> Sight:
        """A number with its error."""
        return Sight(latent, *exactly(self.value, latent), self.sd)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Normal."""
        return normal_logpdf(self.value - latent, self.sd)


@dataclass(frozen=True)
class WormsAtDepth(Place):
    """Worms seen, or not, in a handful (``volume_l``) from ``depth_m``."""

    seen: bool
    depth_m: float
    volume_l: float = HANDFUL_L
    about: ClassVar[About] = "count"
    series: str = field(default="seen_at_depth", init=False)

    def nuisances(self) -> tuple[Unknown, ...]:
        """Clumping."""
        return (Unknown("clumping", "clumping"),)

    def predict(self, moment: Moment, view: View) -> Floats:
        """Log of the mean number in the handful ``[M]``."""
        return np.asarray(
            np.log(self.volume_l * moment.worms_per_l(self.zones, self.depth_m) + 1e-4)
        )

    def sight(self, latent: Floats, view: View) -> Sight:
        """Above or below one worm."""
        low, high = (0.0, np.inf) if self.seen else (-np.inf, 0.0)
        return Sight(latent, np.full(len(latent), low), np.full(len(latent), high), 1.0)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Chance that a clumped count is not zero, with lapse."""
        none = np.exp(negative_binomial_logpmf(0, np.exp(latent), clumping_of(view("clumping"))))
        chance = none if not self.seen else 1.0 - none
        return np.asarray(np.log((1.0 - 2.0 * LAPSE) * chance + LAPSE))


CLUMP_GRID = np.linspace(-3.0, 3.0, 31)


def clumping_log_posterior(readings: Sequence[Reading], latents: Floats) -> Floats:
    """Log of prior times likelihood of the clumping on ``CLUMP_GRID``, ``[M, G]``.

    ``latents`` ``[M, N]`` of ``readings``. The smoother moves unknowns along the latents, and
    clumping moves none; given the latents its posterior is had exactly on a grid.
    """
    sizes = clumping_of(CLUMP_GRID)[None, :]
    total = np.broadcast_to(-0.5 * CLUMP_GRID**2, (len(latents), len(CLUMP_GRID))).copy()
    for i, reading in enumerate(readings):
        if isinstance(reading, CoreCount):
            mean = np.exp(latents[:, i])[:, None]
            total += negative_binomial_logpmf(reading.count, mean, sizes)
    return total


def drawn_clumping(log_posterior: Floats, rng: np.random.Generator) -> Floats:
    """One draw ``[M]`` of the clumping for each member from its own posterior."""
    weight = np.exp(log_posterior - log_posterior.max(axis=1, keepdims=True))
    total = np.cumsum(weight, axis=1)
    at = (total < rng.random(len(total))[:, None] * total[:, -1:]).sum(axis=1)
    step = CLUMP_GRID[1] - CLUMP_GRID[0]
    return np.asarray(CLUMP_GRID[at] + step * (rng.random(len(at)) - 0.5))
