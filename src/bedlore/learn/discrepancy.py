"""What the model itself gets wrong: a slow wander of bed temperature beside every error of reading.

Ignoring it lets the parameters absorb it and makes the bands too narrow (Evensen 2019). It is an
AR(1) process with a time constant of two days; its size is the median of its own posterior given
the bed thermometers, which may come near zero. Its prior, the time constant and the share that
zones have in common are our own proposal (assumed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.record import Fit, Learnt
from bedlore.learn.sight import Reading, Sight, View
from bedlore.outlook.doubt import TIME_CONSTANT_H

Floats = NDArray[np.float64]
SD_START_K = 0.5
BETWEEN_ZONES = 0.7
_GRID_K = np.arange(0.0, 4.01, 0.05)
_PRIOR_K = 0.6  # half-normal
_LEAST_LEFT = 0.05  # of a direction's prior: an ensemble is finite and may say that none is left
_FREEDOM = 4.0
_SLIP_SD = 2.5  # one normal reading in eighty lies further off (assumed)
_SD_PER_MEDIAN = 1.4826  # of a normal, by its median distance from the middle
OUTLIER_SD = 4.0


def pattern(readings: Sequence[Reading | Fit], owners: Sequence[str]) -> Floats:
    """Correlation ``[N, N]`` of the wander between readings; zero for all but bed temperatures."""
    hour = np.array([reading.hour for reading in readings], dtype=float)
    bed = np.array(owners)
    temp = np.array([reading.about == "temp" for reading in readings], dtype=bool)
    zone = np.array([",".join(map(str, reading.zones)) for reading in readings])
    fade = np.exp(-np.abs(hour[:, None] - hour[None, :]) / TIME_CONSTANT_H)
    near = np.where(zone[:, None] == zone[None, :], 1.0, BETWEEN_ZONES)
    both = temp[:, None] & temp[None, :] & (bed[:, None] == bed[None, :])
    return np.where(both, fade * near, 0.0)


def covariance(readings: Sequence[Reading], owners: Sequence[str], sd_k: float) -> Floats:
    """Covariance ``[N, N]`` of the wander."""
    return np.asarray(sd_k**2 * pattern(readings, owners))


@dataclass(frozen=True)
class _Residuals:
    """Readings less the ensemble's mean ``[N]``, the members' anomalies ``[M, N]``, and the
    variances of reading ``[N]``: more than stated, as under a Student t, for slips, which lie far
    from where the readings of this log usually lie. (By the stated errors alone, or with every
    second reading a little widened, a wandering bed would be taken for a bad reader.)"""

    away: Floats
    anomalies: Floats
    variance: Floats

    @classmethod
    def of(cls, sights: Sequence[Sight]) -> _Residuals:
        latent = np.stack([sight.latent for sight in sights], axis=1)
        seen = np.array([sight.low.mean() for sight in sights])
        away, anomalies = seen - latent.mean(axis=0), latent - latent.mean(axis=0)
        variance = np.array([sight.sd**2 for sight in sights])
        usual = (_SD_PER_MEDIAN * np.median(np.abs(away))) ** 2
        known = np.maximum(variance + anomalies.var(axis=0), usual)
        far = away**2 / known
        slip = far > _SLIP_SD**2
        worse = np.where(slip, (_FREEDOM + far) / (_FREEDOM + 1.0), 1.0)
        return cls(away, anomalies, variance * worse)

    def error(self, sd_k: float, shape: Floats) -> Floats:
        """Covariance ``[N, N]`` of reading and of a wander of ``sd_k``."""
        return np.asarray(np.diag(self.variance) + sd_k**2 * shape)


def estimated_k(readings: Sequence[Reading], owners: Sequence[str], sights: Sequence[Sight],
                steps: Sequence[tuple[float, float]] = ()) -> float:  # fmt: skip
    """Size of the wander [K]: the median of its posterior given the bed thermometers.

    The unknowns are integrated out, so that what they explain is not put down to wander, nor
    wander to them. ``steps`` are those the ensemble has behind it (alpha and the wander [K] it
    was made with); they are taken back, or the readings would count twice.
    """
    which = [i for i, reading in enumerate(readings) if reading.about == "temp"]
    if len(which) < 5:
        return SD_START_K
    rest = _Residuals.of([sights[i] for i in which])
    shape = pattern([readings[i] for i in which], [owners[i] for i in which])
    away, spread = rest.away, np.cov(rest.anomalies, rowvar=False)
    if steps:
        told = sum(np.linalg.inv(rest.error(sd_k, shape)) / alpha for alpha, sd_k in steps)
        away, spread = before_reading(away, spread, np.asarray(told))
    evidence = np.array([
        _normal_log_density(away, rest.error(sd_k, shape) + spread) for sd_k in _GRID_K
    ])  # fmt: skip
    evidence -= 0.5 * (_GRID_K / _PRIOR_K) ** 2
    share = np.cumsum(np.exp(evidence - evidence.max()))
    return round(float(np.interp(0.5 * share[-1], share, _GRID_K)), 3)


def before_reading(away: Floats, spread: Floats, told: Floats) -> tuple[Floats, Floats]:
    """Residuals ``[N]`` and covariance ``[N, N]`` of the latents as they were before readings
    told ``told`` ``[N, N]`` of them (the inverse of the errors' covariance).

    Scaled by ``told``, a step takes a prior ``A`` to ``(A^-1 + 1)^-1`` and a residual ``r`` to
    ``(1 + A)^-1 r``; exact where the model is linear.
    """
    root = np.linalg.cholesky(told)
    sizes, ways = np.linalg.eigh(root.T @ spread @ root)
    left = np.maximum(1.0 - sizes, _LEAST_LEFT)
    back = np.linalg.solve(root.T, ways)
    return (
        np.asarray(back @ ((ways.T @ (root.T @ away)) / left)),
        np.asarray((back * (np.maximum(sizes, 0.0) / left)) @ back.T),
    )


def _normal_log_density(away: Floats, covariance: Floats) -> float:
    """Up to the constant of the dimension."""
    root = np.linalg.cholesky(covariance)
    r = np.linalg.solve(root, away)
    return float(-0.5 * r @ r - np.log(np.diag(root)).sum())


def ahead_k(learnt: Learnt) -> float:
    """Size of the wander [K] for what is ahead: what the log tells. Where what is left over goes
    with something the model lacks more than a wander, and at least what is told of a bed that was
    not learnt is allowed for."""
    lacks = learnt.trace is not None and learnt.trace.found
    return max(learnt.model_error_k, SD_START_K) if lacks else learnt.model_error_k


def log_likelihood(readings: Sequence[Reading], latents: Floats, view: View,
                   sd_k: float) -> Floats:  # fmt: skip
    """Exact log-likelihood ``[M]`` of one bed's readings; bed temperatures with their wander."""
    total = np.zeros(len(latents))
    which = [i for i, reading in enumerate(readings) if reading.about == "temp"]
    for i, reading in enumerate(readings):
        if reading.about != "temp":
            total += reading.log_likelihood(latents[:, i], view)
    if which:
        mine = [readings[i] for i in which]
        sights = [r.sight(latents[:, i], view) for r, i in zip(mine, which, strict=True)]
        error = _Residuals.of(sights).error(sd_k, pattern(mine, [""] * len(mine)))
        root = np.linalg.cholesky(error)
        away = np.stack([sight.low - sight.latent for sight in sights])
        r = np.linalg.solve(root, away)
        total += -0.5 * np.sum(r * r, axis=0) - np.log(np.diag(root)).sum()
    return total


def fits(readings: Sequence[Reading], sights: Sequence[Sight], prior: Sequence[Sight],
         sd_k: float) -> tuple[Fit, ...]:  # fmt: skip
    """How each reading sits in the ensemble after and before learning."""
    found = []
    for reading, sight, before in zip(readings, sights, prior, strict=True):
        wander = sd_k if reading.about == "temp" else 0.0
        sd = float(np.sqrt(sight.latent.var() + sight.sd**2 + wander**2))
        prior_sd = float(np.sqrt(before.latent.var() + before.sd**2))
        away = _outside(sight) / sd
        found.append(
            Fit(
                entry_id=reading.entry_id, hour=reading.hour, zones=reading.zones,
                about=reading.about, series=reading.series, seen=_named(sight),
                expected=float(sight.latent.mean()), sd=sd, away=away,
                prior_away=_outside(before) / prior_sd, outlier=abs(away) > OUTLIER_SD,
            )
        )  # fmt: skip
    return tuple(found)


def _outside(sight: Sight) -> float:
    """How far the interval lies from the ensemble's mean; 0 when the mean is inside."""
    mean = float(sight.latent.mean())
    low, high = float(np.mean(sight.low)), float(np.mean(sight.high))
    return low - mean if mean < low else high - mean if mean > high else 0.0


def _named(sight: Sight) -> float:
    """The number written down, or the end of the interval that is finite."""
    low, high = float(np.mean(sight.low)), float(np.mean(sight.high))
    ends = [end for end in (low, high) if np.isfinite(end)]
    return float(np.mean(ends))
