"""Cumulative sums: how far a run of standardised readings has drifted, and how often by chance.

Page's one-sided sum ``S = max(0, S + z - k)`` calls at ``h`` (Page 1954; Montgomery, Introduction
to Statistical Quality Control, 6th ed., ch. 9, from memory). ``k`` is half of the shift that is
to be seen soon, in standard deviations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedlore.learn.densities import normal_cdf

ALLOWANCE = 0.5
_SIEGMUND = 1.166  # what the sum overshoots, on both ends (Siegmund 1985, from memory)


@dataclass(frozen=True)
class Drift:
    """A sum that passed its limit: places of the first reading of the run and of the call, and
    the greatest height since."""

    began: int
    called: int
    height: float


def drift_of(z: Sequence[float], limit: float, allowance: float = ALLOWANCE) -> Drift | None:
    """The last upward run of ``z`` that passed ``limit`` and has not yet come back to nothing.

    None when the sum stands below: what was far off and has come right again is no warning.
    """
    height, began, called, top = 0.0, 0, -1, 0.0
    for place, value in enumerate(z):
        if height <= 0.0:
            began, called, top = place, -1, 0.0
        height = max(0.0, height + value - allowance)
        top = max(top, height)
        if height > limit and called < 0:
            called = place
    return Drift(began, called, top) if height > 0.0 and called >= 0 else None


def calls(z: Sequence[float], limit: float, allowance: float = ALLOWANCE) -> list[int]:
    """Places at which the sum calls when it begins anew after each call."""
    found, height = [], 0.0
    for place, value in enumerate(z):
        height = max(0.0, height + value - allowance)
        if height > limit:
            found.append(place)
            height = 0.0
    return found


def siegmund_arl(shift: float, limit: float, allowance: float = ALLOWANCE) -> float:
    """Mean readings until the upper sum calls when readings lie ``shift`` off (Siegmund 1985).

    By hand (Montgomery's example): no shift, ``k`` 1/2, ``h`` 5 gives 938.2.
    """
    drift = shift - allowance
    b = limit + _SIEGMUND
    if abs(drift) < 1e-9:
        return b * b
    return (math.exp(-2.0 * drift * b) + 2.0 * drift * b - 1.0) / (2.0 * drift * drift)


def limit_for(readings_between_calls: float, allowance: float = ALLOWANCE) -> float:
    """The limit at which readings that are all right are called once in so many on the mean.

    By hand: 938.2 readings give 5.0 at ``k`` 1/2 (the same example the other way round).
    """
    low, high = 0.0, 20.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        enough = siegmund_arl(0.0, middle, allowance) >= readings_between_calls
        low, high = (low, middle) if enough else (middle, high)
    return high


def exact_arl(shift: float, limit: float, allowance: float = ALLOWANCE, steps: int = 100) -> float:
    """The same by a chain of ``steps`` states (Brook & Evans 1972, from memory)."""
    width = 2.0 * limit / (2 * steps - 1)
    state = np.arange(steps) * width

    def below(edge: ArrayLike) -> NDArray[np.float64]:
        return normal_cdf(np.asarray(edge) + allowance - shift)

    to = state[None, :] - state[:, None]
    chain = below(to + width / 2.0) - below(to - width / 2.0)
    chain[:, 0] = below(width / 2.0 - state)
    return float(np.linalg.solve(np.eye(steps) - chain, np.ones(steps))[0])
