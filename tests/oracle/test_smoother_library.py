"""The smoother against the package ``iterative-ensemble-smoother`` on a linear-Gaussian case."""

from __future__ import annotations

import numpy as np
from iterative_ensemble_smoother import ESMDA

from bedlore.learn.esmda import ALPHAS, Evidence, update

MEMBERS = 1500
SENSITIVITY = np.random.default_rng(0).normal(size=(6, 4))
VARIANCE = np.array([0.2, 0.5, 1.0, 0.1, 0.3, 2.0])
SEEN = np.array([0.5, -1.0, 2.0, 0.3, 0.0, 1.0])


def by_library(z: np.ndarray) -> np.ndarray:
    smoother = ESMDA(covariance=VARIANCE, observations=SEEN, alpha=np.array(ALPHAS), seed=3)
    x = z.T.copy()
    for _ in range(smoother.num_assimilations()):
        smoother.prepare_assimilation(Y=SENSITIVITY @ x, truncation=1.0)
        x = smoother.assimilate_batch(X=x)
    return x.T


def by_bedlore(z: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(4)
    for alpha in ALPHAS:
        latent = z @ SENSITIVITY.T
        every = np.ones((4, 6), dtype=bool)
        z = update(z, Evidence(latent, SEEN - latent, *(np.diag(VARIANCE),) * 2, every), alpha, rng)
    return z


def test_means_and_covariances_agree() -> None:
    z = np.random.default_rng(1).standard_normal((MEMBERS, 4))
    ours, theirs = by_bedlore(z), by_library(z)
    assert np.allclose(ours.mean(axis=0), theirs.mean(axis=0), atol=0.08)
    assert np.allclose(np.cov(ours, rowvar=False), np.cov(theirs, rowvar=False), atol=0.08)
    assert np.cov(ours, rowvar=False).trace() < 0.7 * 4  # the readings did tell something
