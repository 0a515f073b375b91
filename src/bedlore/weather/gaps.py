"""Gaps in hourly records: short ones are filled and noted, long ones refused with a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.weather.series import FloatArray

STRAIGHT_H = 6  # up to here a straight line, beyond it the hours of the neighbouring days
LONGEST_H = 72  # beyond three days the weather of the gap is a guess


def fill_hourly(
    values: FloatArray, name: str, start: datetime, where: str
) -> tuple[FloatArray, list[str]]:
    """``values`` [T] without NaN, and a note for each way gaps were filled.

    ``name`` and ``where`` go into the sentences. Raises :class:`KeeperError` when a gap is
    longer than three days or nothing is known at all.
    """
    missing = np.isnan(values)
    if missing.all():
        raise KeeperError(say("there is no {name} at all.", name=name), where=where,
                          fix=say("Give a file with that column filled in."))
    filled = values.copy()
    short = long = 0
    for first, stop in runs(missing):
        length = stop - first
        if length > LONGEST_H:
            begin = start + timedelta(hours=first)
            raise KeeperError(
                say("{name} is missing for {length} hours from {begin} UTC.", name=name,
                    length=length, begin=f"{begin:%Y-%m-%d %H:%M}"),
                where=where,
                fix=say("Gaps over three days are not filled; cut the file there or add the"
                        " hours."),
            )
        filled[first:stop] = _bridge(filled, first, stop)
        short += length if length <= STRAIGHT_H else 0
        long += length if length > STRAIGHT_H else 0
    notes: list[str] = []
    if short:
        notes.append(say("{name}: {short} missing hours filled by straight lines.", name=name,
                         short=short))
    if long:
        notes.append(say("{name}: {long} missing hours filled from the days around them.",
                         name=name, long=long))
    return filled, notes


def runs(mask: np.ndarray) -> Iterator[tuple[int, int]]:
    """First and one-past-last index of every run of True in ``mask`` [T]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    yield from zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)


def _bridge(values: FloatArray, first: int, stop: int) -> FloatArray:
    """Values for ``first:stop``; earlier gaps are filled already."""
    left = values[first - 1] if first else values[stop]
    right = values[stop] if stop < len(values) else left
    share = (np.arange(first, stop) - first + 1) / (stop - first + 1)
    straight = left + (right - left) * share
    if stop - first <= STRAIGHT_H:
        return np.asarray(straight)
    return _with_daily_swing(values, first, stop, straight)


def _with_daily_swing(
    values: FloatArray, first: int, stop: int, straight: FloatArray
) -> FloatArray:
    """The hours of the last whole day before the gap, or after it, moved to meet both ends."""
    hours = np.arange(first, stop)
    if first >= 25:
        day = values[first - 24:first]
        pattern = day[(hours - first) % 24]
        ends = (values[first - 1], day[(stop - first) % 24])
    elif stop + 25 <= len(values):
        day = values[stop:stop + 24]
        pattern = day[(hours - stop) % 24]
        ends = (day[(first - 1 - stop) % 24], values[stop])
    else:
        return straight
    if np.isnan(day).any():
        return straight
    share = (hours - first + 1) / (stop - first + 1)
    return np.asarray(pattern + straight - (ends[0] + (ends[1] - ends[0]) * share))
