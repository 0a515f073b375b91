"""Warnings before anyone smells it: a bed that drifts from its twin, a thermometer that is stuck.

The more readings a keeper takes, the higher the limit, so that a bed whose twin is right is called
less than once a year. On the model itself that needs :data:`CALLS_A_YEAR` by the formula, since
whitened readings lie a little too close; what came of it stands in docs/warning.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.cusum import drift_of, limit_for
from bedlore.learn.densities import normal_between
from bedlore.learn.innovations import Believed, Innovation
from bedlore.learn.thermometers import Thermometer

Floats = NDArray[np.float64]
Way = Literal["warmer", "colder", "wetter", "drier", "souring", "stuck"]
CALLS_A_YEAR = 1.5
LEAST_LIMIT = 3.0  # with few readings: no call on less than two that lie far off (assumed)
_YEAR_H = 365.25 * 24.0
_LEAST_SPAN_H = 14 * 24.0
STUCK_ODDS = 1e4  # mean readings until a working thermometer is called (Lorden 1971, from memory)
STUCK_SAME = 0.99  # a stuck device shows the same
_REPEAT_K = 0.25  # a working one repeats itself no better than this (assumed)
_LEAST_STEP_K = 0.05
_FEWEST_SAME = 3


@dataclass(frozen=True)
class Stream:
    """Readings that are added up: ``way`` is what is called when the sum of ``sign * z`` of the
    innovations that ``counts`` grows."""

    way: Way
    sign: float
    counts: Callable[[Innovation], bool]


def _about(*kinds: str) -> Callable[[Innovation], bool]:
    return lambda one: one.reading.about in kinds


STREAMS = (
    Stream("warmer", 1.0, _about("temp")), Stream("colder", -1.0, _about("temp")),
    Stream("wetter", 1.0, _about("moisture")), Stream("drier", -1.0, _about("moisture")),
    Stream("souring", 1.0, _about("food", "smell")),
)  # fmt: skip


@dataclass(frozen=True)
class Called:
    """A warning: which way, since which hour, called at which, on how many readings, and by how
    much a thermometer lies off on the mean [K] (0 for others); ``device`` of a stuck one."""

    way: Way
    since_hour: int
    called_hour: int
    readings: int
    off_k: float
    device: str = ""
    zones: tuple[int, ...] = ()


def limit_of(found: Sequence[Innovation]) -> float:
    """The limit of all sums for a keeper who reads as often as in ``found``."""
    if not found:
        return LEAST_LIMIT
    span_h = max(found[-1].reading.hour - found[0].reading.hour, _LEAST_SPAN_H)
    counted = sum(stream.counts(one) for stream in STREAMS for one in found)
    return max(LEAST_LIMIT, limit_for(counted * _YEAR_H / span_h / CALLS_A_YEAR))


def drifts(found: Sequence[Innovation]) -> list[Called]:
    """Streams that stand above their limit now."""
    called, limit = [], limit_of(found)
    for stream in STREAMS:
        mine = [one for one in found if stream.counts(one)]
        drift = drift_of([stream.sign * one.z for one in mine], limit)
        if drift is not None:
            since = mine[drift.began :]
            off = [one.seen - one.expected for one in since if not math.isnan(one.seen)]
            zones = {zone for one in since for zone in one.reading.zones}
            called.append(Called(
                stream.way, since[0].reading.hour, mine[drift.called].reading.hour, len(since),
                float(np.mean(off)) if off else 0.0, zones=tuple(sorted(zones)),
            ))  # fmt: skip
    return called


def stuck(believed: Believed) -> list[Called]:
    """Thermometers that show the same while the bed around them must have moved.

    Odds of "stuck" against "works" for the latest run of equal readings: a member of the
    ensemble that hardly moves makes equal readings likely, so a quiet bed is not called.
    """
    by_place: dict[tuple[str, tuple[int, ...], float], list[int]] = {}
    for i, reading in enumerate(believed.readings):
        if isinstance(reading, Thermometer):
            key = (reading.device, reading.zones, reading.depth_m)
            by_place.setdefault(key, []).append(i)
    called = []
    for (device, zones, _), columns in by_place.items():
        run = _latest_run(believed, columns)
        if len(run) < _FEWEST_SAME or stuck_log_odds(believed, run) < math.log(STUCK_ODDS):
            continue
        first, last = believed.readings[run[0]], believed.readings[run[-1]]
        moved = believed.latents[:, run]
        swing = float(np.median(moved.max(axis=1) - moved.min(axis=1)))
        called.append(Called("stuck", first.hour, last.hour, len(run), swing, device, zones))
    return called


def _latest_run(believed: Believed, columns: Sequence[int]) -> list[int]:
    """The last columns that all show the same value."""
    run: list[int] = []
    for i in reversed(columns):
        if run and _temp_c(believed, i) != _temp_c(believed, run[-1]):
            break
        run.append(i)
    return run[::-1]


def _temp_c(believed: Believed, column: int) -> float:
    reading = believed.readings[column]
    assert isinstance(reading, Thermometer)
    return reading.temp_c


def stuck_log_odds(believed: Believed, run: Sequence[int]) -> float:
    """Log odds that a device with equal readings at columns ``run`` is stuck, against working."""
    steps = [r.step_k for r in (believed.readings[i] for i in run) if isinstance(r, Thermometer)]
    return same_log_odds(np.diff(believed.latents[:, run], axis=1), max(steps))


def same_log_odds(change_k: Floats, step_k: float, error_k: float = 0.0) -> float:
    """Log odds that a device is stuck, against working, when it shows the same though its place
    changes by ``change_k`` ``[M, K]`` from reading to reading.

    A member's chance of showing the same again is that of its own change to stay within half a
    step, read with the error of a repeat and ``error_k`` of the member itself.
    """
    half = 0.5 * max(step_k, _LEAST_STEP_K)
    spread = math.sqrt(2.0) * math.hypot(_REPEAT_K, error_k)
    same = normal_between((-half - change_k) / spread, (half - change_k) / spread)
    works = np.log(np.maximum(same, 1e-12)).sum(axis=1)
    top = float(works.max())
    mixture = top + math.log(float(np.mean(np.exp(works - top))))
    return float(change_k.shape[1] * math.log(STUCK_SAME) - mixture)
