"""What every experiment takes: records that refuse what cannot be, in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, PlainValidator, ValidationError

from bedlore.errors import FaultList, KeeperError
from bedlore.facts.feedstocks import Feedstock, find
from bedlore.facts.parameters import BY_NAME, defaults
from bedlore.farm.faults import faults_of
from bedlore.farm.fields import Record, keeper_error, quantity

Floats = NDArray[np.float64]
Number = Annotated[float, Field(allow_inf_nan=False)]
Amount = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1)]
Moisture = Annotated[float, Field(ge=0, le=0.98)]
Depth = Annotated[float, quantity("length", 0.02, 2)]


def _series(low: float, high: float) -> PlainValidator:
    """Reads a number, or a list of numbers, between ``low`` and ``high``."""

    def read(value: object) -> float | tuple[float, ...]:
        if isinstance(value, (list, tuple, np.ndarray)):
            if len(value) == 0:
                raise keeper_error("This list is empty. Give one number or a series.")
            return tuple(one(item, f"Number {i + 1} of the list") for i, item in enumerate(value))
        return one(value, "This")

    def one(value: object, what: str) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float, np.number)):
            raise keeper_error(f"{what} is {str(value)[:40]!r}, which is not a number.")
        if not low <= value <= high:
            raise keeper_error(f"{what} is {value:g}; it must lie from {low:g} to {high:g}.")
        return float(value)

    return PlainValidator(read)


Series = Annotated[float | tuple[float, ...], _series(-273.15, 1e6)]
Shares = Annotated[float | tuple[float, ...], _series(0.0, 1.0)]
Percents = Annotated[float | tuple[float, ...], _series(0.0, 99.0)]
Amounts = Annotated[float | tuple[float, ...], _series(0.0, 1e9)]
Parameters = dict[str, Number] | None

_Spec = TypeVar("_Spec", bound=Record)


class Part(Record):
    """Some of a material: ``material`` (a name of docs/materials.md), ``mass_kg`` moist, and
    ``moisture_frac`` (wet basis; the table's own when left out)."""

    material: str
    mass_kg: Annotated[float, Field(ge=0, le=1e6)]
    moisture_frac: Moisture | None = None

    def with_feedstock(self) -> tuple[Feedstock, float, float | None]:
        """The part as acts take it. Raises KeeperError for an unknown material."""
        return find(self.material), self.mass_kg, self.moisture_frac


def checked(spec: type[_Spec], given: Mapping[str, Any]) -> _Spec:
    """``given`` as a ``spec``; raises FaultList with every fault in a sentence."""
    raw = dict(given)
    try:
        return spec.model_validate(raw)
    except ValidationError as error:
        raise FaultList(faults_of(error, raw, spec)) from None


def parameters(params: Mapping[str, float] | None, **fixed: float) -> NDArray[np.void]:
    """One record of parameters: defaults, then ``fixed``, then the keeper's ``params``.

    Raises KeeperError for a parameter that does not exist.
    """
    for name in params or {}:
        if name not in BY_NAME:
            raise KeeperError(
                f"There is no parameter {name[:60]!r}.", where="params", fix="See `bedlore params`."
            )
    return defaults({**fixed, **(params or {})})


def hourly(value: float | tuple[float, ...], hours: int, name: str) -> Floats:
    """A number, or a series of at least ``hours`` hours, as an array of ``hours`` values."""
    return _spread(value, hours, name, "hours")


def daily(value: float | tuple[float, ...], days: int, name: str) -> Floats:
    """A number, or a series of at least ``days`` days, as an array of ``days`` values."""
    return _spread(value, days, name, "days")


def _spread(value: float | tuple[float, ...], count: int, name: str, steps: str) -> Floats:
    if isinstance(value, (int, float)):
        return np.full(count, float(value))
    if len(value) < count:
        raise KeeperError(
            f"This series has {len(value)} {steps}, but the run {count}.", where=name,
            fix="Give a longer series or fewer days.",
        )
    return np.array(value[:count], dtype=float)
