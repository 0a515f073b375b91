"""What every experiment returns: named arrays and numbers, also as plain JSON values."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]


class Result:
    """Base of the results (frozen dataclasses). ``result["name"]`` is ``result.name``."""

    def __getitem__(self, name: str) -> Any:
        if name not in self.names():
            raise KeyError(name)
        return getattr(self, name)

    def __iter__(self) -> Iterator[str]:
        return iter(self.names())

    def names(self) -> tuple[str, ...]:
        """The names of everything in the result."""
        return tuple(field.name for field in dataclasses.fields(self))  # type: ignore[arg-type]

    def as_dict(self) -> dict[str, Json]:
        """Everything as JSON values: arrays become lists, what is not a number null."""
        return {name: plain(getattr(self, name)) for name in self.names()}


def plain(value: Any) -> Json:
    """``value`` as a JSON value; arrays of any shape become nested lists."""
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return plain(value.item())
