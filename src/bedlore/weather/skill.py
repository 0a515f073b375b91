"""How well generated weather resembles observed weather: the figures of docs/weather.md.

Observed and generated years go through the same functions, so sampling effects cancel.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bedlore.weather.building import first_order
from bedlore.weather.normals import MONTH_OF_DAY, daily_curve
from bedlore.weather.series import FloatArray
from bedlore.weather.sun import SolarClock

SPELL_QUANTILES = (0.0, 0.01, 0.05, 0.25, 0.5)


@dataclass(frozen=True)
class YearFigures:
    """Figures of one or more years of hourly temperature; first axis [years].

    ``month_mean_c`` [Y, 12]; ``daily_sd_k`` [Y, 12] about each month's own mean; ``lag_one``
    [Y] of daily means about the year's own curve; ``freezing_h`` [Y] hours below 0 degC, where
    hours at 0.0 count half (station records come in steps of up to 1 K); ``cold_spell_c`` [Y, 5]
    quantiles of the three-day mean (:data:`SPELL_QUANTILES`); ``bed_low_c`` [Y] lowest
    temperature of a bed.
    """

    month_mean_c: FloatArray
    daily_sd_k: FloatArray
    lag_one: FloatArray
    freezing_h: FloatArray
    cold_spell_c: FloatArray
    bed_low_c: FloatArray


def year_figures(
    temp_c: FloatArray,
    clock: SolarClock,
    bed_low_c: Callable[[FloatArray], FloatArray] | None = None,
) -> YearFigures:
    """Figures of ``temp_c`` [Y, T], years of one and the same ``clock``.

    ``bed_low_c`` gives the lowest bed temperature [Y] that the weather [Y, T] leads to; without
    it a body that follows the air with a time constant of 48 h stands in for the bed.
    """
    days = daily_means(temp_c, clock)
    month = MONTH_OF_DAY[clock.day_of_year]
    # The clock has one day more at each end, which holds no whole day.
    inside = np.bincount(clock.day_index, minlength=len(clock.days)) >= 12
    days, month = days[:, inside], month[inside]
    doy = clock.day_of_year[inside]
    means = np.stack([days[:, month == m].mean(axis=1) for m in range(12)], axis=1)
    spread = np.stack([days[:, month == m].std(axis=1) for m in range(12)], axis=1)
    curves = np.stack([daily_curve(row) for row in means])
    departures = days - curves[:, doy]
    spells = np.stack([days[:, k:days.shape[1] - 2 + k] for k in range(3)]).mean(axis=0)
    return YearFigures(
        month_mean_c=means,
        daily_sd_k=spread,
        lag_one=_lag_one(departures),
        freezing_h=np.sum(temp_c < 0.0, axis=1) + 0.5 * np.sum(temp_c == 0.0, axis=1),
        cold_spell_c=np.quantile(spells, SPELL_QUANTILES, axis=1).T,
        bed_low_c=(bed_low_c or bed_proxy_low_c)(temp_c),
    )


def daily_means(temp_c: FloatArray, clock: SolarClock) -> FloatArray:
    """Mean of each day of ``clock`` [Y, days]; NaN for days without an hour."""
    counts = np.bincount(clock.day_index, minlength=len(clock.days)).astype(float)
    edges = np.flatnonzero(np.diff(clock.day_index, prepend=-1))
    out = np.full((temp_c.shape[0], len(clock.days)), np.nan)
    filled = clock.day_index[edges]
    out[:, filled] = np.add.reduceat(temp_c, edges, axis=1) / counts[filled]
    return out


def bed_proxy_low_c(temp_c: FloatArray, time_constant_h: float = 48.0) -> FloatArray:
    """Lowest temperature [Y] of a body that follows the air with ``time_constant_h``."""
    tau = np.full(temp_c.shape[0], time_constant_h)
    return np.asarray(first_order(temp_c, tau, None)[:, 24 * 7:].min(axis=1))


def _lag_one(departures: FloatArray) -> FloatArray:
    centred = departures - departures.mean(axis=1, keepdims=True)
    return np.asarray(
        np.sum(centred[:, 1:] * centred[:, :-1], axis=1) / np.sum(centred**2, axis=1)
    )
