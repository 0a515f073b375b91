"""Hourly weather without gaps: one series, or an ensemble of members on the same hours.

Stamps are whole hours in UTC. Temperature, humidity and wind are values at the stamp; global
horizontal irradiance is the mean over the hour that ends at the stamp, as in TMY3 files
(Wilcox & Marion 2008, NREL/TP-581-43156).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from bedlore.errors import KeeperError
from bedlore.say import say, say_many

FloatArray = NDArray[np.float64]
_FIELDS = ("temp_c", "rh_frac", "wind_m_s", "ghi_w_m2")
_HOUR = timedelta(hours=1)


def whole_utc_hour(when: datetime) -> datetime:
    """``when`` in UTC, cut down to its whole hour; raises ``ValueError`` without a time zone."""
    if when.tzinfo is None:
        raise ValueError("weather times need a time zone")
    return when.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def _hour_index(start: datetime, when: datetime, length: int) -> int:
    return min(max(int((whole_utc_hour(when) - start) / _HOUR), 0), length)


@dataclass(frozen=True)
class _Hourly:
    """What a series and an ensemble of hourly weather have in common; time is the last axis."""

    start: datetime
    temp_c: FloatArray
    rh_frac: FloatArray
    wind_m_s: FloatArray
    ghi_w_m2: FloatArray
    source: str
    notes: tuple[str, ...] = ()
    dimensions: ClassVar[int]

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", _checked_start(self.start))
        _check_arrays(self, self.dimensions)

    def __len__(self) -> int:
        return int(self.temp_c.shape[-1])

    @property
    def end(self) -> datetime:
        """The hour after the last stamp."""
        return self.start + len(self) * _HOUR

    def hours(self) -> list[datetime]:
        """The stamp of every value."""
        return [self.start + hour * _HOUR for hour in range(len(self))]

    def slice(self, start: datetime, end: datetime) -> Self:
        """The hours from ``start`` up to, not including, ``end``; cut to what there is."""
        first = _hour_index(self.start, start, len(self))
        last = max(_hour_index(self.start, end, len(self)), first)
        parts = {name: getattr(self, name)[..., first:last] for name in _FIELDS}
        return replace(self, start=self.start + first * _HOUR, **parts)


class WeatherSeries(_Hourly):
    """Hourly weather of one place.

    ``start`` is an aware whole hour; ``temp_c`` [degC], ``rh_frac`` [0..1], ``wind_m_s`` [m/s]
    and ``ghi_w_m2`` [W/m2] have shape [T]. ``source`` says where the figures come from and
    ``notes`` what was filled or assumed. Raises ``ValueError`` for unequal lengths, values that
    are not finite, or a start that is no whole hour.
    """

    dimensions = 1

    def as_ensemble(self, members: int = 1) -> WeatherEnsemble:
        """The same weather for every one of ``members`` members (read-only views)."""
        shape = (members, len(self))
        parts = {name: np.broadcast_to(getattr(self, name), shape) for name in _FIELDS}
        return WeatherEnsemble(start=self.start, source=self.source, notes=self.notes, **parts)

    def then(self, later: WeatherSeries) -> WeatherSeries:
        """This series followed by ``later``, which wins from its own start on.

        Raises :class:`KeeperError` when hours are missing between the two.
        """
        if later.start > self.end:
            gap_h = int((later.start - self.end) / _HOUR)
            raise KeeperError(
                say_many("{count} hour is missing between {source} and {later}.",
                         "{count} hours are missing between {source} and {later}.", gap_h,
                         source=self.source, later=later.source),
                fix=say("Give weather that joins on without a gap."),
            )
        keep = _hour_index(self.start, later.start, len(self))
        parts = {
            name: np.concatenate([getattr(self, name)[:keep], getattr(later, name)])
            for name in _FIELDS
        }
        source = self.source if self.source == later.source else f"{self.source}; {later.source}"
        first = self.start if keep else later.start
        return WeatherSeries(start=first, source=source, notes=self.notes + later.notes, **parts)


class WeatherEnsemble(_Hourly):
    """Hourly weather of ``members`` equally likely futures; arrays have shape [M, T].

    Fields and units as in :class:`WeatherSeries`.
    """

    dimensions = 2

    @property
    def members(self) -> int:
        """How many members there are."""
        return int(self.temp_c.shape[0])

    def member(self, index: int) -> WeatherSeries:
        """One member as a series of its own."""
        parts = {name: getattr(self, name)[index] for name in _FIELDS}
        return WeatherSeries(start=self.start, source=self.source, notes=self.notes, **parts)

    def after(self, past: WeatherSeries) -> WeatherEnsemble:
        """The shared ``past`` followed by this ensemble, which wins from its own start on."""
        head = past.slice(past.start, self.start)
        if head.end != self.start:
            raise KeeperError(
                say("the weather of {past} does not reach the start of {ahead}.",
                    past=past.source, ahead=self.source),
                fix=say("Give weather that joins on without a gap."),
            )
        parts = {
            name: np.concatenate([getattr(head.as_ensemble(self.members), name),
                                  getattr(self, name)], axis=1)
            for name in _FIELDS
        }
        notes = past.notes + self.notes
        source = f"{past.source}; {self.source}"
        return WeatherEnsemble(start=head.start, source=source, notes=notes, **parts)


def _checked_start(start: datetime) -> datetime:
    hour = whole_utc_hour(start)
    if hour != start:
        raise ValueError(f"weather starts at a whole hour, not at {start.isoformat()}")
    return hour


def _check_arrays(weather: _Hourly, dimensions: int) -> None:
    shape = weather.temp_c.shape
    for name in _FIELDS:
        values = getattr(weather, name)
        if values.ndim != dimensions or values.shape != shape:
            raise ValueError(f"{name} has shape {values.shape}, expected {shape}")
        if not np.isfinite(values).all():
            raise ValueError(f"{name} holds values that are not finite")
