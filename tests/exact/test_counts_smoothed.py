"""Counts in the smoother against quadrature of prior times negative binomial."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.learn.counts import CoreCount
from bedlore.learn.densities import negative_binomial_logpmf
from bedlore.learn.esmda import ALPHAS, evidence_of, update

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
    rng = np.random.default_rng(1)
    z = rng.standard_normal((MEMBERS, 1))
    every = np.ones((1, len(counts)), dtype=bool)
    for alpha in ALPHAS:
        latent = np.log(middle) + sd * z[:, 0]
        sights = [
            CoreCount("c", 1, (0,), n, 1.0, ("adults",)).sight(latent, lambda _: np.zeros(MEMBERS))
            for n in counts
        ]
        z = update(z, evidence_of(sights, np.zeros((len(counts),) * 2), every), alpha, rng)
    grid = np.linspace(-8, 8, 4001)
    log_post = -0.5 * grid**2
    for n in counts:
        log_post = log_post + negative_binomial_logpmf(n, middle * np.exp(sd * grid), CLUMPING)
    weight = np.exp(log_post - log_post.max())
    mean = np.sum(weight * grid) / weight.sum()
    spread = np.sqrt(np.sum(weight * (grid - mean) ** 2) / weight.sum())
    assert z.mean() == pytest.approx(mean, abs=0.3)
    assert z.std() == pytest.approx(spread, abs=0.1)
