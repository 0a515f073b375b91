"""What thermometers read off the model, and whether it goes with something.

Where the model is right, what is left over goes with nothing. Where it lacks something - sun on a
wall, a draught, food that warms in another way - the rest follows the hour of the day, the weather
or the feeding, long before it is large enough to be called a wander. The check is a posterior
predictive one with directed discrepancies (Gelman, Meng & Stern 1996, from memory): the rest is
correlated with each direction, and the sum of squares held to what chance would give readings
whose errors wander as much as the log says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.acts import ADD, HOUR, IS_FEED, KIND, ZONE
from bedlore.bed.history import history_of
from bedlore.learn.discrepancy import pattern
from bedlore.learn.forward import Lesson
from bedlore.learn.record import Fit, Learnt, Trace
from bedlore.learn.sight import THERMOMETERS

Floats = NDArray[np.float64]
FEWEST = 8  # readings of a kind
DRAWS, SEED = 2000, 1996
FED_D = 3.0  # a feed warms for a few days (assumed)
DAY_H, WEEK_H = 24, 168
MOST = 400  # readings of a kind, the latest


def trace(learnt: Learnt, lesson: Lesson) -> Trace | None:
    """The strongest direction of all, with the chance of all together; None with few readings."""
    hours = [fit.hour for fit in learnt.fits]
    if not hours:
        return None
    air_c = lesson.air_of(learnt.params).between(0, max(hours) + 1).air_c.mean(axis=0)
    groups = [_Group.of(about, learnt, lesson, air_c) for about in THERMOMETERS]
    told = [group for group in groups if group is not None]
    if not told:
        return None
    rng = np.random.default_rng(SEED)
    seen = sum(float(np.sum(group.strengths(group.rest) ** 2)) for group in told)
    chance = np.sum([np.sum(g.strengths(g.drawn(rng)) ** 2, axis=-1) for g in told], axis=0)
    above = float((1 + np.sum(chance >= seen)) / (DRAWS + 1))
    loudest = max(told, key=lambda group: abs(group.strongest()[1]))
    direction, strength = loudest.strongest()
    return Trace(loudest.about, direction, strength, above, loudest.entries)


@dataclass(frozen=True)
class _Group:
    """Readings of one kind: what is left over ``[N]`` less each device's mean, directions
    ``[N, D]`` of unit length, and the covariance ``[N, N]`` of what chance would leave over."""

    about: str
    names: tuple[str, ...]
    rest: Floats
    directions: Floats
    covariance: Floats
    entries: tuple[str, ...]

    @classmethod
    def of(cls, about: str, learnt: Learnt, lesson: Lesson, air_c: Floats) -> _Group | None:
        fits = [f for f in learnt.fits if f.about == about and not f.outlier][-MOST:]
        if len(fits) < FEWEST:
            return None
        rest = _centred(np.array([f.seen - f.expected for f in fits]), fits)
        wander_k = learnt.model_error_k if about == "temp" else 0.0
        noise = max(rest.var() - wander_k**2, 0.25 * rest.var())
        covariance = wander_k**2 * pattern(fits, [""] * len(fits)) + noise * np.eye(len(fits))
        named = {n: _centred(d, fits) for n, d in _directions(fits, lesson, air_c).items()}
        named = {n: d / np.linalg.norm(d) for n, d in named.items() if np.ptp(d) > 1e-6}
        if not named or rest.var() == 0.0:
            return None
        return cls(about, tuple(named), rest, np.stack(list(named.values()), axis=1), covariance,
                   tuple(f.entry_id for f in fits))  # fmt: skip

    def strengths(self, rest: Floats) -> Floats:
        """How strongly ``rest`` ``[..., N]`` goes with each direction ``[..., D]``: Student's t of
        the correlation."""
        centred = rest - rest.mean(axis=-1, keepdims=True)
        r = centred @ self.directions / np.linalg.norm(centred, axis=-1, keepdims=True)
        return np.asarray(r * np.sqrt((len(self.rest) - 2) / np.maximum(1.0 - r * r, 1e-9)))

    def drawn(self, rng: np.random.Generator) -> Floats:
        """Rests ``[DRAWS, N]`` that chance might leave over."""
        root = np.linalg.cholesky(self.covariance)
        return np.asarray(rng.standard_normal((DRAWS, len(self.rest))) @ root.T)

    def strongest(self) -> tuple[str, float]:
        """The direction that the rest goes with most, and how strongly."""
        strengths = self.strengths(self.rest)
        at = int(np.argmax(np.abs(strengths)))
        return self.names[at], float(strengths[at])


def _centred(values: Floats, fits: Sequence[Fit]) -> Floats:
    """``values`` ``[N]`` less the mean of each device."""
    out = values.astype(float)
    series = np.array([fit.series for fit in fits])
    for one in np.unique(series):
        out[series == one] -= out[series == one].mean()
    return out


def _directions(fits: Sequence[Fit], lesson: Lesson, air_c: Floats) -> dict[str, Floats]:
    """What the rest might go with ``[N]``, by name: ``air_c`` ``[H]`` is the air around the bed
    hour by hour from its start, which is at noon."""
    hours = np.array([fit.hour for fit in fits])
    total = np.concatenate(([0.0], np.cumsum(air_c)))

    def mean_c(window_h: int) -> Floats:
        first = np.maximum(hours + 1 - window_h, 0)
        return np.asarray((total[hours + 1] - total[first]) / (hours + 1 - first))

    clock = 2.0 * np.pi * hours / DAY_H
    found = {
        "noon": np.cos(clock), "evening": np.sin(clock), "quick": air_c[hours] - mean_c(DAY_H),
        "slow": mean_c(DAY_H) - mean_c(WEEK_H), "season": mean_c(WEEK_H),
        "since": hours.astype(float),
    }  # fmt: skip
    if fits[0].about == "temp":
        found["fed"] = _freshly_fed(fits, lesson)
    return found


def _freshly_fed(fits: Sequence[Fit], lesson: Lesson) -> Floats:
    """1 where the zone of a reading was fed within the hour, fading within days ``[N]``."""
    past = lesson.past
    acts = history_of(past.bed, past.entries, past.start, lambda _: 10.0).table()
    feeds = acts[(acts[:, KIND] == ADD) & (acts[:, IS_FEED] > 0.0)]
    out = np.zeros(len(fits))
    for i, fit in enumerate(fits):
        mine = feeds[np.isin(feeds[:, ZONE], fit.zones) & (feeds[:, HOUR] <= fit.hour), HOUR]
        if len(mine):
            out[i] = np.exp(-(fit.hour - mine.max()) / (24.0 * FED_D))
    return out
