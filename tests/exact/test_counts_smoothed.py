"""Counts in the smoother against quadrature of prior times negative binomial."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.learn.calibrate import _as_smoothed
from bedlore.learn.correct import smoothed_weights
from bedlore.learn.counts import CoreCount
from bedlore.learn.densities import negative_binomial_logpmf
from bedlore.learn.esmda import ALPHAS, evidence_of, update
from bedlore.learn.sight import Sight

MEMBERS = 20000
CLUMPING = 1.5


@pytest.mark.parametrize(
    ("counts", "middle", "sd"),
    [([0] * 9, 10.0, 0.8), ([30] * 3, 10.0, 0.8), ([8, 12, 10, 0, 3], 10.0, 0.8), ([0], 3.0, 1.0),
     ([1, 0, 2], 40.0, 1.0)],
)  # fmt: skip
def test_counts_move_the_ensemble_as_their_likelihood_does(
    counts: list[int], middle: float, sd: float
) -> None:
    """Nine empty cores where ten worms were expected: the mean goes down by 3.4 sd, not by 0."""
    z = smoothed(counts, middle, sd)
    mean, spread = exact(counts, middle, sd)
    assert z.mean() == pytest.approx(mean, abs=0.3)
    assert z.std() == pytest.approx(spread, abs=0.1)


@pytest.mark.parametrize("counts", [[0] * 9, [30] * 3, [8, 12, 10, 0, 3] * 6])
def test_weights_lead_from_the_smoothed_to_the_exact(counts: list[int]) -> None:
    """A parabola for what the smoother did gave nine empty cores a spread of 0.86 for 0.60."""
    z = smoothed(counts, 10.0, 0.8)
    latent = np.log(10.0) + 0.8 * z
    log_weight = sum(
        negative_binomial_logpmf(n, np.exp(latent), CLUMPING) - _as_smoothed(sight)
        for n, sight in zip(counts, sights_of(counts, latent), strict=True)
    )
    weights = smoothed_weights(np.asarray(log_weight))
    mean, spread = exact(counts, 10.0, 0.8)
    found = float(weights.share @ z)
    assert found == pytest.approx(mean, abs=0.35)
    assert np.sqrt(weights.share @ (z - found) ** 2) == pytest.approx(spread, abs=0.06)
    assert weights.ess > 0.8 * MEMBERS


def sights_of(counts: list[int], latent: np.ndarray) -> list[Sight]:
    cores = [CoreCount("c", 1, (0,), n, 1.0, ("adults",)) for n in counts]
    return [core.sight(latent, lambda _: np.zeros(len(latent))) for core in cores]


def smoothed(counts: list[int], middle: float, sd: float) -> np.ndarray:
    """Members ``[M]`` after the smoother's steps."""
    rng = np.random.default_rng(1)
    z = rng.standard_normal((MEMBERS, 1))
    every = np.ones((1, len(counts)), dtype=bool)
    for alpha in ALPHAS:
        sights = sights_of(counts, np.log(middle) + sd * z[:, 0])
        z = update(z, evidence_of(sights, np.zeros((len(counts),) * 2), every), alpha, rng)
    return np.asarray(z[:, 0])


def exact(counts: list[int], middle: float, sd: float) -> tuple[float, float]:
    """Mean and spread by quadrature."""
    grid = np.linspace(-8, 8, 4001)
    log_post = -0.5 * grid**2
    for n in counts:
        log_post = log_post + negative_binomial_logpmf(n, middle * np.exp(sd * grid), CLUMPING)
    weight = np.exp(log_post - log_post.max())
    mean = np.sum(weight * grid) / weight.sum()
    spread = np.sqrt(np.sum(weight * (grid - mean) ** 2) / weight.sum())
    return mean, spread
