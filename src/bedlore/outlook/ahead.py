"""The coming days of a bed: an ensemble run, its quantiles, and odds of crossing limits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, State, simulate
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.bed.plan import in_order
from bedlore.farm.bed import Limits
from bedlore.outlook.ranked import quantiles
from bedlore.outlook.twin import Twin

QUANTILES = (0.05, 0.25, 0.50, 0.75, 0.95)
WINDOW_D = 14
# Sourness above which worms are seen to leave: 3 g of fresh starch carbon short of oxygen in a
# kilogram of bed (assumed; no source gives an index of this kind).
SOUR_LIMIT = 3.0
LOST_HERD_KG = 0.005  # less than a handful in the whole bed
LIVING_SHARE = 0.02  # a zone with less of the herd than this does not count for its limits
HALF_DAY_H = 12
_PROFILES = 8  # members that the shape of a column's temperature is taken from


@dataclass(frozen=True)
class Ahead:
    """A run of a twin into the future.

    ``run.values`` ``[M, W, Z, V]`` with windows of ``run.every`` hours from ``start``.
    """

    start: dt.datetime
    run: Run
    zone_ids: tuple[str, ...]

    def times(self) -> list[dt.datetime]:
        """End of each window."""
        step = dt.timedelta(hours=self.run.every)
        return [self.start + (i + 1) * step for i in range(self.run.values.shape[1])]

    def quantiles(self, name: str, zone: int) -> Floats:
        """Quantiles ``[len(QUANTILES), W]`` of one output of one zone."""
        return quantiles(self.run.series(name)[:, :, zone], QUANTILES)


def look_ahead(twin: Twin, air: Air, acts: Sequence[Floats] = (), *, hours: int = WINDOW_D * 24,
               every: int = 1, members: NDArray[np.int64] | None = None,
               state: State | None = None, keep_state: bool = True) -> Ahead:  # fmt: skip
    """Run ``twin`` for ``hours`` under future surroundings ``[W, T]`` with the rows of ``acts``.

    ``members`` ask for these alone, with the rows of ``air`` dealt to them in their order;
    ``state`` stands in for the one they are in. Temperatures are widened by the twin's doubt.
    Without ``keep_state`` the run holds no state at its end.
    """
    params, doubt = twin.params, twin.doubt
    if members is not None:
        params, doubt = params[members], doubt.of(members)
        state = twin.state.pick(members) if state is None else state
    run = simulate(
        twin.geometry, params, twin.state if state is None else state, air, in_order(acts),
        hours=hours, every=every, keep_state=keep_state,
    )  # fmt: skip
    return Ahead(twin.now, doubt.dressed(run), twin.zone_ids)


def cells_ahead(twin: Twin, air: Air, ahead: Ahead) -> Floats:
    """Median temperature ``[S, Z, C]`` of every cell of an untouched bed at the end of each half
    day of ``ahead``, under ``air`` ``[W, T]``.

    All members of ``ahead`` give the mean of a zone; a few give how its cells differ from it,
    which varies little among members. The cells stay those of now: a leg ends before the hour of
    the day at which cells are merged and split.
    """
    some = np.linspace(0, twin.members - 1, min(_PROFILES, twin.members)).round().astype(np.int64)
    state, params = twin.state.pick(some), twin.params[some]
    means = np.median(ahead.run.series("temp_mean_c"), axis=0)  # [W, Z]
    steps = means.shape[0] * ahead.run.every // HALF_DAY_H
    found = np.zeros((steps, *state.cells.temp_c.shape[1:]))
    for step in range(steps):
        hours = slice(step * HALF_DAY_H, (step + 1) * HALF_DAY_H)
        leg = Air(*(array[some % len(array), hours] for array in air))
        run = simulate(twin.geometry, params, state, leg, in_order(()), every=HALF_DAY_H)
        state = run.state
        apart = state.cells.temp_c - run.series("temp_mean_c")[:, -1, :, None]
        mean = means[hours.stop // ahead.run.every - 1]
        found[step] = mean[:, None] + np.median(apart, axis=0)
    return found


@dataclass(frozen=True)
class Odds:
    """Share of members that cross a limit somewhere in the bed, at any time of the window."""

    cold: float
    hot: float
    sour: float
    dry: float
    wet: float
    members: int


def crossings(ahead: Ahead, limits: Limits) -> dict[str, NDArray[np.bool_]]:
    """Which members ``[M]`` cross each limit; joint over zones that hold worms and over time.

    Where hardly a worm is left the whole bed counts, so that a lost herd never reads as a bed
    within its limits.
    """
    run = ahead.run
    worms = run.series("worms_kg")
    herd = worms.sum(axis=2, keepdims=True)
    lived_in = worms > LIVING_SHARE * herd
    lived_in |= (herd < LOST_HERD_KG) & (run.series("depth_m") > 0.0)

    def anywhere(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
        return np.asarray((mask & lived_in).any(axis=(1, 2)))

    moisture = run.series("moisture_frac")
    return {
        "cold": anywhere(run.series("temp_coldest_c") < limits.cold_c),
        "hot": anywhere(run.series("temp_warmest_c") > limits.hot_c),
        "sour": anywhere(run.series("sour_index") > SOUR_LIMIT),
        "dry": anywhere(moisture < limits.moisture_low),
        "wet": anywhere(moisture > limits.moisture_high),
    }


def odds_of(ahead: Ahead, limits: Limits) -> Odds:
    """Joint odds of the window."""
    shares = {name: float(crossed.mean()) for name, crossed in crossings(ahead, limits).items()}
    return Odds(members=ahead.run.values.shape[0], **shares)


def summary(ahead: Ahead, names: Sequence[str] = OUTPUT_NAMES) -> dict[str, dict[str, Floats]]:
    """Quantiles ``[len(QUANTILES), W]`` by zone id and output name."""
    return {
        zone_id: {name: ahead.quantiles(name, zone) for name in names}
        for zone, zone_id in enumerate(ahead.zone_ids)
    }
