"""Weather around the beds: what was recorded, what the normals fill in, and what may come."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Air, Floats
from bedlore.bed.history import start_of
from bedlore.bed.place import air_around
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.site import Building, Site
from bedlore.outlook.twin import Past
from bedlore.say import say, say_many
from bedlore.weather.building import BuildingMembers, building_air, building_members, ground_temp_c
from bedlore.weather.generator import generate
from bedlore.weather.normals import Climate, climate_of
from bedlore.weather.series import WeatherEnsemble, WeatherSeries
from bedlore.weather.sun import solar_clock
from bedlore.weather.typed import Known, Reading

_HOUR = dt.timedelta(hours=1)
LEAD_IN_H = 21 * 24  # a building has forgotten its first hour after this
GROUND_DEPTH_M = 0.5
# The parameter table's prior of these two stands for a factor 2.5 and for 2.5 K at 5 and 95 %;
# a farm's own building gives the true width.
_TABLE_TAU_FACTOR = 2.5
_TABLE_OFFSET_K = 2.5
_NINETY_FIVE = 1.6448536269514722


@dataclass(frozen=True)
class Recorded:
    """Weather that was written down, days and a forecast known to come, and remarks on them."""

    series: WeatherSeries | None = None
    known: Known = field(default_factory=Known)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Surroundings:
    """Outdoor weather from ``first`` to ``now`` as one series, and the futures ``[M, H]``."""

    site: Site
    climate: Climate
    past: WeatherSeries
    future: WeatherEnsemble
    building: BuildingMembers
    notes: tuple[str, ...]
    _indoors: dict[tuple[dt.datetime, dt.datetime], WeatherEnsemble] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    # The usual air of the building in the past, by place: the same for whatever members believe.
    _rooms: dict[str, WeatherSeries] = field(default_factory=dict, repr=False, compare=False)

    @property
    def now(self) -> dt.datetime:
        """The whole hour that divides past from future."""
        return self.future.start

    def air(self, bed: Bed, first: dt.datetime, last: dt.datetime) -> Air:
        """Surroundings ``[M, T]`` of ``bed`` from ``first`` up to ``last`` (whole hours)."""
        lead = max(self.past.start, first - LEAD_IN_H * _HOUR)
        outdoor = self._outdoor(lead, last)
        indoor = self._indoor(outdoor, last)
        clock = solar_clock(first, int((last - first) / _HOUR), self.climate.longitude_deg)
        ground = ground_temp_c(self.climate, clock, GROUND_DEPTH_M)
        return air_around(
            bed, outdoor.slice(first, last), indoor.slice(first, last), ground, self._year_c(bed)
        )

    def _indoor(self, outdoor: WeatherEnsemble, last: dt.datetime) -> WeatherEnsemble:
        """The air in the building; that of days to come is kept, as every bed asks for it."""
        span = (outdoor.start, last)
        indoor = self._indoors.get(span)
        if indoor is None:
            indoor = building_air(outdoor, self.building)
            if last > self.now:
                self._indoors[span] = indoor
        return indoor

    def usual_room(self, place: str) -> WeatherSeries:
        """Past air around a bed indoors or outdoors, in a building as the farm file says."""
        room = self._rooms.get(place)
        if room is None:
            air = self.past.as_ensemble(1)
            if place == "indoors":
                one = building_members(self.site.building, np.ones(1), np.zeros(1))
                air = building_air(air, one)
            room = self._rooms[place] = air.member(0)
        return room

    def _year_c(self, bed: Bed) -> Floats:
        """Mean over the year ``[M]`` of the air around ``bed``, as each member believes it."""
        mean_c = float((self.climate.low_curve_c + self.climate.high_curve_c).mean()) / 2.0
        indoors = bed.place == "indoors"
        return mean_c + self.building.offset_k * (1.0 if indoors else 0.0)

    def opened(self) -> Surroundings:
        """The same weather with the building's door standing open: air as outdoors."""
        fast = replace(
            self.building, time_constant_h=np.full_like(self.building.time_constant_h, 0.5),
            offset_k=np.zeros_like(self.building.offset_k),
        )  # fmt: skip
        return replace(self, building=self.building if self.building.outdoors else fast)

    def of_members(self, members: NDArray[np.int64]) -> Surroundings:
        """The same, for the members with these indices alone."""
        future, building = self.future, self.building
        return replace(
            self,
            future=replace(future, temp_c=future.temp_c[members], rh_frac=future.rh_frac[members],
                           wind_m_s=future.wind_m_s[members], ghi_w_m2=future.ghi_w_m2[members]),
            building=replace(
                building, time_constant_h=building.time_constant_h[members],
                offset_k=building.offset_k[members],
                sun_k_per_w_m2=building.sun_k_per_w_m2[members],
                air_change_h=building.air_change_h[members],
            ),
        )  # fmt: skip

    def believing(self, params: NDArray[np.void]) -> Surroundings:
        """The same weather around the building that members with ``params`` ``[M]`` believe in."""
        return replace(self, building=_building(self.site.building, params))

    def _outdoor(self, first: dt.datetime, last: dt.datetime) -> WeatherEnsemble:
        members = self.future.members
        if last <= self.now:
            return self.past.slice(first, last).as_ensemble(members)
        ahead = self.future.slice(max(first, self.now), last)
        if first >= self.now:
            return ahead
        behind = self.past.slice(first, self.now).as_ensemble(members)

        def joined(a: Floats, b: Floats) -> Floats:
            return np.concatenate([a, b], axis=1)

        return replace(
            ahead, start=behind.start, temp_c=joined(behind.temp_c, ahead.temp_c),
            rh_frac=joined(behind.rh_frac, ahead.rh_frac),
            wind_m_s=joined(behind.wind_m_s, ahead.wind_m_s),
            ghi_w_m2=joined(behind.ghi_w_m2, ahead.ghi_w_m2),
        )  # fmt: skip


def surroundings_of(site: Site, recorded: Recorded, params: NDArray[np.void], first: dt.datetime,
                    now: dt.datetime, horizon_h: int, seed: int) -> Surroundings:  # fmt: skip
    """Join what was recorded with the normals of the place.

    Past hours without a record are drawn from the normals once; the coming ``horizon_h`` hours
    are drawn for every member of ``params``, held to the last reading, typed days and forecast.
    """
    climate = climate_of(site)
    now = now.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
    past, notes = _whole_past(climate, recorded.series, first, now, seed)
    known = recorded.known
    if recorded.series is not None and known.reading is None and recorded.series.end > first:
        at = min(recorded.series.end - _HOUR, now)
        if now - at < dt.timedelta(days=7):
            temp = float(past.slice(at, at + _HOUR).temp_c[0]) if len(past) else 0.0
            known = replace(known, reading=Reading(at, temp))
    future = generate(climate, now, horizon_h, len(params), seed, known)
    building = _building(site.building, params)
    return Surroundings(site, climate, past, future, building, tuple(notes))


def _whole_past(climate: Climate, series: WeatherSeries | None, first: dt.datetime,
                now: dt.datetime, seed: int) -> tuple[WeatherSeries, list[str]]:  # fmt: skip
    """Hours from a lead-in before ``first`` to ``now``, gaps drawn from the normals."""
    begin = min(first, now) - LEAD_IN_H * _HOUR
    hours = int((now - begin) / _HOUR) + 1
    drawn = generate(climate, begin, hours, 1, seed + 1).member(0)
    drawn = replace(drawn, source="normals of the place")
    if series is None:
        return drawn, []  # said where the record itself is told of
    if series.end <= begin or series.start > now:
        return drawn, [say("The weather record holds none of the days that the beds have stood:"
                           " they are drawn from the normals.")]  # fmt: skip
    notes: list[str] = []
    kept = series.slice(max(series.start, begin), min(series.end, now + _HOUR))
    if kept.start > first:
        days = (kept.start - first) / dt.timedelta(days=1)
        notes.append(say_many(
            "The first day has no weather record: drawn from the normals.",
            "The first {count} days have no weather record: drawn from the normals.",
            max(1, round(days)),
        ))  # fmt: skip
    whole = drawn.slice(begin, kept.start).then(kept) if kept.start > begin else kept
    if kept.end < now:
        days = (now - kept.end) / dt.timedelta(days=1)
        if days >= 1.5:
            notes.append(say("The last {days} days have no weather record: drawn from the"
                             " normals.", days=round(days)))  # fmt: skip
        whole = whole.then(drawn.slice(kept.end, now + _HOUR))
    return whole, notes


def _building(building: Building, params: NDArray[np.void]) -> BuildingMembers:
    """Each member's building: the farm file's priors, moved by the member's table values."""
    if building.kind == "none":
        ones = np.ones(len(params))
        return building_members(building, tau_scale=ones, offset_shift_k=0.0 * ones)
    width = np.log(building.time_constant_factor) / np.log(_TABLE_TAU_FACTOR)
    shift = building.offset_sd_k / (_TABLE_OFFSET_K / _NINETY_FIVE)
    return building_members(
        building,
        tau_scale=np.asarray(params["building_tau_scale"]) ** width,
        offset_shift_k=np.asarray(params["building_offset_shift_k"]) * shift,
    )


class BedAir:
    """The past surroundings of one bed, made when asked for."""

    def __init__(self, surroundings: Surroundings, bed: Bed, start: dt.datetime) -> None:
        self._all = surroundings
        self._bed = bed
        self._start = start
        self._room: Floats | None = None

    def between(self, first: int, last: int) -> Air:
        """Surroundings ``[M, last - first]`` of these hours."""
        return self._all.air(self._bed, self._start + first * _HOUR, self._start + last * _HOUR)

    def room_c(self, hour: int) -> float:
        """Air temperature around the bed at an hour in a building as the farm file says."""
        if self._room is None:
            room = self._all.usual_room(self._bed.place)
            self._room = room.slice(self._start, room.end).temp_c
        return float(self._room[min(hour, len(self._room) - 1)]) if len(self._room) else 10.0

    def key(self, hour: int) -> str:
        """Hash of the recorded weather before ``hour`` and of the building."""
        until = self._all.past.slice(self._all.past.start, self._start + hour * _HOUR)
        digest = hashlib.sha256(self._all.site.model_dump_json().encode())
        for array in (until.temp_c, until.rh_frac, until.ghi_w_m2):
            digest.update(np.round(array, 4).tobytes())
        return digest.hexdigest()


def past_of(bed: Bed, around: Surroundings, entries: Sequence[AnyEntry]) -> Past:
    """What ``bed`` went through in the weather and building of ``around``."""
    start = start_of(bed, around.site.zone_info())
    return Past(bed, start, BedAir(around, bed, start), entries)


def earliest(starts: Sequence[dt.datetime]) -> dt.datetime:
    """The first of ``starts``, as a whole hour."""
    return min(starts).astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
