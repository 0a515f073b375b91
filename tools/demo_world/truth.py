"""What really happened in the beds: a model variant that differs from the fitted one.

- Decay answers temperature as in Haug's form (physics of composting: 1.066^(T-20) - 1.21^(T-60),
  from memory), not as a Q10 law.
- Parameters lie off the medians of the priors; scoops are fuller and the herd is smaller than
  the keeper writes.
- Columns have half as many cells again.
- The room has two time constants (its air and its walls), sun comes through the open door, and
  it is warmer while the millrace is frozen and its draught gone.
- The wall behind the outdoor bed warms it in winter, and the eaves shade it in summer.
"""

from __future__ import annotations

import datetime as dt
import zlib
from dataclasses import dataclass, replace

import numpy as np

from bedlore.bed.acts import ADD, IS_FEED, KIND, STOCK
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import FAST, MEDIUM, Air, Floats
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.bed.history import history_of, start_of
from bedlore.bed.place import air_around
from bedlore.bed.plan import in_order
from bedlore.facts.parameters import BY_NAME, defaults, from_normal, prior_moments
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.site import Site
from bedlore.weather.building import first_order, ground_temp_c
from bedlore.weather.normals import climate_of
from bedlore.weather.series import FloatArray, WeatherEnsemble, WeatherSeries
from bedlore.weather.sun import solar_clock

SEED = 4111
SCOOP = 1.08  # what really is in a bucket, against what the keeper believes
HERD = 0.78  # worms stocked, against what the scales said with bedding clinging to them
SCATTER = 0.12  # sd of the logarithm of one filling
Q10 = 1.9  # bent to Haug's form at each step
# How far the truth lies from the median of each prior, in its standard deviations.
OFF_BY = {
    "fast_rate_per_day": 0.5, "medium_rate_per_day": -0.45, "slow_rate_per_day": 0.55,
    "residue_yield": 0.3, "conductivity_scale": 0.65, "wall_r_scale": -0.65, "film_r_scale": -0.4,
    "evaporation_h_w_m2k": 0.65, "water_held_scale": -0.6, "gut_burns": 0.45,
    "cover_dry_w_mk": 0.45, "capillary_per_day": 0.55,
    "worm_growth_rate": 0.45, "worm_half_food_g": 0.5, "worm_lay_rate": -0.4,
    "worm_incubation_kd": 0.5, "worm_chill_rate": 0.5, "worm_die_adult": 0.55,
    "worm_move_fast_d": 0.55, "worm_slow_share": 0.55, "worm_gate_c": -0.5,
}  # fmt: skip
RATES = ("fast_rate_per_day", "medium_rate_per_day", "slow_rate_per_day", "humus_rate_per_day")

FAST_TAU_H, SLOW_TAU_H, FAST_SHARE = 5.0, 46.0, 0.35
OFFSET_K, FROZEN_OFFSET_K = 2.5, 4.0
FREEZES_C, THAWS_C = -4.5, -0.5  # five-day mean of the outdoor air
DOOR_SUN_K = 0.0045  # K per W/m2
WALL_WARMTH_K = 1.1
HOUR = dt.timedelta(hours=1)
READINGS = ("probe", "squeeze", "look", "core", "sighting", "note")


def true_parameters() -> dict[str, float]:
    """The truth's values where they are not the defaults."""
    chosen = {"decay_q10": Q10}
    for name, z in OFF_BY.items():
        parameter = BY_NAME[name]
        middle, below, above = prior_moments(parameter)
        value = np.array(middle + (below if z < 0 else above) * z)
        chosen[name] = float(from_normal(parameter, value))
    return chosen


def haug_response(temp_c: float) -> float:
    """Rate of decay against 20 degC; what freezes is left to the model."""
    return float(max(0.0, 1.066 ** (temp_c - 20.0) - 1.21 ** (temp_c - 60.0)))


def millrace_frozen(outdoor_c: FloatArray) -> FloatArray:
    """1 in the hours when the millrace is frozen over, sliding over a day; [T]."""
    window = 120
    padded = np.concatenate([np.full(window - 1, outdoor_c[0]), outdoor_c])
    mean = np.convolve(padded, np.full(window, 1.0 / window), mode="valid")
    frozen = np.zeros(len(outdoor_c))
    state = 0.0
    for hour, temp in enumerate(mean):
        state = 1.0 if temp < FREEZES_C else 0.0 if temp > THAWS_C else state
        frozen[hour] = state
    return np.asarray(first_order(frozen[None], np.array([24.0]), 0.0)[0])


@dataclass(frozen=True)
class TruePlace:
    """Weather around the beds as it really was, hour by hour from ``start``."""

    start: dt.datetime
    outdoor: WeatherEnsemble
    room: WeatherEnsemble
    site: Site

    @classmethod
    def of(cls, site: Site, outdoor: WeatherSeries) -> TruePlace:
        """The place under ``outdoor`` weather."""
        frozen = millrace_frozen(outdoor.temp_c)
        drive = outdoor.temp_c + OFFSET_K + (FROZEN_OFFSET_K - OFFSET_K) * frozen
        drive = (drive + DOOR_SUN_K * outdoor.ghi_w_m2)[None]
        air_c = FAST_SHARE * first_order(drive, np.array([FAST_TAU_H]), None)
        air_c = air_c + (1 - FAST_SHARE) * first_order(drive, np.array([SLOW_TAU_H]), None)
        open_air = outdoor.as_ensemble(1)
        damp = np.clip(open_air.rh_frac + 0.05, 0.1, 1.0)  # the room smells of the river
        room = replace(open_air, temp_c=air_c, rh_frac=damp, ghi_w_m2=np.zeros_like(air_c))
        return cls(outdoor.start, _under_the_eaves(open_air, site), room, site)

    def air(self, bed: Bed, start: dt.datetime) -> Air:
        """Surroundings ``[1, T]`` of ``bed`` from ``start`` on."""
        climate = climate_of(self.site)
        clock = solar_clock(start, int((self.outdoor.end - start) / HOUR), climate.longitude_deg)
        ground = ground_temp_c(climate, clock, 0.4, surface_offset_k=1.8)
        end = self.outdoor.end
        around = self.room if bed.place == "indoors" else self.outdoor
        return air_around(bed, self.outdoor.slice(start, end), self.room.slice(start, end),
                          ground, around.temp_c.mean(axis=1))  # fmt: skip


def _under_the_eaves(open_air: WeatherEnsemble, site: Site) -> WeatherEnsemble:
    clock = solar_clock(open_air.start, open_air.temp_c.shape[1], site.longitude_deg)
    season = np.cos(2 * np.pi * (clock.day_of_year[clock.day_index] - 15) / 365.0)
    sun = open_air.ghi_w_m2 * (1.15 + 0.55 * season)  # low sun reaches under, high sun does not
    return replace(open_air, temp_c=open_air.temp_c + WALL_WARMTH_K, ghi_w_m2=sun)


class TrueBed:
    """One bed on its true course, advanced from visit to visit."""

    def __init__(self, bed: Bed, place: TruePlace) -> None:
        self.bed = bed
        self.start = start_of(bed, place.site.zone_info())
        self.entries: list[AnyEntry] = []
        self._air = place.air(bed, self.start)
        self._geometry = bed_geometry(bed)
        cells = 3 * cell_count(bed) // 2
        self.state: State = empty_state(1, len(bed.zones), cells)
        self.hour = 0
        self.last: Run | None = None
        self.mat_j = 0.0
        self._plan()

    def note(self, entry: AnyEntry) -> None:
        """The keeper does what ``entry`` says."""
        self.entries.append(entry)
        if entry.kind not in READINGS:
            self._plan()

    def hour_of(self, when: dt.datetime) -> int:
        """Whole hours from the bed's start to ``when``."""
        return int((when - self.start) / HOUR)

    def air_c(self) -> float:
        """Air around the bed now."""
        return float(self._air.air_c[0, self.hour])

    def advance(self, when: dt.datetime) -> None:
        """Run on to ``when``, a day at most at a time, so that decay follows the warmth."""
        target = self.hour_of(when)
        while self.hour < target:
            step = min(24, target - self.hour)
            self._run(self.hour, self.hour + step)
            self.hour += step

    def _run(self, first: int, last: int) -> None:
        due = (self._table[:, 0] >= first) & (self._table[:, 0] < last)
        acts = self._table[due].copy()
        acts[:, 0] -= first
        air = Air(*(np.ascontiguousarray(array[:, first:last]) for array in self._air))
        run = simulate(
            self._geometry, defaults(self._parameters()), self.state, air, acts,
            scale=np.ascontiguousarray(self._scale[None, due]), hours=last - first,
            every=last - first, threads=1,
        )  # fmt: skip
        self.state, self.last = run.state, run
        self.mat_j += float(run.total("mat_energy_j").sum())

    def _parameters(self) -> dict[str, float]:
        """The truth's parameters, rates bent to Haug's form at the bed's present warmth."""
        chosen = true_parameters()
        warmth = self._food_warmth_c()
        bend = haug_response(warmth) / chosen["decay_q10"] ** ((warmth - 20.0) / 10.0)
        table = defaults()
        for name in RATES:
            chosen[name] = max(chosen.get(name, float(table[name][0])) * bend, 1e-9)
        return chosen

    def _food_warmth_c(self) -> float:
        cells = self.state.cells
        food = cells.carbon_kg[0, :, :, FAST] + 1e-9
        return float((cells.temp_c[0] * food).sum() / food.sum())

    def _plan(self) -> None:
        """Work out again what all entries so far do."""
        history = history_of(
            self.bed, self.entries, self.start, lambda hour: float(self._air.air_c[0, hour])
        )
        factors = [
            true_factor(row, key) for row, key in zip(history.rows, history.keys, strict=True)
        ]
        order = np.argsort([row[0] for row in history.rows], kind="stable")
        self._table = in_order(history.rows)
        self._scale = np.array(factors)[order]
        self.position = dict(history.position)
        self.fed_side = history.fed_side

    def output(self, name: str, zone: int) -> float:
        """An output of the model at the end of the last run."""
        if self.last is None:
            raise ValueError(f"{self.bed.id} has not begun")
        return float(self.last.series(name)[0, -1, zone])

    def fresh_food_kg_m2(self, zone: int) -> float:
        """Food an eye would find: soft stuff, and the part of firm stuff on top of the bed."""
        carbon = self.state.cells.carbon_kg[0, zone]
        top = slice(0, carbon.shape[0] // 3)
        seen = carbon[:, FAST].sum() + 0.25 * carbon[top, MEDIUM].sum()
        return float(11.1 * seen / self._geometry.area_m2[zone])

    def volume_l(self, zone: int) -> float:
        """Volume of a zone's material [L]."""
        return 1000.0 * self.output("depth_m", zone) * float(self._geometry.area_m2[zone])


def true_factor(row: Floats, key: str) -> float:
    """What an amount really was, against what was written."""
    z = float(np.random.default_rng([SEED, zlib.crc32(key.encode())]).standard_normal())
    if row[KIND] == ADD:
        return (SCOOP if row[IS_FEED] > 0 else 1.0) * float(np.exp(SCATTER * z))
    return HERD if row[KIND] == STOCK else 1.0
