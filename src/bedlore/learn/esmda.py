"""Ensemble smoother with multiple data assimilation, for numbers and intervals alike.

Emerick & Reynolds 2013, Comput. Geosci. 55:3-15 (from memory); the sum of 1/alpha is 1. What is
ours: readings are intervals of a latent (a word lies between two cut points, a number is an
interval of no width), and a member that already stands inside is not pulled. The loss of spread
from a small ensemble is measured on dummy unknowns that no reading can know of, and given back
(Evensen 2009, Data Assimilation, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.sight import Sight

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
ALPHAS = (28.0 / 3.0, 7.0, 4.0, 2.0)
DUMMIES = 40
_FREEDOM = 4.0  # a robust reading loses weight as under a Student t
_ALWAYS = frozenset({"feed", "start"})
# Which groups of unknowns each kind of reading may move. Readings of moisture say nothing of how
# slow the shed is; correlations with it in a small ensemble are chance.
MAY_MOVE: dict[str, frozenset[str]] = {
    "temp": frozenset({"site", "heat", "water", "decay", "device", *_ALWAYS}),
    "air": frozenset({"site", "device"}),
    "moisture": frozenset({"water", "decay", "keeper", *_ALWAYS}),
    "food": frozenset({"decay", "worm", "keeper", *_ALWAYS}),
    "count": frozenset({"worm", "counting", "clumping", *_ALWAYS}),
    "amount": frozenset({"worm", "water", "decay", "counting", *_ALWAYS}),
    "smell": frozenset({"decay", "water", *_ALWAYS}),
}


@dataclass(frozen=True)
class Evidence:
    """Readings side by side: ``latent``, ``low``, ``high`` ``[M, N]``, error covariance
    ``[N, N]``, and which of the unknowns each may move ``[K, N]``."""

    latent: Floats
    low: Floats
    high: Floats
    covariance: Floats
    may_move: Bools


def evidence_of(sights: Sequence[Sight], extra: Floats, may_move: Bools) -> Evidence:
    """Stack ``sights``; ``extra`` ``[N, N]`` is covariance beyond their own errors (model error).

    A robust sight far from the ensemble gets a wider error: what a Student t would weigh it.
    """
    latent = np.stack([sight.latent for sight in sights], axis=1)
    low = np.stack([sight.low for sight in sights], axis=1)
    high = np.stack([sight.high for sight in sights], axis=1)
    variance = np.array([sight.sd**2 for sight in sights])
    robust = np.array([sight.robust for sight in sights])
    away = np.where(robust, low.mean(axis=0, where=np.isfinite(low)) - latent.mean(axis=0), 0.0)
    known = variance + np.diag(extra) + latent.var(axis=0)
    widened = np.maximum(1.0, (_FREEDOM + away**2 / known) / (_FREEDOM + 1.0))
    return Evidence(latent, low, high, np.diag(variance * widened) + extra, may_move)


def moves(groups: Sequence[str], abouts: Sequence[str]) -> Bools:
    """Which unknowns (by group) each reading (by what it is about) may move ``[K, N]``."""
    return np.array([[group in MAY_MOVE[about] for about in abouts] for group in groups])


def update(z: Floats, evidence: Evidence, alpha: float, rng: np.random.Generator) -> Floats:
    """One assimilation ``[M, K]``: the Kalman step with the errors blown up by ``alpha``.

    Unknowns that may be moved by the same readings are updated together, each with those
    readings only (local analysis); members' innovations are the way from the perceived latent to
    the interval.
    """
    members = len(z)
    perceived = evidence.latent + np.sqrt(alpha) * _errors(evidence.covariance, members, rng)
    aim = _into_interval(perceived, evidence, rng)
    innovation = aim - perceived
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


def _into_interval(perceived: Floats, evidence: Evidence, rng: np.random.Generator) -> Floats:
    """Where each member ought to see its latent: itself when inside, else just past the edge.

    Past the edge by up to one error, or to the other edge when that is nearer.
    """
    sd = np.sqrt(np.diag(evidence.covariance))
    room = np.minimum(evidence.high - evidence.low, sd)
    step = rng.random(perceived.shape) * room
    aim = np.where(perceived < evidence.low, evidence.low + step, perceived)
    return np.where(perceived > evidence.high, evidence.high - step, aim)


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
