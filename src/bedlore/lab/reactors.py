"""Decay of a stated mix: at a held temperature, or warming itself in a vessel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from pydantic import Field, model_validator

from bedlore.bed import acts
from bedlore.bed.cells import FAST, HUMUS, POOLS, Floats, Geometry
from bedlore.bed.engine import Run, State
from bedlore.bed.matter import ASH_BULK_KG_M3, DRY_PER_CARBON, POOL_BULK_KG_M3
from bedlore.bed.plan import add_material, in_order, stock
from bedlore.errors import KeeperError
from bedlore.facts.feedstocks import find
from bedlore.farm.fields import Record, keeper_error
from bedlore.lab.bench import Surrounds, column_geometry, fill
from bedlore.lab.inputs import (
    Amount,
    Moisture,
    Number,
    Parameters,
    Series,
    Share,
    checked,
    hourly,
    parameters,
)
from bedlore.lab.result import Result

_THIN_M = 1e-4  # spread so thin, a mix has all the air it wants
_THIN_CELLS, _VESSEL_CELLS = 4, 12
_DRENCHED = 0.97  # moisture at which water no longer slows decay


class MixPart(Record):
    """Part of a mix: either ``material`` with ``mass_kg`` and ``moisture_frac`` (the table's when
    left out), or by its pools: ``volatile_kg`` (fast, medium, slow, humus) volatile solids [kg],
    with ``water_kg``, ``ash_kg``, mass ratio ``c_to_n`` and ``food_quality`` 0..1 for worms."""

    material: str | None = None
    mass_kg: Annotated[float, Field(ge=0, le=1e6)] | None = None
    moisture_frac: Moisture | None = None
    volatile_kg: tuple[Amount, Amount, Amount, Amount] | None = None
    water_kg: Amount = 0.0
    ash_kg: Amount = 0.0
    c_to_n: Annotated[float, Field(ge=1, le=2000)] = 20.0
    food_quality: Share = 0.8

    @model_validator(mode="after")
    def _one_kind(self) -> MixPart:
        named = self.material is not None and self.mass_kg is not None
        if named == (self.volatile_kg is not None):
            raise keeper_error("Say what it is in one way: material with mass_kg, or volatile_kg.")
        return self


class Vessel(Record):
    """An upright round vessel: inside ``diameter_m``, ``u_w_m2k`` [W/m2 K] of wall, base and lid,
    and ``vapour_share`` of the vapour that its mouth lets out (0 tight, 1 open).

    The defaults are about those of a 2 litre vacuum flask with a loose stopper (assumed)."""

    diameter_m: Annotated[float, Field(ge=0.02, le=10)] = 0.10
    u_w_m2k: Annotated[float, Field(ge=1e-3, le=100)] = 0.5
    vapour_share: Share = 0.1


class ReactorSpec(Record):
    """Input of :func:`reactor`."""

    mix: tuple[MixPart, ...] = Field(min_length=1, max_length=50)
    days: Annotated[float, Field(gt=0, le=8000)]
    temp_c: Series | None = None
    vessel: Vessel | None = None
    area_m2: Annotated[float, Field(ge=1e-4, le=1e4)] | None = None
    start_c: Number = 20.0
    air_c: Series = 20.0
    rh_frac: Share = 0.7
    worms_kg: Amount = 0.0
    again_every_d: Annotated[float, Field(ge=0.04, le=1000)] | None = None
    ample_water: bool = False
    ample_nitrogen: bool = False
    every_h: Annotated[int, Field(ge=1, le=10_000)] = 24
    params: Parameters = None

    @model_validator(mode="after")
    def _held_or_vessel(self) -> ReactorSpec:
        if (self.temp_c is None) == (self.vessel is None):
            raise keeper_error("Give either temp_c (held) or a vessel (warms itself).")
        if self.vessel is not None and self.area_m2 is not None:
            raise keeper_error("area_m2 is for a held temperature; a vessel has its diameter_m.")
        return self


@dataclass(frozen=True)
class ReactorResult(Result):
    """Decay of a mix, written down every ``every_h`` hours, the start first; T rows.

    ``time_h``, ``volatile_kg`` volatile solids left (live worms not counted), ``pools_kg``
    [T, 4] the same by pool (fast, medium, slow, humus), ``volatile_left_frac`` against all that
    was put in, ``temp_c`` mean and ``temp_highest_c``, ``heat_j`` released so far,
    ``carbon_respired_kg`` so far, ``water_kg``, ``ammonia_n_kg``, ``worms_kg``. ``volatile_in_kg``
    and ``dry_in_kg`` are what was put in over the run.
    """

    time_h: Floats
    volatile_kg: Floats
    pools_kg: Floats
    volatile_left_frac: Floats
    temp_c: Floats
    temp_highest_c: Floats
    heat_j: Floats
    carbon_respired_kg: Floats
    water_kg: Floats
    ammonia_n_kg: Floats
    worms_kg: Floats
    volatile_in_kg: float
    dry_in_kg: float


def reactor(
    mix: Sequence[MixPart | Mapping[str, Any]],
    days: float,
    temp_c: float | Sequence[float] | None = None,
    vessel: Vessel | Mapping[str, Any] | None = None,
    area_m2: float | None = None,
    start_c: float = 20.0,
    air_c: float | Sequence[float] = 20.0,
    rh_frac: float = 0.7,
    worms_kg: float = 0.0,
    again_every_d: float | None = None,
    ample_water: bool = False,
    ample_nitrogen: bool = False,
    every_h: int = 24,
    params: Mapping[str, float] | None = None,
) -> ReactorResult:
    """Decay of a stated ``mix`` at a held temperature, or warming itself in a ``vessel``.

    ``mix`` is a list of ``{"material", "mass_kg", "moisture_frac"}`` or, by pools, of
    ``{"volatile_kg": [fast, medium, slow, humus], "water_kg", "ash_kg", "c_to_n"}``. With
    ``temp_c`` (a number or an hourly series, degC) it is held at that temperature on ``area_m2``
    (default: spread so thin that air is ample) and loses no water. With a ``vessel`` it starts at
    ``start_c`` in air of ``air_c`` and ``rh_frac``. ``worms_kg`` of mixed live worms go in at the
    start; ``again_every_d`` adds the same mix again every so many days; ``ample_water`` and
    ``ample_nitrogen`` take away those two brakes. Runs ``days``, written down every ``every_h``
    hours and at the end. ``params`` changes parameters by name.

    Returns a :class:`ReactorResult`; raises FaultList or KeeperError in sentences. Source:
    docs/model.md, Decay; two-pool decay checked in tests/exact/test_decay.py.
    """
    return run_reactor(checked(ReactorSpec, locals()))


def run_reactor(spec: ReactorSpec) -> ReactorResult:
    """:func:`reactor` of a checked ``spec``."""
    hours = max(1, round(24 * spec.days))
    load = _load(spec)
    held = None if spec.temp_c is None else hourly(spec.temp_c, hours, "temp_c")
    start_c = spec.start_c if held is None else float(held[0])
    load[acts.TEMP_C] = start_c
    cells = _THIN_CELLS if held is not None else _VESSEL_CELLS
    bench = fill(_geometry(spec, load), parameters(spec.params), in_order([load]), cells, start_c)
    rows = [stock(0, 0, spec.worms_kg)] if spec.worms_kg > 0 else []
    rows += [_again(load, hour, held) for hour in _refills(spec, hours)]
    air = hourly(spec.air_c, hours, "air_c") if held is None else held
    surrounds = Surrounds(air, np.full(hours, spec.rh_frac))
    hold = None if held is None else lambda h: held[h : h + 1]
    log = _Log(bench.state)
    for h, run in enumerate(bench.hours(surrounds, in_order(rows), hold_c=hold)):
        log.add(run)
        if (h + 1) % spec.every_h == 0 or h + 1 == hours:
            log.write(h + 1, run.state)
    return log.result(load, 1 + len(_refills(spec, hours)))


def _load(spec: ReactorSpec) -> Floats:
    """The mix as one act of hour 0."""
    named = [
        (find(part.material), part.mass_kg, part.moisture_frac)
        for part in spec.mix
        if part.material is not None and part.mass_kg is not None
    ]
    row = add_material(0, 0, named)
    for part in spec.mix:
        if part.volatile_kg is not None:
            _add_pools(row, part, np.array(part.volatile_kg))
    if row[acts.CARBON : acts.CARBON + POOLS].sum() <= 0.0:
        raise KeeperError("There is nothing in the mix that could decay.", where="mix")
    carbon = row[acts.CARBON : acts.CARBON + POOLS]
    if spec.ample_water:
        dry = float(carbon @ np.array(DRY_PER_CARBON)) + row[acts.ASH]
        row[acts.WATER_KG] = max(row[acts.WATER_KG], dry * _DRENCHED / (1.0 - _DRENCHED))
    if spec.ample_nitrogen:
        row[acts.AMMONIA] += float(carbon.sum())
    return row


def _add_pools(row: Floats, part: MixPart, volatile_kg: Floats) -> None:
    carbon = volatile_kg / np.array(DRY_PER_CARBON)
    row[acts.CARBON : acts.CARBON + POOLS] += carbon
    row[acts.NITROGEN : acts.NITROGEN + POOLS] += carbon / part.c_to_n
    row[acts.WATER_KG] += part.water_kg
    row[acts.ASH] += part.ash_kg
    row[acts.STARCH] += 0.5 * carbon[FAST]
    row[acts.QUALITY] += part.food_quality * carbon[:HUMUS].sum()


def _geometry(spec: ReactorSpec, load: Floats) -> Geometry:
    if spec.vessel is None:
        return column_geometry(
            spec.area_m2 or max(_bulk_m3(load) / _THIN_M, 1e-2), lid_leak=np.zeros(1), open_leak=0.0
        )
    vessel = spec.vessel
    wall_r = max(1.0 / vessel.u_w_m2k, 1e-3)
    return column_geometry(
        0.25 * np.pi * vessel.diameter_m**2,
        side_m=np.array([np.pi * vessel.diameter_m]),
        half_width_m=np.array([0.5 * vessel.diameter_m]),
        side_r=np.array([wall_r]), base_r=np.array([wall_r]), lid_r=np.array([wall_r]),
        lid_leak=np.array([vessel.vapour_share]), side_film_r=0.0, base_film_r=0.0, top_film_r=0.0,
    )  # fmt: skip


def _bulk_m3(load: Floats) -> float:
    """Room that solids and water take, at most."""
    per_carbon = np.array(DRY_PER_CARBON) / np.array(POOL_BULK_KG_M3)
    solids = float(load[acts.CARBON : acts.CARBON + POOLS] @ per_carbon)
    return solids + float(load[acts.ASH] / ASH_BULK_KG_M3 + 0.001 * load[acts.WATER_KG])


def _refills(spec: ReactorSpec, hours: int) -> list[int]:
    if spec.again_every_d is None:
        return []
    step = max(1, round(24 * spec.again_every_d))
    return list(range(step, hours, step))


def _again(load: Floats, hour: int, held: Floats | None) -> Floats:
    row = load.copy()
    row[acts.HOUR] = hour
    if held is not None:
        row[acts.TEMP_C] = held[hour]
    return row


class _Log:
    """What is written down of the reactor."""

    def __init__(self, state: State) -> None:
        self.heat_j = 0.0
        self.respired_kg = 0.0
        self.rows: list[tuple[float, ...]] = []
        self.pools: list[Floats] = []
        self.write(0, state)

    def add(self, run: Run) -> None:
        """Add the heat and carbon of one hour."""
        self.heat_j += float(run.total("heat_decay_j").sum())
        self.respired_kg += float(run.total("carbon_respired_kg").sum())

    def write(self, hour: int, state: State) -> None:
        """Write one row."""
        cells, herd = state.cells, state.herd
        pools = cells.carbon_kg[0].sum(axis=(0, 1)) * np.array(DRY_PER_CARBON)
        worms = float((herd.adult_kg + herd.juvenile_kg + herd.hatchling_kg).sum())
        self.pools.append(pools)
        self.rows.append((
            hour, float(pools.sum()), float(cells.temp_c[0, 0].mean()),
            float(cells.temp_c.max()), self.heat_j, self.respired_kg,
            float(cells.water_kg.sum()), float(cells.ammonia_kg.sum()), worms,
        ))  # fmt: skip

    def result(self, load: Floats, times: int) -> ReactorResult:
        """The result, for a mix put in ``times`` times."""
        columns = np.array(self.rows).T
        time_h, volatile, temp, highest, heat, respired, water, ammonia, worms = columns
        carbon = load[acts.CARBON : acts.CARBON + POOLS]
        put_in = times * float(carbon @ np.array(DRY_PER_CARBON))
        return ReactorResult(
            time_h=time_h, volatile_kg=volatile, pools_kg=np.array(self.pools),
            volatile_left_frac=volatile / put_in, temp_c=temp, temp_highest_c=highest,
            heat_j=heat, carbon_respired_kg=respired, water_kg=water, ammonia_n_kg=ammonia,
            worms_kg=worms, volatile_in_kg=put_in, dry_in_kg=put_in + times * float(load[acts.ASH]),
        )  # fmt: skip

