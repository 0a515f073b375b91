"""The smoother on problems whose answer can be written down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedlore.learn.correct import (
    Gaussian,
    generalised_pareto,
    resample,
    smoothed_weights,
    standard_logpdf,
    tempered_smoother,
    trusted_part,
)
from bedlore.learn.densities import normal_between, normal_cdf
from bedlore.learn.discrepancy import SD_START_K, before_reading, estimated_k, pattern
from bedlore.learn.esmda import ALPHAS, Evidence, evidence_of, update
from bedlore.learn.sight import Sight
from bedlore.learn.thermometers import Thermometer

SENSITIVITY = np.array([[1.0, 0.5, 0.0], [0.0, 1.0, -1.0], [0.3, 0.0, 0.8], [1.0, 1.0, 1.0]])
ERROR = np.diag([0.3, 0.5, 0.4, 1.0]) ** 2 + 0.02
SEEN = np.array([1.2, -0.7, 0.9, 0.1])


def exact() -> tuple[np.ndarray, np.ndarray]:
    """Posterior mean and covariance of z ~ N(0, I) with d = G z + e, by the normal equations."""
    weight = np.linalg.inv(ERROR)
    covariance = np.linalg.inv(np.eye(3) + SENSITIVITY.T @ weight @ SENSITIVITY)
    return covariance @ SENSITIVITY.T @ weight @ SEEN, covariance


def evidence(z: np.ndarray, may_move: np.ndarray | None = None) -> Evidence:
    latent = z @ SENSITIVITY.T
    allowed = np.ones((3, 4), dtype=bool) if may_move is None else may_move
    return Evidence(latent, SEEN - latent, ERROR, ERROR, allowed)


def smooth(members: int, seed: int = 1, may_move: np.ndarray | None = None) -> np.ndarray:
    rng = np.random.default_rng(seed)
    z = rng.standard_normal((members, 3))
    for alpha in ALPHAS:
        z = update(z, evidence(z, may_move), alpha, rng)
    return z


def test_alphas_sum_to_one_datum() -> None:
    assert sum(1.0 / alpha for alpha in ALPHAS) == pytest.approx(1.0, abs=1e-12)


def test_linear_gaussian_is_the_kalman_answer() -> None:
    z = smooth(20000)
    mean, covariance = exact()
    assert np.allclose(z.mean(axis=0), mean, atol=0.02)
    assert np.allclose(np.cov(z, rowvar=False), covariance, atol=0.015)


def test_steps_behind_are_taken_back() -> None:
    """Half of the readings' weight, then what was there before: residuals and covariance."""
    prior = SENSITIVITY @ SENSITIVITY.T
    gain = prior @ np.linalg.inv(prior + 2.0 * ERROR)
    away, spread = before_reading(
        SEEN - gain @ SEEN, prior - gain @ prior, 0.5 * np.linalg.inv(ERROR)
    )
    assert np.allclose(away, SEEN, atol=1e-9)
    assert np.allclose(spread, prior, atol=1e-9)


@pytest.mark.parametrize(("true_k", "low_k", "high_k"), [(0.0, 0.0, 0.35), (1.0, 0.7, 1.5)])
def test_the_wander_is_found_and_may_be_none(true_k, low_k, high_k) -> None:
    """60 readings of an ensemble that knows the bed to 0.2 K; the middle one of 9 logs."""
    found = []
    for seed in range(9):
        rng = np.random.default_rng(seed)
        readings = [Thermometer(str(i), 24 * i, (0,), 15.0) for i in range(60)]
        shape = pattern(readings, [""] * 60)
        wander = np.linalg.cholesky(shape + 1e-9 * np.eye(60)) @ rng.standard_normal(60)
        seen = 15.0 + true_k * wander + readings[0].sd_k * rng.standard_normal(60)
        latent = np.broadcast_to(15.0 + 0.2 * rng.standard_normal((200, 1)), (200, 60))
        sights = [
            replace(r, temp_c=float(t)).sight(latent[:, i], lambda _: np.zeros(200))
            for i, (r, t) in enumerate(zip(readings, seen, strict=True))
        ]
        found.append(estimated_k(readings, [""] * 60, sights))
    assert low_k <= np.median(found) <= high_k
    assert estimated_k(readings[:4], [""] * 4, sights[:4]) == SD_START_K


def test_a_small_ensemble_keeps_its_spread() -> None:
    """Mean variance over 40 ensembles of 40; without the dummies it is short by an eighth."""
    got = np.mean([smooth(40, seed).var(axis=0, ddof=1) for seed in range(40)], axis=0)
    assert np.allclose(got / np.diag(exact()[1]), 1.0, atol=0.12)


def test_an_unknown_that_may_not_be_moved_keeps_its_prior() -> None:
    allowed = np.ones((3, 4), dtype=bool)
    allowed[1] = False
    rng = np.random.default_rng(3)
    before = rng.standard_normal((200, 3))
    after = update(before, evidence(before, allowed), 4.0, rng)
    assert np.array_equal(before[:, 1], after[:, 1])
    assert not np.allclose(before[:, 0], after[:, 0])


def test_same_seed_same_bytes() -> None:
    assert np.array_equal(smooth(50, 7), smooth(50, 7))


@pytest.mark.parametrize(
    ("low", "high", "sd"),
    [(-8.0, 8.0, 0.1),
     (0.5, np.inf, 0.5), (-np.inf, -1.0, 0.3), (0.2, 0.6, 0.3), (-2.0, np.inf, 0.4),
     (0.0, np.inf, 2.0)],
)
def test_a_word_moves_the_ensemble_as_the_ordered_probit_does(
    low: float, high: float, sd: float
) -> None:
    """Mean and spread against quadrature of prior times likelihood."""
    rng = np.random.default_rng(5)
    z = rng.standard_normal((20000, 1))
    for alpha in ALPHAS:
        edges = (np.full(len(z), low), np.full(len(z), high))
        said = evidence_of([Sight(z[:, 0], *edges, sd)], np.zeros((1, 1)), np.ones((1, 1), bool))
        z = update(z, said, alpha, rng)
    grid = np.linspace(-8, 8, 8001)
    weight = np.exp(-0.5 * grid**2) * normal_between((low - grid) / sd, (high - grid) / sd)
    mean = np.sum(grid * weight) / weight.sum()
    spread = np.sqrt(np.sum((grid - mean) ** 2 * weight) / weight.sum())
    assert z.mean() == pytest.approx(mean, abs=0.1)
    assert z.std() == pytest.approx(spread, abs=0.08)


def test_normal_tails_do_not_vanish() -> None:
    assert normal_cdf(-10.0) == pytest.approx(7.62e-24, rel=1e-3)  # handbook tables
    assert normal_between(9.0, np.inf) == pytest.approx(1.13e-19, rel=1e-2)


def test_resampling_keeps_shares_and_places() -> None:
    rng = np.random.default_rng(2)
    share = np.array([0.5, 0.25, 0.25, 0.0])
    picks = resample(share, rng)
    assert np.bincount(picks, minlength=4).tolist() == [2, 1, 1, 0]
    assert picks[:3].tolist() == [0, 1, 2]


@pytest.mark.parametrize("k", [0.1, 0.5, 0.9])
def test_pareto_shape_is_found(k: float) -> None:
    rng = np.random.default_rng(11)
    u = rng.random(4000)
    excess = np.sort((u**-k - 1.0) / k)  # inverse of the generalised Pareto
    assert generalised_pareto(excess)[0] == pytest.approx(k, abs=0.06)


def test_weights_with_a_heavy_tail_are_not_trusted() -> None:
    rng = np.random.default_rng(1)
    z = 0.3 * rng.standard_normal((400, 2))  # far too narrow a proposal
    narrow = Gaussian(np.zeros(2), 0.3 * np.eye(2))
    bad = smoothed_weights(standard_logpdf(z) - narrow.logpdf(z))
    assert bad.khat > 0.7
    assert not bad.trusted
    wide = Gaussian(np.zeros(2), 1.2 * np.eye(2))
    z = wide.draw(400, rng)
    good = smoothed_weights(standard_logpdf(z) - wide.logpdf(z))
    assert good.trusted
    assert good.ess > 250


def test_a_correction_goes_as_far_as_it_can_be_trusted() -> None:
    """Weights of a shift far beyond the ensemble: a part of the way is taken, the right way."""
    z = np.random.default_rng(4).standard_normal(400)
    far = 3.0 * z  # a normal shifted by three of its standard deviations
    part = trusted_part(far)
    assert part.trusted
    assert 0.1 <= part.power < 1.0
    assert float(part.share @ z) == pytest.approx(3.0 * part.power, abs=0.35)
    assert trusted_part(0.5 * z).power == 1.0
    none = trusted_part(1e4 * z)
    assert none.power == 0.0
    assert np.allclose(none.share, 1.0 / 400)


def test_tempering_finds_the_kalman_answer_from_a_poor_start() -> None:
    mean, covariance = exact()
    weight = np.linalg.inv(ERROR)

    def log_likelihood(z: np.ndarray, origin: np.ndarray) -> np.ndarray:
        r = SEEN - z @ SENSITIVITY.T
        return -0.5 * np.einsum("mi,ij,mj->m", r, weight, r)

    start = Gaussian(np.zeros(3), 1.5 * np.eye(3))
    done = tempered_smoother(start, log_likelihood, 2000, np.random.default_rng(4), moves=6,
                             most_runs=80)  # fmt: skip
    assert np.allclose(done.z.mean(axis=0), mean, atol=0.06)
    assert np.allclose(np.cov(done.z, rowvar=False), covariance, atol=0.06)
    assert done.acceptance > 0.1
