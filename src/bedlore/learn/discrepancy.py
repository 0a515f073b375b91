"""What the model itself gets wrong: a slow wander of bed temperature beside every error of reading.

Ignoring it lets the parameters absorb it and makes the bands too narrow (Evensen 2019). It is an
AR(1) process with a time constant of two days; its size is estimated from the residuals, never
below 0.3 K. Sizes, time constant and the share that zones have in common are our own proposal
(assumed).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.record import Fit
from bedlore.learn.sight import Reading, Sight, View
from bedlore.outlook.doubt import TIME_CONSTANT_H

Floats = NDArray[np.float64]
SD_START_K = 0.5
BETWEEN_ZONES = 0.7
_GRID_K = (0.3, 0.4, 0.55, 0.75, 1.0, 1.4, 2.0, 2.8, 4.0)
_PRIOR_K = 0.6  # half-normal
_FREEDOM = 4.0
OUTLIER_SD = 4.0


def pattern(readings: Sequence[Reading], owners: Sequence[str]) -> Floats:
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


def _residuals(sights: Sequence[Sight]) -> tuple[Floats, Floats, Floats]:
    """Seen less the ensemble's mean ``[N]``, the members' anomalies ``[M, N]``, and variances
    ``[N]`` of reading, widened for what lies far off."""
    latent = np.stack([sight.latent for sight in sights], axis=1)
    seen = np.array([sight.low.mean() for sight in sights])
    away = seen - latent.mean(axis=0)
    variance = np.array([sight.sd**2 for sight in sights])
    known = variance + latent.var(axis=0)
    widened = variance * np.maximum(1.0, (_FREEDOM + away**2 / known) / (_FREEDOM + 1.0))
    return away, latent - latent.mean(axis=0), widened


def estimated_k(readings: Sequence[Reading], owners: Sequence[str],
                sights: Sequence[Sight]) -> float:  # fmt: skip
    """Size of the wander [K] that fits the residuals of the bed thermometers best."""
    which = [i for i, reading in enumerate(readings) if reading.about == "temp"]
    if len(which) < 5:
        return SD_START_K
    away, anomalies, variance = _residuals([sights[i] for i in which])
    spread = anomalies.T @ anomalies / (len(anomalies) - 1)
    shape = pattern([readings[i] for i in which], [owners[i] for i in which])
    fits = []
    for sd_k in _GRID_K:
        total = np.diag(variance) + sd_k**2 * shape + spread
        root = np.linalg.cholesky(total)
        r = np.linalg.solve(root, away)
        fits.append(-0.5 * r @ r - np.log(np.diag(root)).sum() - 0.5 * (sd_k / _PRIOR_K) ** 2)
    return _GRID_K[int(np.argmax(fits))]


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
        variance = _residuals(sights)[2]
        root = np.linalg.cholesky(np.diag(variance) + covariance(mine, [""] * len(mine), sd_k))
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
