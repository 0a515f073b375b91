"""Running a bed's ensemble past its readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.acts import HOUR
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats, Geometry
from bedlore.bed.engine import State, empty_state, simulate
from bedlore.bed.history import History, history_of
from bedlore.facts.parameters import defaults
from bedlore.learn.moment import Moment
from bedlore.learn.sight import Reading
from bedlore.learn.unknowns import Unknown, Unknowns
from bedlore.outlook.twin import Past, PastAir

AirOf = Callable[[NDArray[np.void]], PastAir]
_DAY_H = 24
_START_GROUPS = {"bed": "start", "worms": "worm"}  # by the last word of an act's key
SCALES = ("feed_mass_scale", "herd_scale")  # parameters that go with an act's amount


@dataclass(frozen=True)
class Lesson:
    """A bed with everything to learn from up to ``now``.

    ``past.air`` is not used: ``air_of(params)`` gives the surroundings each member believes in,
    since the building is learnt too. ``base`` ``[M]`` holds what is not learnt. ``readings`` are
    by hour.
    """

    past: Past
    air_of: AirOf
    base: NDArray[np.void]
    readings: tuple[Reading, ...]
    now: dt.datetime

    @property
    def bed_id(self) -> str:
        """The bed."""
        return self.past.bed.id

    @property
    def end(self) -> int:
        """Whole hours from the start to now."""
        return max(self.past.hour_of(self.now), 1)


@dataclass(frozen=True)
class Told:
    """What an ensemble tells of its readings: ``latents`` ``[M, N]``, and its states.

    ``kept`` is the state at ``kept_at`` [h], ``state`` the one at the end.
    """

    latents: Floats
    params: NDArray[np.void]
    state: State
    kept: State
    kept_at: int


def finite_members(told: Told) -> NDArray[np.bool_]:
    """Which members ``[M]`` came to numbers everywhere."""
    arrays = (told.latents, *told.state.arrays().values(), *told.kept.arrays().values())
    sound = [np.isfinite(a).reshape(len(a), -1).all(axis=1) for a in arrays]
    return np.asarray(np.all(sound, axis=0))


def start_unknowns(past: Past) -> tuple[Unknown, ...]:
    """How much bedding each zone and how many worms the bed really began with.

    What the log tells of them would otherwise be put down to other unknowns: of the herd, only
    as much as ``herd_scale`` takes, and the rest of its first error would stay in the ensemble.
    """
    history = history_of(past.bed, (), past.start, lambda _: 10.0)
    groups = {
        key: _START_GROUPS[key.rpartition(".")[2]]
        for key, error in zip(history.keys, history.errors, strict=True)
        if error > 0.0 and key.rpartition(".")[2] in _START_GROUPS
    }  # fmt: skip
    return tuple(Unknown(f"start:{key}", group, past.bed.id) for key, group in groups.items())


class Forward:
    """The forward model of one bed: unknowns in, latents of its readings out."""

    def __init__(self, lesson: Lesson, unknowns: Unknowns) -> None:
        self.lesson, self.unknowns = lesson, unknowns
        self.geometry: Geometry = bed_geometry(lesson.past.bed)
        room_c = lesson.air_of(defaults()).room_c
        self.history: History = history_of(
            lesson.past.bed, lesson.past.entries, lesson.past.start, room_c
        )
        self.acts = self.history.table()
        by_hour = np.argsort([row[0] for row in self.history.rows], kind="stable")
        self._keys = [self.history.keys[i] for i in by_hour]
        self._errors = [self.history.errors[i] for i in by_hour]
        self._noise = self._factor_noise()

    def _factor_noise(self) -> Floats:
        """Each row's own error factors ``[M, A]``, without what a member believes of its scoops."""
        return self.history.factors(self._neutral())

    def _neutral(self) -> NDArray[np.void]:
        """The base ``[M]`` with the scales that go with acts left out."""
        neutral = self.lesson.base.copy()
        for name in SCALES:
            neutral[name] = 1.0
        return neutral

    def factors(self, z: Floats, params: NDArray[np.void], origin: NDArray[np.int64]) -> Floats:
        """Factors ``[M, A]`` on the acts; ``origin`` names the row of base that a member's
        unlearnt parameters and errors of the log come from."""
        neutral, rows = self._neutral(), len(params)
        believed = neutral.copy()
        for name in SCALES:
            believed[name][:rows] = params[name]
        scale = self.history.factors(believed)[:rows] / self.history.factors(neutral)[:rows]
        factors = self._noise[origin].copy()
        for column, (key, error) in enumerate(zip(self._keys, self._errors, strict=True)):
            if f"start:{key}" in self.unknowns.index:
                factors[:, column] = np.exp(error * self.unknowns.column(z, f"start:{key}"))
        return np.asarray(factors * scale)

    def run(self, z: Floats, origin: NDArray[np.int64] | None = None, *, keep_at: int | None = None,
            begin: tuple[int, State] | None = None) -> Told:  # fmt: skip
        """Latents of the readings from ``begin`` (an hour and its state; the start) to now.

        The run stops at the hour of each reading to look at it, which changes nothing. The state
        at ``keep_at`` is kept (the last whole day when left out).
        """
        lesson = self.lesson
        origin = np.arange(len(z)) if origin is None else origin
        params = self.unknowns.params(z, lesson.base[origin], lesson.bed_id)
        first, state = begin or (0, self._empty(len(z)))
        readings = [r for r in lesson.readings if r.hour > first]
        flow = _Flow(self, params, self.factors(z, params, origin), first)
        kept_at = lesson.end // _DAY_H * _DAY_H if keep_at is None else keep_at
        latents, kept, at, column = np.zeros((len(z), len(readings))), state, first, 0
        for hour, mine in _stops(readings, kept_at, lesson.end):
            state, at = flow.advanced(state, at, hour), hour
            kept = state if hour == kept_at else kept
            moment = Moment(self.geometry, state, hour, flow.window(hour, len(z)))
            for reading in mine:
                latents[:, column] = reading.predict(moment, self.view(z))
                column += 1
        return Told(latents, params, state, kept, kept_at)

    def view(self, z: Floats) -> Callable[[str], Floats]:
        """Looks up nuisances of the readings in ``z``."""
        return lambda name: self.unknowns.column(z, name)

    def _empty(self, members: int) -> State:
        bed = self.lesson.past.bed
        return empty_state(members, len(bed.zones), cell_count(bed))


class _Flow:
    """One ensemble on its way: its weather, acts and factors from hour ``first`` on."""

    def __init__(self, model: Forward, params: NDArray[np.void], factors: Floats,
                 first: int) -> None:  # fmt: skip
        self._model, self._params, self._factors, self._first = model, params, factors, first
        air = model.lesson.air_of(params)
        self._weather: Air = air.between(first, model.lesson.end + 1)

    def window(self, hour: int, members: int) -> Floats:
        """Air ``[M, H]`` of the day up to ``hour``; rows dealt to the members in turn."""
        at = hour - self._first
        air_c = self._weather.air_c[:, max(0, at - _DAY_H + 1) : at + 1]
        return air_c[np.arange(members) % len(air_c)]

    def advanced(self, state: State, first: int, last: int) -> State:
        """The state at ``last``; acts of the hour ``first`` are carried out, of ``last`` not."""
        if last <= first:
            return state
        table = self._model.acts
        due = (table[:, HOUR] >= first) & (table[:, HOUR] < last)
        acts = table[due].copy()
        acts[:, HOUR] -= first
        start = first - self._first
        air = Air(*(array[:, start : start + last - first] for array in self._weather))
        return simulate(
            self._model.geometry, self._params, state, air, acts,
            scale=np.ascontiguousarray(self._factors[:, due]), hours=last - first,
            every=last - first, first_hour=first,
        ).state  # fmt: skip


def _stops(readings: Sequence[Reading], kept_at: int,
           end: int) -> Iterator[tuple[int, list[Reading]]]:  # fmt: skip
    """Hours to stop at, in order to ``end``, each with its readings."""
    by_hour: dict[int, list[Reading]] = {min(kept_at, end): [], end: []}
    for reading in sorted(readings, key=lambda r: r.hour):
        by_hour.setdefault(min(reading.hour, end), []).append(reading)
    yield from sorted(by_hour.items())


def with_readings(lesson: Lesson, readings: Sequence[Reading]) -> Lesson:
    """The same lesson with other readings."""
    return replace(lesson, readings=tuple(sorted(readings, key=lambda r: r.hour)))
