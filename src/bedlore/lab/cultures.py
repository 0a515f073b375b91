"""A worm culture: founders and their offspring on one food, by the decay and worms of the beds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from bedlore.bed import acts
from bedlore.bed.cells import HUMUS, POOLS, TALLY_NAMES, Cells, Geometry, Work, Zones
from bedlore.bed.decay import decay_in_air
from bedlore.bed.engine import empty_state
from bedlore.bed.jit import model
from bedlore.bed.layout import Floats, Herd, new_herd
from bedlore.bed.living import live_zone
from bedlore.bed.loop import new_work, one_of_cells, one_of_zones
from bedlore.bed.matter import describe, dry_mass
from bedlore.bed.plan import add_material
from bedlore.bed.worms import (
    DIED_ADULT_N,
    DIED_HATCHLING_N,
    DIED_JUVENILE_N,
    FLOW_SIZE,
    HATCHED_N,
    LAID_N,
)
from bedlore.facts.feedstocks import find
from bedlore.farm.fields import Record
from bedlore.lab.bench import column_geometry
from bedlore.lab.compiled import compiled
from bedlore.lab.inputs import (
    Amount,
    Number,
    Parameters,
    Percents,
    Series,
    checked,
    daily,
    parameters,
)
from bedlore.lab.result import Result

Stage = Literal["cocoon", "hatchling", "juvenile", "adult"]
FOUNDERS, OFFSPRING = 0, 1
_BY_AGE = ("hatchling", "juvenile", "adult")
_TRACE_KG = 1e-6


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
    percent) numbers or daily series; ``material`` a name of docs/materials.md; ``food_g`` its wet
    mass at that moisture, given at the start. ``events`` are mappings with ``day`` and any of
    ``food_g``, ``set_food_g``, ``worms``, ``set_worms`` (:class:`CultureEvent`). ``params`` changes
    parameters by name.

    One well-mixed layer of bed material goes through the decay and the worms of the bed; it is
    kept at its warmth and moisture, has ample air, and its ammonia is aired off. Offspring stay
    and share the food unless an event takes them out. Returns a :class:`CultureResult`; raises
    FaultList or KeeperError in sentences. Model and sources: docs/worms.md; checks:
    tests/published, tests/unit/lab/test_culture.py.
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
    """The dish: one cell of bed material, and the herds of founders and of offspring in it."""

    def __init__(self, spec: CultureSpec) -> None:
        self.spec = spec
        self.p = parameters(spec.params)
        self.temp_c = daily(spec.temp_c, spec.days, "temp_c")
        self.moisture_frac = 0.01 * daily(spec.moisture_pct, spec.days, "moisture_pct")
        self.feedstock = find(spec.material)
        self.geometry = column_geometry(spec.area_m2)
        state = empty_state(1, 1, 1)
        state.zones.active[:] = 1.0
        self.cells: Cells = one_of_cells(state.cells, 0)
        self.zones: Zones = one_of_zones(state.zones, 0)
        self.work: Work = new_work(1, 1)
        self.tally = np.zeros((1, len(TALLY_NAMES)))
        self.herds = (new_herd(1, 1), new_herd(1, 1))
        for herd in self.herds:
            herd.where[:] = herd.cocoon_where[:] = 1.0
        self.flow = np.zeros(FLOW_SIZE)
        self.empty()
        self.add_founders(spec.worms)
        self.add_food(spec.food_g, 0)

    def empty(self) -> None:
        """Wipe the dish clean but for a trace that keeps its shape."""
        for array in self.cells:
            array[...] = 0.0
        self.cells.carbon_kg[0, 0, HUMUS] = _TRACE_KG
        self.cells.nitrogen_kg[0, 0, HUMUS] = 0.1 * _TRACE_KG

    def add_food(self, wet_g: float, day: int) -> None:
        """Give ``wet_g`` of fresh material; a minus takes so much of what lies there."""
        moisture = self._moisture(day)
        if wet_g < 0.0:
            wet_kg = dry_mass(self.cells.carbon_kg[0, 0], self.cells.ash_kg[0, 0])
            keep = max(0.0, 1.0 + 0.001 * wet_g * (1.0 - moisture) / wet_kg)
            for array in self.cells[1:-1]:
                array *= keep
            return
        row = add_material(0, 0, [(self.feedstock, 0.001 * wet_g, moisture)])
        nitrogen = row[acts.NITROGEN : acts.NITROGEN + POOLS]
        bound = nitrogen.sum()
        if bound > 0.0:  # given aired off: what was ammonia counts as organic nitrogen
            nitrogen *= 1.0 + row[acts.AMMONIA] / bound
        self.cells.carbon_kg[0, 0] += row[acts.CARBON : acts.CARBON + POOLS]
        self.cells.nitrogen_kg[0, 0] += nitrogen
        self.cells.ash_kg[0, 0] += row[acts.ASH]
        self.cells.starch_kg[0, 0] += row[acts.STARCH]
        self.cells.quality_kg[0, 0] += row[acts.QUALITY]

    def _moisture(self, day: int) -> float:
        return float(self.moisture_frac[min(day, self.spec.days - 1)])

    def food_left_g(self, day: int) -> float:
        """What still rots, as wet grams of the fresh material; 0 for a material that never does."""
        row = add_material(0, 0, [(self.feedstock, 0.001, self._moisture(day))])
        fresh = row[acts.CARBON : acts.CARBON + HUMUS].sum()
        left = float(self.cells.carbon_kg[0, 0, :HUMUS].sum())
        return left / float(fresh) if fresh > 0.0 else 0.0

    def add_founders(self, n: float) -> None:
        """Put ``n`` worms (or cocoons) like the founders in."""
        kg, herd = 0.001 * n * self.spec.mass_g, self.herds[FOUNDERS]
        if self.spec.stage == "cocoon":
            herd.cocoon_n[0, 0] += n
        elif self.spec.stage == "hatchling":
            herd.hatchling_n[0] += n
            herd.hatchling_kg[0] += kg
        elif self.spec.stage == "juvenile":
            herd.juvenile_n[0] += n
            herd.juvenile_kg[0] += kg
        else:
            herd.adult_n[0] += n
            herd.adult_kg[0] += kg
            herd.adult_age_d[0] += n * 2.0 * self.p["worm_first_cocoon_d"][0]

    def do(self, event: CultureEvent, day: int) -> None:
        """Carry out an event."""
        if event.set_food_g is not None:
            self.empty()
            self.add_food(event.set_food_g, day)
        if event.food_g is not None:
            self.add_food(event.food_g, day)
        if event.set_worms is not None:
            surplus = self._count(FOUNDERS) + self._count(OFFSPRING) - event.set_worms
            if surplus < 0.0:
                self.add_founders(-surplus)
            else:
                self._take_youngest(surplus)
        if event.worms is not None and event.worms >= 0.0:
            self.add_founders(event.worms)
        elif event.worms is not None:
            self._take_evenly(OFFSPRING, self._take_evenly(FOUNDERS, -event.worms))

    def _count(self, who: int) -> float:
        herd = self.herds[who]
        return float(herd.hatchling_n[0] + herd.juvenile_n[0] + herd.adult_n[0])

    def _take_youngest(self, n: float) -> None:
        """Take ``n`` worms out: offspring before founders, the young before the old."""
        for herd in (self.herds[OFFSPRING], self.herds[FOUNDERS]):
            for stage in _BY_AGE:
                here = float(getattr(herd, f"{stage}_n")[0])
                if here > 0.0 and n > 0.0:
                    _keep(herd, stage, max(0.0, 1.0 - n / here))
                    n -= min(n, here)

    def _take_evenly(self, who: int, n: float) -> float:
        """Take ``n`` worms of a herd regardless of stage; returns how many could not be found."""
        here = self._count(who)
        if here > 0.0:
            for stage in _BY_AGE:
                _keep(self.herds[who], stage, max(0.0, 1.0 - n / here))
        return max(0.0, n - here)

    def live_a_day(self, day: int) -> None:
        """Live 24 hours."""
        _live_hours(
            self.p[0], self.geometry, self.cells, self.zones, self.work, *self.herds, self.tally,
            self.flow, self.temp_c[day], self.moisture_frac[day], 24,
        )  # fmt: skip

    def row(self, day: int) -> tuple[float, ...]:
        """What is found on ``day``, in the order of :class:`CultureResult`."""
        flow = self.flow
        stages = np.array([[h.hatchling_n[0], h.juvenile_n[0], h.adult_n[0]] for h in self.herds])
        kg = [float(h.hatchling_kg[0] + h.juvenile_kg[0] + h.adult_kg[0]) for h in self.herds]
        founders = float(stages[FOUNDERS].sum())
        young, growing, grown = (float(n) for n in stages.sum(axis=0))
        return (
            1000.0 * kg[FOUNDERS] / founders if founders > 0.0 else float("nan"),
            float(flow[LAID_N]),
            float(flow[HATCHED_N]),
            young,
            growing,
            grown,
            grown,
            float(flow[DIED_HATCHLING_N] + flow[DIED_JUVENILE_N] + flow[DIED_ADULT_N]),
            self.food_left_g(day),
            float(day),
            founders,
            float(sum(herd.cocoon_n.sum() for herd in self.herds)),
            1000.0 * sum(kg),
        )


def _keep(herd: Herd, stage: str, share: float) -> None:
    for name in herd._fields:
        if name.startswith(stage):
            getattr(herd, name)[0] *= share


@model
def _kg(herd):  # type: ignore[no-untyped-def]
    return herd.hatchling_kg[0] + herd.juvenile_kg[0] + herd.adult_kg[0]


def _hours(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, founders: Herd,  # type: ignore[no-untyped-def]
           offspring: Herd, tally, flow, temp_c, moisture_frac, hours):  # fmt: skip
    """Live ``hours`` in the dish, kept at one temperature and moisture with ample air."""
    for _ in range(hours):
        cells.temp_c[0, 0] = temp_c
        dry_kg = dry_mass(cells.carbon_kg[0, 0], cells.ash_kg[0, 0])
        cells.water_kg[0, 0] = dry_kg * moisture_frac / (1.0 - moisture_frac)
        describe(p, geometry, cells, zones, work)
        decay_in_air(p, cells, work, tally, 0)
        work.ammonia_mg_g[0, 0] = 0.0
        live_zone(p, geometry, cells, work, founders, tally, 0, _kg(offspring))
        for i in range(FLOW_SIZE):
            flow[i] += work.flow[i]
        laid_n = work.flow[LAID_N]  # what founders lay hatches as offspring
        founders.cocoon_n[0, 0] = max(founders.cocoon_n[0, 0] - laid_n, 0.0)
        offspring.cocoon_n[0, 0] += laid_n
        live_zone(p, geometry, cells, work, offspring, tally, 0, _kg(founders))
        for i in range(FLOW_SIZE):
            flow[i] += work.flow[i]


_live_hours = compiled(_hours)
