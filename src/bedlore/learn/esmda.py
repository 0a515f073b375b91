"""Ensemble smoother with multiple data assimilation, for numbers and intervals alike.

Emerick & Reynolds 2013, Comput. Geosci. 55:3-15 (from memory); the sum of 1/alpha is 1. What is
ours: readings are intervals of a latent (a word lies between two cut points, a number is an
interval of no width), and a member well inside an open one is not pulled. The loss of spread
from a small ensemble is measured on dummy unknowns that no reading can know of, and given back
(Evensen 2009, Data Assimilation, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.densities import normal_between
from bedlore.learn.sight import Sight

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
ALPHAS = (28.0 / 3.0, 7.0, 4.0, 2.0)
DUMMIES = 40
_FAR = 1e-12  # an interval that a member gives less than this counts by its nearer edge
_LEAST_TOLD = 1e-4  # curvature below which a reading tells nothing
_LONGEST = 6.0  # errors of reading that one interval may pull
_FREEDOM = 4.0  # a robust reading loses weight as under a Student t
_ALWAYS = frozenset({"feed", "start"})
# Which groups of unknowns each kind of reading may move. Readings of moisture say nothing of how
# slow the shed is; correlations with it in a small ensemble are chance. A herd grows by the warmth
# and the food of months: kept from what makes these, counts left it half as wide again as they may.
MAY_MOVE: dict[str, frozenset[str]] = {
    "temp": frozenset({"site", "heat", "water", "decay", "device", *_ALWAYS}),
    "air": frozenset({"site", "device"}),
    "moisture": frozenset({"water", "decay", "keeper", *_ALWAYS}),
    "food": frozenset({"decay", "worm", "keeper", *_ALWAYS}),
    "count": frozenset(
        {"worm", "counting", "clumping", "site", "heat", "water", "decay", *_ALWAYS}
    ),
    "amount": frozenset({"worm", "water", "decay", "counting", *_ALWAYS}),
    "smell": frozenset({"decay", "water", *_ALWAYS}),
}


@dataclass(frozen=True)
class Evidence:
    """Readings side by side: ``latent`` ``[M, N]``, the way from each member to what was read
    ``[M, N]``, covariances ``[N, N]`` of how little they tell and of the errors to draw (the same
    for numbers), and which unknowns each reading may move ``[K, N]``.
    """

    latent: Floats
    way: Floats
    covariance: Floats
    noise: Floats
    may_move: Bools


def evidence_of(sights: Sequence[Sight], extra: Floats, may_move: Bools) -> Evidence:
    """Stack ``sights``; ``extra`` ``[N, N]`` is covariance beyond their own errors (model error).

    An interval becomes, for each member, the number that its likelihood looks like from there:
    Newton's step, with an error as large as the interval tells little. The errors drawn for it
    are those of the eye alone: with the wide ones an open interval would leave members too far
    apart (tests/exact compares both moments with quadrature). A robust sight far from the
    ensemble gets a wider error, as under a Student t.
    """
    latent = np.stack([sight.latent for sight in sights], axis=1)
    ways, variances = zip(*(_as_number(sight) for sight in sights), strict=True)
    variance = np.array(variances)
    known = variance + np.diag(extra) + latent.var(axis=0)
    way = np.stack(ways, axis=1)
    widened = np.maximum(1.0, (_FREEDOM + way.mean(axis=0) ** 2 / known) / (_FREEDOM + 1.0))
    robust = np.array([sight.robust for sight in sights])
    widened = np.where(robust, widened, 1.0)
    worded = np.array([sight.step is None for sight in sights])
    eye = np.where(worded, [sight.sd**2 for sight in sights], variance)
    covariance, noise = np.diag(variance * widened) + extra, np.diag(eye * widened) + extra
    return Evidence(latent, way, covariance, noise, may_move)


def _as_number(sight: Sight) -> tuple[Floats, float]:
    """Way ``[M]`` from the members to the number that stands for an interval, and its variance.

    With ``x = (edge - latent)/sd``, the mean ``m`` and variance ``1 - c`` of a standard normal
    truncated to the interval give the score ``m/sd`` and the curvature ``c/sd^2`` of the
    log-likelihood. An open end far on the right side has neither.
    """
    if sight.step is not None:
        way, curvature = sight.step
        return way, 1.0 / max(float(curvature.mean()), _LEAST_TOLD)
    if np.array_equal(sight.low, sight.high):
        return sight.low - sight.latent, sight.sd**2
    low, high = (sight.low - sight.latent) / sight.sd, (sight.high - sight.latent) / sight.sd
    inside = np.maximum(normal_between(low, high), 1e-300)
    below, above = _density(low), _density(high)
    mean = (below - above) / inside
    edges = (_times(low, below) - _times(high, above)) / inside
    curvature = np.clip(mean**2 - edges, 1e-6, 1.0)
    far = inside < _FAR  # the nearer edge says it all
    way = np.where(far, np.where(low > 0.0, low, high), mean / curvature)
    curvature = np.where(far, 1.0, curvature)
    way = np.clip(way, -_LONGEST, _LONGEST)
    return sight.sd * way, float(sight.sd**2 / max(curvature.mean(), _LEAST_TOLD))


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * np.minimum(x * x, 1400.0)) / np.sqrt(2.0 * np.pi))


def _times(x: Floats, density: Floats) -> Floats:
    return np.where(np.isfinite(x), x, 0.0) * density


def moves(groups: Sequence[str], abouts: Sequence[str]) -> Bools:
    """Which unknowns (by group) each reading (by what it is about) may move ``[K, N]``."""
    return np.array([[group in MAY_MOVE[about] for about in abouts] for group in groups])


def update(z: Floats, evidence: Evidence, alpha: float, rng: np.random.Generator) -> Floats:
    """One assimilation ``[M, K]``: the Kalman step with the errors blown up by ``alpha``.

    Unknowns that may be moved by the same readings are updated together, each with those
    readings only (local analysis).
    """
    members = len(z)
    innovation = evidence.way - np.sqrt(alpha) * _errors(evidence.noise, members, rng)
    out = z.copy()
    patterns, which = np.unique(evidence.may_move, axis=0, return_inverse=True)
    for number, pattern in enumerate(patterns):
        if not pattern.any():
            continue
        columns = np.flatnonzero(which == number)
        covariance = alpha * evidence.covariance[np.ix_(pattern, pattern)]
        out[:, columns] = _analysis(
            z[:, columns], evidence.latent[:, pattern], innovation[:, pattern], covariance, rng
        )
    return out


def _errors(covariance: Floats, members: int, rng: np.random.Generator) -> Floats:
    """Draws ``[M, N]`` of the errors, with a mean of zero over the members."""
    root = np.linalg.cholesky(covariance)
    draws = rng.standard_normal((members, len(covariance))) @ root.T
    return np.asarray(draws - draws.mean(axis=0))


def _analysis(z: Floats, latent: Floats, innovation: Floats, covariance: Floats,
              rng: np.random.Generator) -> Floats:  # fmt: skip
    """Kalman step with the ensemble's own covariances, and the spread that chance took given
    back."""
    members = len(z)
    dummies = rng.standard_normal((members, DUMMIES))
    dummies = (dummies - dummies.mean(axis=0)) / dummies.std(axis=0, ddof=1)
    whole = np.concatenate([z, dummies], axis=1)
    about = whole - whole.mean(axis=0)
    seen = latent - latent.mean(axis=0)
    cross = about.T @ seen / (members - 1)
    total = seen.T @ seen / (members - 1) + covariance
    # Readings differ in unit and size by orders: solve with each scaled by its own spread.
    scale = 1.0 / np.sqrt(np.diag(total))
    solved = np.linalg.solve(total * np.outer(scale, scale), (innovation * scale).T)
    moved = whole + ((cross * scale) @ solved).T
    lost = moved[:, z.shape[1] :].var(axis=0, ddof=1).mean()
    mean = moved[:, : z.shape[1]].mean(axis=0)
    return np.asarray(mean + (moved[:, : z.shape[1]] - mean) / np.sqrt(min(lost, 1.0)))
