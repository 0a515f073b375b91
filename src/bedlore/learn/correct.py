"""Correcting an ensemble by exact likelihoods: Pareto-smoothed weights, and a tempered smoother.

Pareto smoothing: Vehtari, Simpson, Gelman, Yao & Gabry, "Pareto smoothed importance sampling"
(from memory), with the generalised Pareto fit of Zhang & Stephens 2009, Technometrics 51:316-325
(from memory). Tempering: Del Moral, Doucet & Jasra 2006, J. R. Stat. Soc. B 68:411-436 (from
memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
KHAT_LIMIT = 0.7
ESS_LIMIT = 50.0
POWERS = tuple(power / 10.0 for power in range(10, 0, -1))
_STEP_ESS = 0.5  # share of the particles that a step of tempering keeps effective


@dataclass(frozen=True)
class Weights:
    """Smoothed weights ``[M]`` that sum to 1, the tail's shape, and the effective sample size.

    ``power`` is the share of the correction that they make: 1 for all of it.
    """

    share: Floats
    khat: float
    ess: float
    power: float = 1.0

    @property
    def trusted(self) -> bool:
        """Whether the weights can be relied on."""
        return self.khat <= KHAT_LIMIT and self.ess >= min(ESS_LIMIT, 0.25 * len(self.share))


def generalised_pareto(excess: Floats) -> tuple[float, float]:
    """Shape k and scale of a generalised Pareto fitted to ``excess`` > 0, in ascending order.

    The posterior mean of Zhang & Stephens, with the weak pull of k towards 0.5 for small samples.
    """
    n = len(excess)
    grid = 30 + int(np.sqrt(n))
    quarter = excess[int(n / 4.0 + 0.5) - 1]
    if quarter < 1e-12 * excess[-1]:  # a few weights are all there is
        return float("inf"), float(excess[-1])
    steps = np.arange(1, grid + 1) - 0.5
    theta = 1.0 / excess[-1] + (1.0 - np.sqrt(grid / steps)) / (3.0 * quarter)
    k_of = np.mean(np.log1p(-theta[:, None] * excess[None, :]), axis=1)
    fit = n * (np.log(-theta / k_of) - k_of - 1.0)
    weight = np.exp(fit - fit.max())
    best = float(np.sum(theta * weight) / weight.sum())
    k = float(np.mean(np.log1p(-best * excess)))
    scale = -k / best
    return (n * k + 10 * 0.5) / (n + 10), scale


def smoothed_weights(log_weight: Floats) -> Weights:
    """Pareto-smoothed importance weights of raw log weights ``[M]``."""
    raw = np.where(np.isfinite(log_weight), log_weight, -np.inf)
    if not np.isfinite(raw).any():
        even = np.full(len(raw), 1.0 / len(raw))
        return Weights(even, float("inf"), 1.0)
    log_w = raw - raw.max()
    tail = int(min(0.2 * len(log_w), 3.0 * np.sqrt(len(log_w))))
    order = np.argsort(log_w, kind="stable")
    khat = float("-inf")
    weight = np.exp(log_w)
    if tail >= 5:
        inside = order[-tail:]
        cut = float(np.exp(log_w[order[-tail - 1]]))
        excess = weight[inside] - cut
        if excess[-1] > 1e-12 and excess[0] > 0.0:
            khat, scale = generalised_pareto(excess)
            at = (np.arange(1, tail + 1) - 0.5) / tail
            if np.isfinite(khat):
                far = -np.log1p(-at)
                bent = np.expm1(khat * far) / khat if abs(khat) > 1e-9 else far
                weight[inside] = np.minimum(cut + scale * bent, 1.0)
    share = weight / weight.sum()
    return Weights(share, khat, float(1.0 / np.sum(share**2)))


def trusted_part(log_weight: Floats) -> Weights:
    """The weights to the largest power that can be relied on; even ones with power 0 if none is.

    A correction that goes a part of the way leaves less of the smoother's error than none.
    """
    for power in POWERS:
        weights = smoothed_weights(power * log_weight)
        if weights.trusted:
            return replace(weights, power=power)
    return Weights(np.full(len(log_weight), 1.0 / len(log_weight)), np.inf, 1.0, 0.0)


def resample(share: Floats, rng: np.random.Generator) -> Ints:
    """Systematic resampling: indices ``[M]``; one that survives keeps its own place."""
    n = len(share)
    picks = np.searchsorted(np.cumsum(share), (rng.random() + np.arange(n)) / n)
    counts = np.bincount(np.minimum(picks, n - 1), minlength=n)
    out = np.arange(n)
    spare = np.repeat(np.arange(n), np.maximum(counts - 1, 0))
    out[counts == 0] = rng.permutation(spare)
    return out


@dataclass(frozen=True)
class Gaussian:
    """A normal distribution by its mean ``[K]`` and a square root ``[K, K]`` of its covariance."""

    mean: Floats
    root: Floats

    @classmethod
    def fitted(cls, z: Floats, widen: float = 1.0) -> Gaussian:
        """To an ensemble ``[M, K]``; correlations shrink a little towards none."""
        covariance = np.cov(z, rowvar=False).reshape(z.shape[1], z.shape[1])
        shrink = min(1.0, z.shape[1] / len(z))
        covariance = (1 - shrink) * covariance + shrink * np.diag(np.diag(covariance))
        floor = 1e-8 * np.eye(len(covariance))
        return cls(z.mean(axis=0), widen * np.linalg.cholesky(covariance + floor))

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """``count`` draws ``[count, K]``."""
        noise = rng.standard_normal((count, len(self.mean)))
        return np.asarray(self.mean + noise @ self.root.T)

    def logpdf(self, z: Floats) -> Floats:
        """Log density ``[M]``, up to the constant of the dimension."""
        r = np.linalg.solve(self.root, (z - self.mean).T)
        return np.asarray(-0.5 * np.sum(r * r, axis=0) - np.log(np.diag(self.root)).sum())


def standard_logpdf(z: Floats) -> Floats:
    """Log density ``[M]`` of the standard normal prior, up to the constant of the dimension."""
    return np.asarray(-0.5 * np.sum(z * z, axis=1))


@dataclass(frozen=True)
class Tempered:
    """Particles ``[M, K]``, where their noise comes from ``[M]``, and how the smoother fared."""

    z: Floats
    origin: Ints
    steps: int
    acceptance: float
    runs: int


LogLikelihood = Callable[[Floats, Ints], Floats]


def tempered_smoother(proposal: Gaussian, log_likelihood: LogLikelihood, members: int,
                      rng: np.random.Generator, *, moves: int = 3,
                      most_runs: int = 24) -> Tempered:  # fmt: skip
    """Particles from ``proposal`` to the posterior, by likelihood raised from 0 to 1.

    The path is ``proposal^(1-phi) * (prior * likelihood)^phi``. After each step, of a size that
    keeps half of the particles effective, they are resampled and moved by ``moves`` Metropolis
    steps that leave the fitted normal of the particles unchanged (preconditioned Crank-Nicolson).
    ``log_likelihood(z, origin)`` costs a run; after ``most_runs`` the last step is taken whole.
    """
    z = proposal.draw(members, rng)
    origin = np.arange(members)
    gain = standard_logpdf(z) + log_likelihood(z, origin) - proposal.logpdf(z)
    phi, steps, runs, taken, tried, stride = 0.0, 0, 1, 0, 0, 0.5
    while phi < 1.0:
        rest = 1.0 - phi
        step = rest if runs + moves >= most_runs else _step_of(gain, rest)
        picks = resample(smoothed_weights(step * gain).share, rng)
        z, origin, gain = z[picks], origin[picks], gain[picks]
        phi, steps = phi + step, steps + 1
        fit = Gaussian.fitted(z)
        for _ in range(moves):
            tilted = np.sqrt(1.0 - stride**2) * (z - fit.mean)
            trial = fit.mean + tilted + stride * (fit.draw(members, rng) - fit.mean)
            trial_gain = (
                standard_logpdf(trial) + log_likelihood(trial, origin) - proposal.logpdf(trial)
            )
            runs += 1
            now = proposal.logpdf(z) + phi * gain - fit.logpdf(z)
            then = proposal.logpdf(trial) + phi * trial_gain - fit.logpdf(trial)
            yes = np.log(rng.random(members)) < then - now
            z, gain = np.where(yes[:, None], trial, z), np.where(yes, trial_gain, gain)
            taken, tried = taken + int(yes.sum()), tried + members
            stride = float(np.clip(stride * np.exp(yes.mean() - 0.3), 0.05, 0.95))
    return Tempered(z, origin, steps, taken / max(tried, 1), runs)


def _step_of(gain: Floats, rest: float) -> float:
    """Largest step up to ``rest`` that keeps the effective sample size, by bisection."""
    target = _STEP_ESS * len(gain)

    def ess(step: float) -> float:
        weight = np.exp(step * (gain - gain.max()))
        return float(weight.sum() ** 2 / np.sum(weight**2))

    if ess(rest) >= target:
        return rest
    low, high = 0.0, rest
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if ess(middle) >= target else (low, middle)
    return max(low, 1e-3 * rest)
