"""Every key of a JSON value, however deep."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


def keys_of(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys_of(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys_of(inner)
