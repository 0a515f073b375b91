"""Invented beds with a hidden truth, and logs that a keeper of them might write.

The truth is a draw from the priors that is not a member of any ensemble, run through the same
model; readings are made from it by the observation models, with gaps and slips.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from bedlore.bed.cells import Air
from bedlore.bed.engine import Run, State, simulate
from bedlore.bed.history import start_of
from bedlore.bed.place import air_around
from bedlore.facts.parameters import draw
from bedlore.farm import log
from bedlore.farm.bed import Bed
from bedlore.farm.site import Building, Normals, Site
from bedlore.learn.calibrate import farm_of
from bedlore.learn.counts import clumping_of
from bedlore.learn.forward import Forward, Lesson
from bedlore.learn.observations import readings_of_log
from bedlore.learn.unknowns import Unknowns
from bedlore.learn.words import FOOD_CUTS, FOOD_SD, FOOD_WORDS, SQUEEZE_SD, SQUEEZE_WORDS
from bedlore.outlook.twin import Past
from bedlore.weather.building import building_air, building_members
from bedlore.weather.generator import generate
from bedlore.weather.normals import climate_of
from bedlore.weather.series import WeatherEnsemble, WeatherSeries

HOUR = dt.timedelta(hours=1)
TRUTHS = 1_000_000  # seeds of truths lie above those of ensembles
AHEAD_D = 14
SITE = Site(
    latitude_deg=52.0, longitude_deg=1.0, time_zone="UTC",
    normals=Normals(
        daily_low_c=(1, 1, 2, 4, 7, 10, 12, 12, 10, 7, 4, 2),
        daily_high_c=(7, 8, 11, 14, 17, 20, 23, 23, 20, 15, 11, 8), rh_frac=(0.82,) * 12,
    ),
    building=Building.model_validate({"kind": "shed"}),
)  # fmt: skip


class WorldAir:
    """Surroundings of a bed in a shed, each member with its own shed (and ``outdoor`` air)."""

    def __init__(self, world: World, params: np.ndarray,
                 outdoor: WeatherEnsemble | None = None) -> None:  # fmt: skip
        self.world, self.params, self.outdoor = world, params, outdoor

    @cached_property
    def whole(self) -> Air:
        outdoor = self.outdoor or self.world.weather.as_ensemble(len(self.params))
        shed = building_members(
            SITE.building, np.asarray(self.params["building_tau_scale"]),
            np.asarray(self.params["building_offset_shift_k"]),
        )  # fmt: skip
        ground = np.full(outdoor.temp_c.shape[1], 10.0)
        year = 11.0 + shed.offset_k
        return air_around(self.world.bed, outdoor, building_air(outdoor, shed), ground, year)

    def between(self, first: int, last: int) -> Air:
        return Air(*(np.ascontiguousarray(array[:, first:last]) for array in self.whole))

    def room_c(self, hour: int) -> float:
        return 10.0

    def key(self, hour: int) -> str:
        return str(self.world.seed)


@dataclass(frozen=True)
class Cores:
    """Cores of a litre, counted on days drawn from a share ``since`` of the log to its end."""

    count: int
    since: float = 0.3


NO_CORES = Cores(0)


@dataclass(frozen=True)
class World:
    """A bed, its weather to a fortnight past ``now``, its log and its truth."""

    seed: int
    bed: Bed
    weather: WeatherSeries
    start: dt.datetime
    now: dt.datetime
    entries: tuple[log.AnyEntry, ...]
    truth: Run  # hourly outputs of the fortnight from now, one member
    truth_params: np.ndarray
    truth_state: State

    def lesson(self, members: int, readings_until: dt.datetime | None = None) -> Lesson:
        until = readings_until or self.now
        past = Past(self.bed, self.start, WorldAir(self, draw(1, 0)), self.entries)
        return Lesson(
            past, lambda params: WorldAir(self, params), draw(members, 2024),
            readings_of_log(self.bed, self.entries, self.start, until), self.now,
        )  # fmt: skip


class TrueBed(Forward):
    """The bed as it was. What the log gets wrong is drawn from the world's own ``seed``: drawn as
    the members' is, from the entries' names, it would be the same in every world."""

    def __init__(self, lesson: Lesson, unknowns: Unknowns, seed: int) -> None:
        self._seed = seed
        super().__init__(lesson, unknowns)

    def _factor_noise(self) -> np.ndarray:
        noise = [
            np.exp(error * np.random.default_rng([self._seed, TRUTHS, *key.encode()])
                   .standard_normal())
            for key, error in zip(self._keys, self._errors, strict=True)
        ]  # fmt: skip
        return np.array([noise])


def _true_z(unknowns: Unknowns, seed: int) -> np.ndarray:
    """One draw of all unknowns ``[1, K]``, by their names."""
    seeds = ([seed + TRUTHS, *name.encode()] for name in unknowns.names)
    return np.array([[np.random.default_rng(each).standard_normal() for each in seeds]])


def small_bed(rng: np.random.Generator, cells24: bool = True, foamed: bool = False) -> Bed:
    """Two zones of twelve cells, or four; a ``foamed`` one that does not begin in the warm months
    keeps its warmth for days."""
    zones = 2 if cells24 else 4
    sides = ("race", "bank")
    worms = rng.uniform(0.25, 0.8)
    length_m, width_m = float(rng.uniform(0.8, 1.8)), float(rng.uniform(0.5, 0.9))
    larch_m, month = float(rng.uniform(0.018, 0.05)), int(rng.integers(1, 13))
    keeps_warm = foamed and not 3 <= month <= 8
    foam = [{"material": "xps", "thickness_m": 0.04}] if keeps_warm else []
    return Bed.model_validate({
        "id": "sluice", "length_m": length_m, "width_m": width_m, "depth_m": 0.45,
        "walls": [{"material": "larch", "thickness_m": larch_m}, *foam], "lid": foam,
        "zones": [
            {"id": f"z{i}", "side": sides[i * 2 // zones], "worms_kg": worms / zones * 2,
             "bedding": [
                 {"material": "bed_leaf_mold", "depth_m": 0.12, "moisture_frac": 0.72},
                 {"material": "bed_corrugated", "depth_m": 0.1, "moisture_frac": 0.72},
             ]}
            for i in range(zones)
        ],
        "cover": {"material": "shredded_paper", "thickness_m": 0.03},
        "place": "indoors", "started": dt.date(2024, month, 5),
    })  # fmt: skip


def _acts(bed: Bed, start: dt.datetime, days: int, rng: np.random.Generator) -> list[log.AnyEntry]:
    found: list[log.AnyEntry] = []
    day, zone_ids = 2.0, [zone.id for zone in bed.zones]
    share = 0.4 if bed.lid else 1.0  # a bed that keeps its warmth would cook under full feeds
    while day < days + AHEAD_D:
        i = len(found)
        kg = float(np.round(share * rng.uniform(0.4, 1.6), 2 if bed.lid else 1))
        parts = (
            log.Part(material="food_mixed_kitchen", mass_kg=kg, mass_error_frac=0.15),
            log.Part(material="bed_egg_carton", mass_kg=0.2 * kg, mass_error_frac=0.2),
        )
        at, zone = start + dt.timedelta(days=day, hours=7), zone_ids[i % len(zone_ids)]
        found.append(log.Feed(id=f"feed{i}", at=at, bed=bed.id, zone=zone, parts=parts))
        if rng.random() < 0.3:
            found.append(log.Water(id=f"water{i}", at=start + dt.timedelta(days=day, hours=8),
                                   bed=bed.id, mass_kg=1.0))  # fmt: skip
        day += rng.uniform(2.5, 5.0)
    return found


def _blank_readings(bed: Bed, start: dt.datetime, days: int, per_fortnight: int, cores: Cores,
                    rng: np.random.Generator) -> list[log.AnyEntry]:  # fmt: skip
    """Readings with values still to come; a week without any in the middle of a longer log."""
    found: list[log.AnyEntry] = []
    zone_ids = [zone.id for zone in bed.zones]
    count = int(per_fortnight * days / 14)
    gap = rng.uniform(0.2, 0.7) * days
    kinds = rng.choice(["probe", "air", "squeeze", "look"], count, p=[0.5, 0.1, 0.2, 0.2])
    for i, kind in enumerate(kinds):
        day = rng.uniform(1.0, days)
        if days > 40 and gap < day < gap + 7:
            continue
        at = start + dt.timedelta(days=int(day), hours=int(rng.integers(6, 20)))
        common = {"id": f"r{i}", "at": at, "bed": bed.id, "zone": str(rng.choice(zone_ids))}
        match kind:
            case "probe":
                depth = float(rng.choice([0.08, 0.18]))
                found.append(log.Probe(**common, temp_c=10, depth_m=depth, device="stick"))
            case "air":
                found.append(log.Probe(**common, temp_c=10, device="air", error_k=0.5))
            case "squeeze":
                found.append(log.Squeeze(**common, word="damp"))
            case _:
                found.append(log.Look(**common, food_left="some"))
    for i in range(cores.count):
        at = start + dt.timedelta(days=float(rng.uniform(cores.since, 1.0)) * days, hours=1)
        found.append(log.Core(id=f"core{i}", at=at, bed=bed.id, zone=str(rng.choice(zone_ids)),
                              volume_l=1.0, adults=0, juveniles=0, hatchlings=0))  # fmt: skip
    return [e for e in found if e.at < start + dt.timedelta(days=days)]


def make_world(seed: int, *, days: int = 60, per_fortnight: int = 10, cores: Cores = NO_CORES,
               outliers: float = 0.03, cells24: bool = True) -> World:  # fmt: skip
    """A farm of one bed with its hidden truth, in every third farm a foamed one; the same seed
    gives the same."""
    rng = np.random.default_rng([seed, TRUTHS])
    bed = small_bed(rng, cells24, foamed=seed % 3 == 2)
    start = start_of(bed, dt.UTC)
    now = start + dt.timedelta(days=days)
    hours = (days + AHEAD_D) * 24 + 2
    weather = generate(climate_of(SITE), start, hours, 1, seed + TRUTHS).member(0)
    acts = _acts(bed, start, days, rng)
    blanks = _blank_readings(bed, start, days, per_fortnight, cores, rng)
    empty = World(seed, bed, weather, start, now, (*acts, *blanks), None, None, None)
    base = draw(1, seed + TRUTHS)
    farm = farm_of([replace(empty.lesson(1), base=base)])
    model = TrueBed(farm.lessons[0], farm.unknowns, seed)
    z = _true_z(farm.unknowns, seed)
    told = model.run(z)
    filled = _filled(blanks, model, told.latents[0], z, rng, outliers)
    after = _future_truth(model, z, told.params, told.state, days)
    return World(seed, bed, weather, start, now, (*acts, *filled), after, told.params, told.state)


def _future_truth(model: Forward, z: np.ndarray, params: np.ndarray, state: State,
                  days: int) -> Run:  # fmt: skip
    first = days * 24
    air = model.lesson.air_of(params).between(first, first + AHEAD_D * 24)
    acts, factors = model.history.table(), model.factors(z, params, np.array([0]))
    due = (acts[:, 0] >= first) & (acts[:, 0] < first + AHEAD_D * 24)
    mine = acts[due].copy()
    mine[:, 0] -= first
    return simulate(model.geometry, params, state, air, mine,
                    scale=np.ascontiguousarray(factors[:, due]), every=1)  # fmt: skip


def _filled(blanks: list[log.AnyEntry], model: Forward, latents: np.ndarray, z: np.ndarray,
            rng: np.random.Generator, outliers: float) -> list[log.AnyEntry]:  # fmt: skip
    by_id = {entry.id: entry for entry in blanks}
    view = model.view(z)
    values: dict[str, dict[str, object]] = {}
    for reading, latent in zip(model.lesson.readings, latents, strict=True):
        given = values.setdefault(reading.entry_id, {})
        match reading.about:
            case "temp" | "air":
                error = 0.75 if reading.about == "temp" else 0.5
                shown = latent + error * rng.standard_normal()
                if rng.random() < outliers:
                    shown += float(rng.choice([-6, 6]))
                given["temp_c"] = float(np.clip(np.round(shown * 2) / 2, -39, 89))
            case "moisture":
                felt = latent + SQUEEZE_SD * rng.standard_normal()
                cuts = sorted(
                    c + 0.03 * float(view(f"squeeze_cut:{i}")[0])
                    for i, c in enumerate((0.6, 0.7, 0.8))
                )
                given["word"] = SQUEEZE_WORDS[int(np.searchsorted(cuts, felt))]
            case "food":
                looked = latent + FOOD_SD * rng.standard_normal()
                given["food_left"] = FOOD_WORDS[int(np.searchsorted(FOOD_CUTS, looked))]
            case "count":
                size = float(clumping_of(view("clumping"))[0])
                mean = float(np.exp(latent))
                given[reading.stages[0]] = int(rng.poisson(mean * rng.gamma(size) / size))
    return [by_id[i].model_copy(update=given) for i, given in values.items()]


def forecast_of(world: World, members: int) -> tuple[WeatherSeries, WeatherEnsemble]:
    """A forecast from now and the futures drawn around it, ``members`` of them.

    Its error grows from 1.5 K after a day to 4 K after a week and keeps for a day and a half;
    the truth lies about the forecast as the members do.
    """
    rng = np.random.default_rng([world.seed, TRUTHS, 7])
    first = (world.now - world.weather.start) // HOUR
    hours = len(world.weather) - first
    sd_k = np.interp(np.arange(hours) / 24.0, (0.0, 1.0, 7.0), (0.0, 1.5, 4.0))
    keep = np.exp(-1.0 / 36.0)
    noise = np.zeros((members + 1, hours))
    noise[:, 0] = rng.standard_normal(members + 1)
    for hour in range(1, hours):
        new = rng.standard_normal(members + 1)
        noise[:, hour] = keep * noise[:, hour - 1] + np.sqrt(1.0 - keep**2) * new
    temp_c = world.weather.temp_c.copy()
    temp_c[first:] += sd_k * noise[0]
    told = replace(world.weather, temp_c=temp_c)
    around = told.as_ensemble(members)
    wide = around.temp_c.copy()
    wide[:, first:] += sd_k * noise[1:]
    return told, replace(around, temp_c=wide)


def true_number(world: World) -> float:
    """Worms of all stages at now."""
    herd = world.truth_state.herd
    return float((herd.adult_n + herd.juvenile_n + herd.hatchling_n).sum())
