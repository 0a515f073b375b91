"""How far each reading lies from what the twin and all readings before it let expect.

Readings of one bed share its walls, its keeper and its thermometer, so a bed that is a little
colder than its twin lies off at every reading. Only what is new counts: the scores of all readings
are whitened by the correlation that the ensemble itself shows (the innovations of a Kalman filter,
Kailath 1968, from memory), so that in a twin that is right they are independent, mean 0, sd 1.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.engine import State
from bedlore.learn.densities import normal_cdf
from bedlore.learn.discrepancy import SD_START_K, covariance
from bedlore.learn.forward import Forward, Lesson, with_readings
from bedlore.learn.sight import Reading, View
from bedlore.learn.thermometers import Thermometer
from bedlore.learn.unknowns import Unknowns, draw_z, unknowns_of, z_of
from bedlore.learn.words import FOOD_WORDS, SQUEEZE_WORDS, FoodLeft, Smell, SqueezeTest

Floats = NDArray[np.float64]
DRAWS = 12  # readings that each member is made to give, to see how readings go together
SHRINK = 0.10  # correlations of a finite ensemble are too strong by chance (assumed)
MOST_OFF = 3.0  # a slip of the hand counts for no more (assumed)
LEAST_SD = 0.6  # of a word's score: where one word is nearly certain another says no more
LEAST_APART_H = 6  # readings of one thermometer closer together tell the same
MOST = 90  # readings, the latest
SEED = 4711


@dataclass(frozen=True)
class Innovation:
    """A reading with what it adds to those before it: ``z`` standardised; for a thermometer what
    it was expected to show, and showed [degC]."""

    reading: Reading
    z: float
    seen: float = float("nan")
    expected: float = float("nan")


@dataclass(frozen=True)
class Believed:
    """What an ensemble lets expect of ``readings``: latents ``[M, N]`` and nuisances."""

    readings: tuple[Reading, ...]
    latents: Floats
    unknowns: Unknowns
    z: Floats

    @property
    def view(self) -> View:
        """Looks up the nuisances of the readings ``[M]``."""
        return lambda name: self.unknowns.column(self.z, name)


def followed(readings: Iterable[Reading]) -> list[Reading]:
    """Readings that are watched for drift, by hour: bed thermometers, squeeze, food, sour smell.

    Of a thermometer in one place one reading in ``LEAST_APART_H`` hours; the latest ``MOST``.
    """
    kept: list[Reading] = []
    last: dict[tuple[str, tuple[int, ...]], int] = {}
    for reading in sorted(readings, key=lambda r: r.hour):
        if isinstance(reading, Thermometer):
            place = (reading.series, reading.zones)
            if reading.hour - last.get(place, -LEAST_APART_H) < LEAST_APART_H:
                continue
            last[place] = reading.hour
        elif not isinstance(reading, SqueezeTest | FoodLeft) and not _sour(reading):
            continue
        kept.append(reading)
    return kept[-MOST:]


def _sour(reading: Reading) -> bool:
    return isinstance(reading, Smell) and reading.what == "sour"


def believe(lesson: Lesson, params: NDArray[np.void], begin: dt.datetime,
            state: State) -> Believed:  # fmt: skip
    """Run an ensemble from ``state`` at ``begin`` past the readings of ``lesson`` since then.

    ``params`` ``[M]`` belong to ``state``. The twin's own run keeps one value a day; readings
    want the hour and the depth.
    """
    hour = lesson.past.hour_of(begin)
    mine = tuple(followed(r for r in lesson.readings if r.hour > hour))
    nuisances = [unknown for reading in mine for unknown in reading.nuisances()]
    unknowns = unknowns_of([lesson.bed_id], nuisances)
    z = draw_z(unknowns, len(params), SEED)
    for column, unknown in enumerate(unknowns.all):
        if unknown.parameter:
            z[:, column] = z_of(unknown.parameter, params[unknown.parameter])
    if not mine:
        return Believed(mine, np.zeros((len(params), 0)), unknowns, z)
    model = Forward(replace(with_readings(lesson, mine), base=params), unknowns)
    return Believed(mine, model.run(z, begin=(hour, state)).latents, unknowns, z)


def innovations(believed: Believed) -> list[Innovation]:
    """Every reading of ``believed`` with what it adds, in order of time."""
    readings = believed.readings
    if not readings:
        return []
    seen, made = scores(believed)
    lower = np.linalg.cholesky(_covariance(made))
    z = np.linalg.solve(lower, seen - made.mean(axis=0))
    found = []
    for i, reading in enumerate(readings):
        shown = {}
        if isinstance(reading, Thermometer):
            shown = {"seen": reading.temp_c, "expected": float(believed.latents[:, i].mean())}
        found.append(Innovation(reading, float(np.clip(z[i], -MOST_OFF, MOST_OFF)), **shown))
    return found


def _covariance(made: Floats) -> Floats:
    """Covariance ``[N, N]`` of the scores, with correlations shrunk."""
    cov = np.cov(made.T).reshape(made.shape[1], made.shape[1])
    sd = np.sqrt(np.maximum(np.diag(cov), 1e-12))
    wide = np.maximum(sd, LEAST_SD)
    correlation = (1.0 - SHRINK) * cov / np.outer(sd, sd)
    np.fill_diagonal(correlation, 1.0)
    return np.asarray(correlation * np.outer(wide, wide))


def scores(believed: Believed) -> tuple[Floats, Floats]:
    """Normal scores of what was read ``[N]``, and of what members would have read ``[T, N]``."""
    rng = np.random.default_rng(SEED)
    readings, latents = believed.readings, believed.latents
    truths = np.tile(np.arange(len(latents)), DRAWS)
    wander = np.linalg.cholesky(
        covariance(readings, [""] * len(readings), SD_START_K) + 1e-9 * np.eye(len(readings))
    ) @ rng.standard_normal((len(readings), len(truths)))
    seen, made = np.zeros(len(readings)), np.zeros((len(truths), len(readings)))
    for i, reading in enumerate(readings):
        words = alternatives(reading)
        if words:
            seen[i], made[:, i] = _word_score(words, reading, latents[:, i], believed.view, truths,
                                              rng)  # fmt: skip
        else:
            seen[i], made[:, i] = _number_score(reading, latents[:, i], believed.view, truths,
                                                wander[i], rng)  # fmt: skip
    return seen, made


def alternatives(reading: Reading) -> list[Reading]:
    """The reading with every word that could have been said; empty for a number."""
    match reading:
        case SqueezeTest():
            return [replace(reading, word=word) for word in SQUEEZE_WORDS]
        case FoodLeft():
            return [replace(reading, word=word) for word in FOOD_WORDS]
        case Smell():
            return [replace(reading, seen=seen) for seen in (False, True)]
        case _:
            return []


def word_odds(words: Sequence[Reading], latent: Floats, view: View) -> Floats:
    """Probability ``[words, M]`` of each word in each member."""
    odds = np.exp([word.log_likelihood(latent, view) for word in words])
    return np.asarray(odds / odds.sum(axis=0))


def _word_score(words: Sequence[Reading], said: Reading, latent: Floats, view: View,
                truths: NDArray[np.int64],
                rng: np.random.Generator) -> tuple[float, Floats]:  # fmt: skip
    """A word becomes the normal score of the middle of its share."""
    odds = word_odds(words, latent, view)
    mean = odds.mean(axis=1)
    score = normal_quantile(np.cumsum(mean) - 0.5 * mean)
    edges = np.cumsum(odds[:, truths], axis=0)
    drawn = np.minimum((rng.random(len(truths)) > edges).sum(axis=0), len(words) - 1)
    return float(score[list(words).index(said)]), np.asarray(score[drawn])


def _number_score(reading: Reading, latent: Floats, view: View, truths: NDArray[np.int64],
                  wander: Floats, rng: np.random.Generator) -> tuple[float, Floats]:  # fmt: skip
    sight = reading.sight(latent, view)
    spread = float(np.sqrt(latent.var() + sight.sd**2 + SD_START_K**2))
    made = latent[truths] + wander + sight.sd * rng.standard_normal(len(truths))
    middle = latent.mean()
    far = MOST_OFF + 1.0
    seen = float(np.clip((sight.low[0] - middle) / spread, -far, far))
    return seen, np.asarray((made - middle) / spread)


def normal_quantile(p: Floats) -> Floats:
    """Standard normal quantiles, from the distribution function by bisection (1e-9)."""
    low, high = np.full(np.shape(p), -9.0), np.full(np.shape(p), 9.0)
    for _ in range(34):
        middle = 0.5 * (low + high)
        short = normal_cdf(middle) < p
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(0.5 * (low + high))


