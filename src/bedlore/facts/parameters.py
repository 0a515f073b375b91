"""The one table of model parameters and the ensembles drawn from its priors."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from bedlore.facts.parameter import Parameter
from bedlore.facts.parameters_bed import BED_PARAMETERS
from bedlore.facts.parameters_site import SITE_PARAMETERS
from bedlore.facts.parameters_worms import WORM_PARAMETERS

PARAMETERS: tuple[Parameter, ...] = (*BED_PARAMETERS, *WORM_PARAMETERS, *SITE_PARAMETERS)
BY_NAME: dict[str, Parameter] = {parameter.name: parameter for parameter in PARAMETERS}
PARAMETER_DTYPE = np.dtype([(parameter.name, np.float64) for parameter in PARAMETERS])
_NORMAL_95 = 1.6448536269514722  # 95 % point of the standard normal


def to_normal(parameter: Parameter, value: NDArray[np.float64]) -> NDArray[np.float64]:
    """``value`` in the space where the prior of ``parameter`` is normal."""
    if parameter.transform == "log":
        return np.log(value)
    if parameter.transform == "logit":
        return np.log(value / (1.0 - value))
    return np.asarray(value, dtype=np.float64)


def from_normal(parameter: Parameter, value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inverse of :func:`to_normal`."""
    if parameter.transform == "log":
        return np.exp(value)
    if parameter.transform == "logit":
        return 1.0 / (1.0 + np.exp(-value))
    return np.asarray(value, dtype=np.float64)


def prior_moments(parameter: Parameter) -> tuple[float, float, float]:
    """Median and the standard deviations below and above it, in normal space.

    The default is the median; ``low`` and ``high`` are the 5 % and 95 % points, so a skew
    range gives a two-piece normal.
    """
    low, middle, high = (
        float(to_normal(parameter, np.array(value)))
        for value in (parameter.low, parameter.default, parameter.high)
    )
    return middle, (middle - low) / _NORMAL_95, (high - middle) / _NORMAL_95


def defaults(overrides: Mapping[str, float] | None = None) -> NDArray[np.void]:
    """One record ``[1]`` of default values, with ``overrides`` by name (KeyError if unknown)."""
    record = np.zeros(1, dtype=PARAMETER_DTYPE)
    for parameter in PARAMETERS:
        record[parameter.name] = parameter.default
    for name, value in (overrides or {}).items():
        record[BY_NAME[name].name] = value
    return record


def draw(members: int, seed: int) -> NDArray[np.void]:
    """``members`` records ``[M]`` drawn independently from the priors; same seed, same bytes."""
    rng = np.random.default_rng([seed, 17])
    records = np.zeros(members, dtype=PARAMETER_DTYPE)
    for parameter in PARAMETERS:
        middle, below, above = prior_moments(parameter)
        z = rng.standard_normal(members)
        records[parameter.name] = from_normal(
            parameter, middle + np.where(z < 0.0, below, above) * z
        )
    return records
