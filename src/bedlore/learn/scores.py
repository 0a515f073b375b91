"""Proper scores and calibration measures of forecasts, as plain functions on arrays.

Sources: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359-378 (CRPS of an ensemble and of a
normal); Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917-1923 (fair form); Murphy 1973, J. Appl.
Meteorol. 12:595-600 (parts of the Brier score); Czado, Gneiting & Held 2009, Biometrics
65:1254-1261 (randomised PIT), all from memory and checked against closed forms and the ``scores``
package in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedlore.learn.densities import normal_cdf

Floats = NDArray[np.float64]
Z90 = 1.6448536269514722
Z50 = 0.6744897501960817


def crps_ensemble(members: ArrayLike, seen: ArrayLike) -> Floats:
    """Fair CRPS of ensembles ``[..., M]`` (M >= 2) against ``seen`` ``[...]``, in their unit.

    ``mean|x - y| - sum|x_i - x_j| / (2 M (M - 1))``: what a forecast of infinitely many members
    from the same source would score on average.
    """
    x = np.sort(np.asarray(members, dtype=float), axis=-1)
    y = np.asarray(seen, dtype=float)
    m = x.shape[-1]
    if m < 2:
        raise ValueError("a spread needs two members")
    rank = 2.0 * np.arange(1, m + 1) - m - 1.0
    apart = np.sum(rank * x, axis=-1) / (m * (m - 1.0))
    return np.asarray(np.abs(x - y[..., None]).mean(axis=-1) - apart)


def crps_normal(mean: ArrayLike, sd: ArrayLike, seen: ArrayLike) -> Floats:
    """CRPS of a normal forecast; a perfect one scores sd/sqrt(pi) = 0.564 sd on average."""
    s = np.asarray(sd, dtype=float)
    r = (np.asarray(seen, dtype=float) - np.asarray(mean, dtype=float)) / s
    density = np.exp(-0.5 * r * r) / math.sqrt(2.0 * math.pi)
    middle = r * (2.0 * normal_cdf(r) - 1.0) + 2.0 * density
    return np.asarray(s * (middle - 1.0 / math.sqrt(math.pi)))


def pit(members: ArrayLike, seen: ArrayLike, rng: np.random.Generator) -> Floats:
    """Probability integral transform ``[...]``: rank of ``seen`` among members, ties drawn."""
    x, y = np.asarray(members, dtype=float), np.asarray(seen, dtype=float)
    below = (x < y[..., None]).sum(axis=-1)
    equal = (x == y[..., None]).sum(axis=-1)
    return np.asarray((below + rng.random(y.shape) * (equal + 1)) / (x.shape[-1] + 1))


def coverage(pits: ArrayLike, share: float) -> float:
    """Share of cases within the central band that ought to hold ``share`` of them."""
    p = np.asarray(pits, dtype=float)
    edge = 0.5 * (1.0 - share)
    return float(np.mean((p >= edge) & (p <= 1.0 - edge)))


def binomial_band(share: float, count: int, level: float = 0.95) -> tuple[float, float]:
    """Shares that ``count`` independent cases fall between at ``level``, when ``share`` is true.

    20 cases at 90 %: 0.75 to 1.0, so 20 readings prove nothing about calibration.
    """
    if count <= 0:
        return 0.0, 1.0
    k = np.arange(count + 1)
    log_pmf = (
        math.lgamma(count + 1)
        - np.array([math.lgamma(i + 1) + math.lgamma(count - i + 1) for i in k])
        + k * math.log(share) + (count - k) * math.log1p(-share)
    )  # fmt: skip
    total = np.cumsum(np.exp(log_pmf))
    low = int(np.searchsorted(total, 0.5 * (1.0 - level)))
    high = int(np.searchsorted(total, 1.0 - 0.5 * (1.0 - level)))
    return low / count, min(high, count) / count


@dataclass(frozen=True)
class Brier:
    """Brier score and its parts: ``score = reliability - resolution + uncertainty``."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float


@dataclass(frozen=True)
class Bin:
    """Forecasts of about the same odds: their mean, how often it happened, of how many."""

    said: float
    happened: int
    count: int


EDGES = (0.0, 0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95, 1.0)


def reliability_bins(said: ArrayLike, happened: ArrayLike,
                     edges: tuple[float, ...] = EDGES) -> tuple[Bin, ...]:  # fmt: skip
    """Forecast odds gathered into bins that hold any."""
    p, o = np.asarray(said, dtype=float), np.asarray(happened, dtype=bool)
    which = np.clip(np.searchsorted(edges, p, side="right") - 1, 0, len(edges) - 2)
    return tuple(
        Bin(float(p[which == b].mean()), int(o[which == b].sum()), int((which == b).sum()))
        for b in range(len(edges) - 1)
        if (which == b).any()
    )


def brier(said: ArrayLike, happened: ArrayLike) -> Brier:
    """Brier score with Murphy's parts, exact: one bin for each odds that were said.

    With odds as shares of a finite ensemble the parts add up to the score.
    """
    p, o = np.asarray(said, dtype=float), np.asarray(happened, dtype=float)
    values, which = np.unique(np.round(p, 12), return_inverse=True)
    count = np.bincount(which)
    rate = np.bincount(which, weights=o) / count
    base = o.mean()
    return Brier(
        float(np.mean((p - o) ** 2)), float(np.sum(count * (values - rate) ** 2) / len(p)),
        float(np.sum(count * (rate - base) ** 2) / len(p)), float(base * (1.0 - base)),
    )  # fmt: skip


def ranked_probability(said: ArrayLike, seen: ArrayLike) -> Floats:
    """Ranked probability score ``[N]`` of ordered classes: ``said`` ``[N, J]``, index ``seen``."""
    p = np.cumsum(np.asarray(said, dtype=float), axis=1)
    step = (np.arange(p.shape[1])[None, :] >= np.asarray(seen)[:, None]).astype(float)
    return np.asarray(np.sum((p - step)[:, :-1] ** 2, axis=1))


def skill(score: float, reference: float) -> float:
    """``1 - score/reference``: 0 no better, 1 perfect; 0 when the reference never erred."""
    return 1.0 - score / reference if reference > 0.0 else 0.0


def isotonic(said: ArrayLike, happened: ArrayLike) -> tuple[Floats, Floats]:
    """Reliability curve by pooling adjacent violators: sorted odds and fitted frequencies.

    Dimitriadis, Gneiting & Jordan 2021, PNAS 118:e2016191118 (from memory).
    """
    p, o = np.asarray(said, dtype=float), np.asarray(happened, dtype=float)
    order = np.argsort(p, kind="stable")
    values, inverse = np.unique(p[order], return_inverse=True)
    weight = np.bincount(inverse).astype(float)
    mean = np.bincount(inverse, weights=o[order]) / weight
    blocks: list[list[float]] = []  # [mean, weight, distinct odds]
    for m, w in zip(mean, weight, strict=True):
        blocks.append([float(m), float(w), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            high, low = blocks.pop(), blocks.pop()
            both = high[1] + low[1]
            level = (high[0] * high[1] + low[0] * low[1]) / both
            blocks.append([level, both, high[2] + low[2]])
    return values, np.concatenate([np.full(int(n), level) for level, _, n in blocks])
