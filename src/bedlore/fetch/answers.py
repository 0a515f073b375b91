"""Picking values out of decoded JSON without trusting its shape."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime

from bedlore.fetch.client import ServiceError
from bedlore.say import say


def dig(payload: object, *path: str) -> object:
    """The value at ``path`` inside nested objects; None when any step is missing."""
    for key in path:
        if not isinstance(payload, dict):
            return None
        payload = payload.get(key)
    return payload


def rows(payload: object, *path: str) -> Iterator[object]:
    """The entries of the list at ``path``.

    Raises :class:`ServiceError` when there is no list or it is empty.
    """
    value = dig(payload, *path)
    if not isinstance(value, list) or not value:
        raise ServiceError(say("The weather service sent an answer without {part}.", part=path[-1]))
    yield from value


def number(value: object) -> float | None:
    """A finite number, or None."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    try:
        found = float(value)
    except OverflowError:  # whole numbers in JSON have no largest
        return None
    return found if math.isfinite(found) else None


def moment(value: object) -> datetime:
    """An aware time from ISO 8601 text; raises :class:`ServiceError` otherwise."""
    try:
        found = datetime.fromisoformat(str(value))
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise ServiceError(say("The weather service sent {value} as a time.",
                               value=repr(str(value)[:30])))  # fmt: skip
    return found
