"""A worm culture: founders and their offspring on one food, through the worms of the beds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from bedlore.bed.layout import Floats, Herd, Surroundings, new_herd, new_surroundings
from bedlore.bed.worms import (
    DIED_ADULT_N,
    DIED_HATCHLING_N,
    DIED_JUVENILE_N,
    FLOW_SIZE,
    HATCHED_N,
    LAID_N,
    worm_hour,
)
from bedlore.farm.fields import Record
from bedlore.lab.dish import DECAY_Q10, REFERENCE_DRY_FRAC, Feed, worm_defaults
from bedlore.lab.feeds import find_feed
from bedlore.lab.inputs import Amount, Number, Parameters, Percents, Series, checked, daily
from bedlore.lab.result import Result

Stage = Literal["cocoon", "hatchling", "juvenile", "adult"]
FOUNDERS, OFFSPRING = 0, 1
_BY_AGE = ("hatchling", "juvenile", "adult")


class CultureEvent(Record):
    """What is done at the start of ``day``, in this order.

    ``set_food_g`` puts so much fresh food in place of what is left; ``food_g`` adds (negative:
    takes out); ``set_worms`` brings all worms of the dish to this number, taking the youngest
    first, or adding worms like the founders now are; ``worms`` adds worms as at the start
    (negative: takes out, founders first).
    """

    day: Annotated[int, Field(ge=0, le=100_000)]
    food_g: Number | None = None
    set_food_g: Amount | None = None
    worms: Number | None = None
    set_worms: Amount | None = None


class CultureSpec(Record):
    """Input of :func:`culture`."""

    worms: Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
    stage: Stage
    mass_g: Annotated[float, Field(ge=1e-6, le=20)]
    area_m2: Annotated[float, Field(ge=1e-5, le=1e5)]
    depth_m: Annotated[float, Field(ge=0.001, le=5)]
    temp_c: Series
    moisture_pct: Percents
    material: str
    food_g: Amount
    days: Annotated[int, Field(ge=1, le=20_000)]
    events: tuple[CultureEvent, ...] = ()
    params: Parameters = None


@dataclass(frozen=True)
class CultureResult(Result):
    """A culture by day, day 0 first; all [days + 1], as found before the events of that day.

    ``mean_mass_g`` live mass of a founder (nan when none live); ``cocoons`` laid so far;
    ``hatched`` hatchlings born so far; ``n_hatchling``, ``n_juvenile``, ``n_adult`` worms of all
    generations in the dish; ``n_clitellate`` those with a saddle, which in this model are the
    adults; ``dead`` worms that died so far (not those taken out); ``food_left_g`` food not yet
    eaten or rotted, as wet grams of the fresh material. Then ``day``, ``founders`` still living,
    ``n_cocoon`` unhatched cocoons and ``biomass_g`` of all worms. Numbers are means and not whole.
    """

    mean_mass_g: Floats
    cocoons: Floats
    hatched: Floats
    n_hatchling: Floats
    n_juvenile: Floats
    n_adult: Floats
    n_clitellate: Floats
    dead: Floats
    food_left_g: Floats
    day: Floats
    founders: Floats
    n_cocoon: Floats
    biomass_g: Floats


def culture(
    worms: float,
    stage: Stage,
    mass_g: float,
    area_m2: float,
    depth_m: float,
    temp_c: float | Sequence[float],
    moisture_pct: float | Sequence[float],
    material: str,
    food_g: float,
    events: Sequence[CultureEvent | Mapping[str, Any]],
    days: int,
    params: Mapping[str, float] | None = None,
) -> CultureResult:
    """A culture of ``worms`` founders of ``stage`` and ``mass_g`` [g] each, for ``days`` days.

    ``stage`` is cocoon, hatchling, juvenile or adult (a cocoon's mass is the model's own).
    ``area_m2`` and ``depth_m`` are of the dish; ``temp_c`` [degC] and ``moisture_pct`` (wet basis,
    percent) numbers or daily series; ``material`` a name of :data:`bedlore.lab.feeds.FEEDS` or of
    docs/materials.md; ``food_g`` its wet mass at that moisture, given at the start. ``events``
    are mappings with ``day`` and any of ``food_g``, ``set_food_g``, ``worms``, ``set_worms``
    (:class:`CultureEvent`). ``params`` changes worm parameters by name.

    One well-mixed layer with ample air and no ammonia; offspring stay and share the food unless
    an event takes them out. Returns a :class:`CultureResult`; raises FaultList or KeeperError in
    sentences. Model and sources: docs/worms.md; checks: tests/published.
    """
    return run_culture(checked(CultureSpec, locals()))


def run_culture(spec: CultureSpec) -> CultureResult:
    """:func:`culture` of a checked ``spec``."""
    dish = _Culture(spec)
    rows = [dish.row(0)]
    for day in range(spec.days):
        for event in spec.events:
            if event.day == day:
                dish.do(event, day)
        dish.live_a_day(day)
        rows.append(dish.row(day + 1))
    return CultureResult(*np.array(rows).T)


class _Culture:
    """The dish: two herds (founders, offspring) on the same food."""

    def __init__(self, spec: CultureSpec) -> None:
        self.spec = spec
        self.p = worm_defaults(spec.params)
        self.temp_c = daily(spec.temp_c, spec.days, "temp_c")
        self.dry_frac = 1.0 - 0.01 * daily(spec.moisture_pct, spec.days, "moisture_pct")
        self.feed: Feed = find_feed(spec.material)
        self.pools_kg = np.zeros(2)  # edible, wet equivalent: fresh and slow
        self.herd: Herd = new_herd(2, 1)
        self.around: Surroundings = _airy(spec.depth_m)
        self.flow = np.zeros((2, FLOW_SIZE))
        self.eaten_kg = np.zeros(1)
        self.add_founders(spec.worms)
        self.add_food(spec.food_g, 0)

    def add_food(self, wet_g: float, day: int) -> None:
        """Give ``wet_g`` of fresh material; a minus takes what is left out evenly."""
        edible = wet_g * self._edible_kg_per_g(day)
        if wet_g >= 0:
            self.pools_kg += edible * np.array([self.feed.fast_share, 1.0 - self.feed.fast_share])
        else:
            self.pools_kg *= 1.0 - min(1.0, -edible / max(self.pools_kg.sum(), 1e-300))

    def _edible_kg_per_g(self, day: int) -> float:
        dry = self.dry_frac[min(day, self.spec.days - 1)]
        return float(0.001 * dry / REFERENCE_DRY_FRAC * self.feed.edible_share)

    def add_founders(self, n: float) -> None:
        """Put ``n`` worms (or cocoons) like the founders in."""
        kg, herd = 0.001 * n * self.spec.mass_g, self.herd
        if self.spec.stage == "cocoon":
            herd.cocoon_n[OFFSPRING, 0] += n
            herd.cocoon_where[OFFSPRING, 0] = 1.0
        elif self.spec.stage == "hatchling":
            herd.hatchling_n[FOUNDERS] += n
            herd.hatchling_kg[FOUNDERS] += kg
        elif self.spec.stage == "juvenile":
            herd.juvenile_n[FOUNDERS] += n
            herd.juvenile_kg[FOUNDERS] += kg
        else:
            herd.adult_n[FOUNDERS] += n
            herd.adult_kg[FOUNDERS] += kg
            herd.adult_age_d[FOUNDERS] += n * 2.0 * self.p["worm_first_cocoon_d"]

    def do(self, event: CultureEvent, day: int) -> None:
        """Carry out an event."""
        if event.set_food_g is not None:
            self.pools_kg[:] = 0.0
            self.add_food(event.set_food_g, day)
        if event.food_g is not None:
            self.add_food(event.food_g, day)
        if event.set_worms is not None:
            surplus = float(self._count().sum()) - event.set_worms
            if surplus < 0.0:
                self._replace(-surplus)
            else:
                order = [(herd, s) for herd in (OFFSPRING, FOUNDERS) for s in _BY_AGE]
                self._take(surplus, order)
        if event.worms is not None and event.worms >= 0.0:
            self.add_founders(event.worms)
        elif event.worms is not None:
            left = self._take_evenly(FOUNDERS, -event.worms)
            self._take_evenly(OFFSPRING, left)

    def _replace(self, n: float) -> None:
        """Add ``n`` worms like the founders are now, or as at the start when none are left."""
        here = float(self._count()[FOUNDERS])
        if here <= 0.0:
            self.add_founders(n)
            return
        for stage in _BY_AGE:
            self._keep(FOUNDERS, stage, 1.0 + n / here)

    def _count(self) -> Floats:
        herd = self.herd
        return np.asarray(herd.hatchling_n + herd.juvenile_n + herd.adult_n)

    def _take(self, n: float, order: list[tuple[int, str]]) -> None:
        """Take ``n`` worms out, group after group."""
        for zone, stage in order:
            here = float(getattr(self.herd, f"{stage}_n")[zone])
            if here > 0.0 and n > 0.0:
                self._keep(zone, stage, max(0.0, 1.0 - n / here))
                n -= min(n, here)

    def _take_evenly(self, zone: int, n: float) -> float:
        """Take ``n`` worms of a herd regardless of stage; returns how many could not be found."""
        here = float(self._count()[zone])
        if here > 0.0:
            for stage in _BY_AGE:
                self._keep(zone, stage, max(0.0, 1.0 - n / here))
        return max(0.0, n - here)

    def _keep(self, zone: int, stage: str, share: float) -> None:
        """Multiply a stage of a herd, numbers and masses, by ``share``."""
        for name in self.herd._fields:
            if name.startswith(stage):
                getattr(self.herd, name)[zone] *= share

    def live_a_day(self, day: int) -> None:
        """Live 24 hours."""
        self.around.temp_c[:] = self.temp_c[day]
        self.around.moisture_frac[:] = 1.0 - self.dry_frac[day]
        speed = DECAY_Q10 ** ((self.temp_c[day] - 20.0) / 10.0) / 24.0
        rates = speed * np.array([self.feed.fast_per_day, self.feed.slow_per_day])
        taste = np.array([1.0, self.p["worm_slow_food_taste"]])
        herd = self.herd
        for _ in range(24):
            tasted = self.pools_kg * taste
            food = float(tasted.sum())
            self.around.food_kg[0] = food
            self.around.food_quality[0] = self.feed.quality if food > 0.0 else 1.0
            eaten = 0.0
            for zone in (FOUNDERS, OFFSPRING):
                if zone == OFFSPRING and not self._any_offspring():
                    continue
                worm_hour(self.p, herd, zone, self.around, self.spec.area_m2, 1.0,
                          self.eaten_kg, self.flow[zone])  # fmt: skip
                eaten += self.eaten_kg[0]
            if herd.cocoon_n[FOUNDERS].any():  # what founders lay hatches as offspring
                herd.cocoon_n[OFFSPRING] += herd.cocoon_n[FOUNDERS]
                herd.cocoon_n[FOUNDERS] = 0.0
                herd.cocoon_where[OFFSPRING, 0] = 1.0
            share = self.p["worm_digested_share"] * eaten / food if food > 0.0 else 0.0
            self.pools_kg *= (1.0 - np.minimum(share * taste, 1.0)) * (1.0 - rates)

    def _any_offspring(self) -> bool:
        return bool(self._count()[OFFSPRING] > 0.0 or self.herd.cocoon_n[OFFSPRING].any())

    def row(self, day: int) -> tuple[float, ...]:
        """What is found on ``day``, in the order of :class:`CultureResult`."""
        herd, flow = self.herd, self.flow.sum(axis=0)
        kg = herd.hatchling_kg + herd.juvenile_kg + herd.adult_kg
        founders = float(self._count()[FOUNDERS])
        adults = float(herd.adult_n.sum())
        return (
            1000.0 * float(kg[FOUNDERS]) / founders if founders > 0.0 else float("nan"),
            float(flow[LAID_N]),
            float(flow[HATCHED_N]),
            float(herd.hatchling_n.sum()),
            float(herd.juvenile_n.sum()),
            adults,
            adults,
            float(flow[DIED_HATCHLING_N] + flow[DIED_JUVENILE_N] + flow[DIED_ADULT_N]),
            float(self.pools_kg.sum()) / self._edible_kg_per_g(day),
            float(day),
            founders,
            float(herd.cocoon_n.sum()),
            1000.0 * float(kg.sum()),
        )


def _airy(depth_m: float) -> Surroundings:
    around = new_surroundings(1)
    around.oxygen_factor[:] = around.reach[:] = 1.0
    around.thickness_m[:] = depth_m
    return around
