"""What an ensemble of one model leaves out: the model's own wander, and a truer spread.

Bed temperature wanders about the model as an AR(1) process whose size the log tells
(:mod:`bedlore.learn.discrepancy`); past outlooks tell whether the spread about the median should
be wider or narrower. Both go into everything that is shown and decided, the same for each
candidate action, so that comparisons keep their common random numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.engine import Run
from bedlore.bed.outputs import DEPTH, OUTPUT_NAMES
from bedlore.outlook.ranked import median

Floats = NDArray[np.float64]
TIME_CONSTANT_H = 48.0  # of the wander (assumed)
SEED = 611
_TEMPS = tuple(i for i, name in enumerate(OUTPUT_NAMES) if name.startswith("temp_"))


def wander(members: int, hours: int, sd_k: float, seed: int) -> Floats:
    """Draws ``[M, hours]`` of the wander [K], to be added to hourly bed temperatures ahead."""
    fade = float(np.exp(-1.0 / TIME_CONSTANT_H))
    noise = np.random.default_rng([seed, hours]).standard_normal((members, hours))
    out = np.empty((members, hours))
    out[:, 0] = noise[:, 0]
    for hour in range(1, hours):
        out[:, hour] = fade * out[:, hour - 1] + np.sqrt(1.0 - fade**2) * noise[:, hour]
    return np.asarray(sd_k * out)


@cache
def _by_day(members: int, days: int) -> Floats:
    """Wander ``[M, days]`` of one kelvin at noon of each day ahead.

    One value a day, so that the extremes of a day's hours are those of a run told by the day.
    """
    hours = wander(members, 24 * max(days, 1), 1.0, SEED)
    return np.ascontiguousarray(hours[:, 12::24])


@dataclass(frozen=True)
class Doubt:
    """``wander_k`` [K] of the model and ``spread``, a factor on what the members differ by.

    ``members`` are the places that those of a run have in the whole ensemble; empty: all of it.
    """

    wander_k: float = 0.0
    spread: float = 1.0
    members: tuple[int, ...] = ()

    def of(self, members: NDArray[np.int64]) -> Doubt:
        """The doubt of these members alone: each wanders as it does among all."""
        places = np.array(self.members)[members] if self.members else members
        return replace(self, members=tuple(places.tolist()))

    def dressed(self, run: Run) -> Run:
        """``run`` with temperatures that doubt has widened; members ``[M]`` keep their places."""
        if self.wander_k == 0.0 and self.spread == 1.0:
            return run
        values = run.values.copy()
        windows = values.shape[1]
        day = np.arange(windows) * run.every // 24
        holding = values[..., DEPTH] > 0.0
        places = self.members or range(len(values))
        wanders = _by_day(max(places) + 1, int(day[-1]) + 1)
        away = self.wander_k * wanders[list(places)][:, day]
        for i in _TEMPS:
            apart = away[:, :, None]
            if self.spread != 1.0:
                from_middle = values[..., i] - median(values[..., i])
                apart = apart + (self.spread - 1.0) * from_middle
            values[..., i] += np.where(holding, apart, 0.0)
        return replace(run, values=values)


NO_DOUBT = Doubt()
