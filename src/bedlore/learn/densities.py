"""Log densities and distribution functions of a few families, without outside libraries."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_LOG_2PI = math.log(2.0 * math.pi)
_erf = np.frompyfunc(math.erf, 1, 1)
_erfc = np.frompyfunc(math.erfc, 1, 1)
_lgamma = np.frompyfunc(math.lgamma, 1, 1)
_quantile = np.frompyfunc(NormalDist().inv_cdf, 1, 1)


def normal_cdf(x: ArrayLike) -> Floats:
    """Standard normal distribution function; any shape. Tails keep their relative accuracy."""
    return np.asarray(0.5 * _erfc(-np.asarray(x, dtype=float) / math.sqrt(2.0)), dtype=float)


def normal_quantile(share: ArrayLike) -> Floats:
    """Inverse of :func:`normal_cdf`, for shares strictly between 0 and 1; any shape."""
    return np.asarray(_quantile(np.asarray(share, dtype=float)), dtype=float)


def normal_between(low: ArrayLike, high: ArrayLike) -> Floats:
    """Probability of a standard normal between ``low`` and ``high``; accurate in both tails."""
    a, b = np.broadcast_arrays(np.asarray(low, dtype=float), np.asarray(high, dtype=float))
    flip = a > 0.0  # work in the tail where the function is small
    first, second = np.where(flip, -b, a), np.where(flip, -a, b)
    return np.maximum(normal_cdf(second) - normal_cdf(first), 0.0)


def normal_logpdf(x: ArrayLike, sd: ArrayLike) -> Floats:
    """Log density of a normal around 0 with standard deviation ``sd``."""
    scale = np.asarray(sd, dtype=float)
    r = np.asarray(x, dtype=float) / scale
    return np.asarray(-0.5 * (_LOG_2PI + r * r) - np.log(scale))


def log_gamma(x: ArrayLike) -> Floats:
    """Logarithm of the gamma function for ``x`` > 0; any shape."""
    return np.asarray(_lgamma(np.asarray(x, dtype=float)), dtype=float)


def student_logpdf(x: ArrayLike, scale: ArrayLike, freedom: float) -> Floats:
    """Log density of a Student t around 0 with ``freedom`` degrees of freedom."""
    s = np.asarray(scale, dtype=float)
    r = np.asarray(x, dtype=float) / s
    constant = (
        math.lgamma((freedom + 1.0) / 2.0)
        - math.lgamma(freedom / 2.0)
        - 0.5 * math.log(freedom * math.pi)
    )
    return np.asarray(constant - np.log(s) - (freedom + 1.0) / 2.0 * np.log1p(r * r / freedom))


def negative_binomial_logpmf(count: ArrayLike, mean: ArrayLike, size: ArrayLike) -> Floats:
    """Log probability of ``count`` with variance ``mean + mean^2/size``.

    By hand: count 0, mean 1, size 1 gives log 1/2.
    """
    n, k = np.asarray(count, dtype=float), np.asarray(size, dtype=float)
    mu = np.maximum(np.asarray(mean, dtype=float), 1e-12)
    return np.asarray(
        log_gamma(n + k) - log_gamma(k) - log_gamma(n + 1.0)
        - k * np.log1p(mu / k) + n * (np.log(mu) - np.log(mu + k))
    )  # fmt: skip
