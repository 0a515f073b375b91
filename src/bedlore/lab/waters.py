"""Water in a column of finished material: draining, and drying from the top."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from pydantic import Field

from bedlore.bed.plan import give_water, in_order, set_cover
from bedlore.farm.fields import Record, quantity
from bedlore.lab.bench import (
    NO_DECAY,
    Bench,
    Surrounds,
    add_castings,
    cell_moisture,
    column_geometry,
    fill,
    thickness_m,
)
from bedlore.lab.inputs import (
    Amount,
    Depth,
    Floats,
    Moisture,
    Number,
    Parameters,
    Series,
    Shares,
    checked,
    hourly,
    parameters,
)
from bedlore.lab.result import Result

Area = Annotated[float, Field(ge=1e-4, le=1e3)]
CellCount = Annotated[int, Field(ge=2, le=60)]


class DrainSpec(Record):
    """Input of :func:`drain`."""

    depth_m: Depth
    moisture_frac: Moisture
    hours: Annotated[int, Field(ge=1, le=100_000)]
    area_m2: Area = 1.0
    water_kg: Amount = 0.0
    liner: bool = False
    temp_c: Annotated[float, Field(ge=-30, le=60)] = 15.0
    cells: CellCount = 12
    params: Parameters = None


@dataclass(frozen=True)
class DrainResult(Result):
    """Draining: ``time_h`` [T] (0 first), ``drained_kg`` [T] so far, ``water_kg`` and
    ``moisture_frac`` [T, N] by cell from the top down, ``thickness_m`` [N]."""

    time_h: Floats
    drained_kg: Floats
    water_kg: Floats
    moisture_frac: Floats
    thickness_m: Floats


def drain(
    depth_m: float,
    moisture_frac: float,
    hours: int,
    area_m2: float = 1.0,
    water_kg: float = 0.0,
    liner: bool = False,
    temp_c: float = 15.0,
    cells: int = 12,
    params: Mapping[str, float] | None = None,
) -> DrainResult:
    """Water running down a column of finished material of ``depth_m`` for ``hours``.

    The column of ``area_m2`` is held at ``temp_c`` [degC], starts evenly at ``moisture_frac``
    (wet basis) and gets ``water_kg`` more on its top; it runs out at the base, or stands over a
    ``liner``. Nothing rots and nothing evaporates. ``cells`` layers; ``params`` changes
    parameters by name. Returns a :class:`DrainResult`; raises FaultList or KeeperError in
    sentences. Source: docs/model.md, Water.
    """
    return run_drain(checked(DrainSpec, locals()))


def run_drain(spec: DrainSpec) -> DrainResult:
    """:func:`drain` of a checked ``spec``."""
    geometry = column_geometry(
        spec.area_m2, lid_leak=np.zeros(1), open_leak=0.0, drains=0.0 if spec.liner else 1.0
    )
    rows = [add_castings(0, spec.area_m2 * spec.depth_m, spec.moisture_frac)]
    bench = fill(
        geometry, parameters(spec.params, **NO_DECAY), in_order(rows), spec.cells, spec.temp_c
    )
    poured = in_order([give_water(0, 0, spec.water_kg, spec.temp_c)])
    still = Surrounds(np.full(spec.hours, spec.temp_c), np.ones(spec.hours))
    water, moisture, drained = [_water(bench)], [_moisture(bench)], [0.0]
    for run in bench.hours(still, poured, hold_c=lambda _: np.array([spec.temp_c])):
        drained.append(drained[-1] + float(run.total("water_drained_kg").sum()))
        water.append(_water(bench))
        moisture.append(_moisture(bench))
    return DrainResult(
        np.arange(spec.hours + 1, dtype=float), np.array(drained), np.array(water),
        np.array(moisture), thickness_m(bench.state, geometry)[0, 0],
    )  # fmt: skip


class DrySpec(Record):
    """Input of :func:`dry`."""

    depth_m: Depth
    moisture_frac: Moisture
    days: Annotated[float, Field(gt=0, le=4000)]
    air_c: Series = 15.0
    rh_frac: Shares = 0.8
    cover_m: Annotated[float, quantity("length", 0, 1)] = 0.0
    area_m2: Area = 1.0
    start_c: Number | None = None
    cells: CellCount = 12
    params: Parameters = None


@dataclass(frozen=True)
class DryResult(Result):
    """Drying: ``time_h`` [T] (0 first), ``evaporated_kg`` [T] so far, ``latent_w`` [T] heat it
    took in the hour before, ``surface_c`` [T], ``temp_c`` and ``moisture_frac`` [T, N] by cell
    from the top down, ``cover_water_kg`` [T]."""

    time_h: Floats
    evaporated_kg: Floats
    latent_w: Floats
    surface_c: Floats
    temp_c: Floats
    moisture_frac: Floats
    cover_water_kg: Floats


def dry(
    depth_m: float,
    moisture_frac: float,
    days: float,
    air_c: float | Sequence[float] = 15.0,
    rh_frac: float | Sequence[float] = 0.8,
    cover_m: float = 0.0,
    area_m2: float = 1.0,
    start_c: float | None = None,
    cells: int = 12,
    params: Mapping[str, float] | None = None,
) -> DryResult:
    """A column of finished material drying into still air from its top for ``days``.

    It is ``depth_m`` deep on ``area_m2`` and starts at ``moisture_frac`` (wet basis). Sides and
    base are insulated and tight, nothing rots. ``air_c`` [degC] and ``rh_frac`` 0..1 are numbers
    or hourly series; ``cover_m`` of dry cover lies on top; ``start_c`` is the material at first
    (default: the first air); ``cells`` layers; ``params`` changes parameters by name. Returns a
    :class:`DryResult`; raises FaultList or KeeperError in sentences. Source: docs/model.md,
    Evaporation (Lewis relation).
    """
    return run_dry(checked(DrySpec, locals()))


def run_dry(spec: DrySpec) -> DryResult:
    """:func:`dry` of a checked ``spec``."""
    hours = max(1, round(24 * spec.days))
    air = hourly(spec.air_c, hours, "air_c")
    geometry = column_geometry(spec.area_m2)
    rows = [add_castings(0, spec.area_m2 * spec.depth_m, spec.moisture_frac)]
    if spec.cover_m > 0:
        rows.append(set_cover(0, 0, spec.cover_m))
    start = float(air[0]) if spec.start_c is None else spec.start_c
    bench = fill(geometry, parameters(spec.params, **NO_DECAY), in_order(rows), spec.cells, start)
    table = [_dry_row(bench, 0.0, 0.0)]
    for run in bench.hours(Surrounds(air, hourly(spec.rh_frac, hours, "rh_frac"))):
        gone = table[-1][0] + float(run.total("water_evaporated_kg").sum())
        table.append(_dry_row(bench, gone, -float(run.total("heat_latent_j").sum()) / 3600.0))
    evaporated, latent, surface, cover, temp, moisture = zip(*table, strict=True)
    return DryResult(
        time_h=np.arange(hours + 1, dtype=float),
        evaporated_kg=np.array(evaporated),
        latent_w=np.array(latent),
        surface_c=np.array(surface),
        temp_c=np.array(temp),
        moisture_frac=np.array(moisture),
        cover_water_kg=np.array(cover),
    )


def _dry_row(
    bench: Bench, evaporated_kg: float, latent_w: float
) -> tuple[float, float, float, float, Floats, Floats]:
    zones = bench.state.zones
    return (
        evaporated_kg, latent_w, float(zones.surface_c[0, 0]), float(zones.cover_water_kg[0, 0]),
        bench.state.cells.temp_c[0, 0].copy(), _moisture(bench),
    )  # fmt: skip


def _water(bench: Bench) -> Floats:
    return np.asarray(bench.state.cells.water_kg[0, 0].copy())


def _moisture(bench: Bench) -> Floats:
    return np.asarray(cell_moisture(bench.state)[0, 0])
