"""A bed of walls and zones without life: how warm a stated heat keeps it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import HUMUS, Floats, Geometry
from bedlore.bed.corner import corner_share
from bedlore.bed.matter import ORGANIC_SOLID_KG_M3, POOL_BULK_KG_M3, conductivity
from bedlore.bed.plan import in_order, set_cover, set_foam, set_lid
from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed, Layer, Zone
from bedlore.farm.fields import Record, quantity
from bedlore.lab.bench import (
    NO_DECAY,
    NO_FLOW,
    Bench,
    Surrounds,
    add_castings,
    fill,
    thickness_m,
)
from bedlore.lab.inputs import (
    Amounts,
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

_STEADY_K_H = 1e-7  # steady once nothing changes by more in an hour
_LONGEST_H = 20_000


class BoxSpec(Record):
    """Input of :func:`box`."""

    length_m: Annotated[float, quantity("length", 0.1, 100)]
    width_m: Annotated[float, quantity("length", 0.1, 6)]
    depth_m: Annotated[float, quantity("length", 0.05, 2)]
    walls: tuple[Layer, ...] = ()
    floor: tuple[Layer, ...] = ()
    lid: tuple[Layer, ...] = ()
    cover_m: Annotated[float, quantity("length", 0, 1)] = 0.0
    foam_r_m2k_w: Annotated[float, Field(ge=0, le=50)] = 0.0
    foam_top_r_m2k_w: Annotated[float, Field(ge=0, le=50)] = 0.0
    stand: Literal["legs", "ground", "floor"] = "legs"
    zones: Annotated[int, Field(ge=1, le=24)] = 1
    heat_w: Amounts = 0.0
    air_c: Series = 0.0
    rh_frac: Share | None = None
    start_c: Number | None = None
    days: Annotated[float, Field(gt=0, le=4000)] | None = None
    moisture_frac: Moisture = 0.75
    conductivity_w_mk: Annotated[float, Field(ge=0.02, le=5)] | None = None
    params: Parameters = None


@dataclass(frozen=True)
class BoxResult(Result):
    """Warmth of a bed. Z zones, N cells in each from the top down, T hours.

    ``temp_c`` [T, Z, N], ``mean_c`` [T, Z] by zone and ``bed_mean_c`` [T] of all; ``corner_c``
    [T] in the coldest corner by :func:`bedlore.bed.corner.corner_share` (its check holds for
    steady warmth); ``thickness_m`` [Z, N]; ``time_h`` [T]. ``lost_w_k`` is heat over the mean
    lift at the end [W/K] (nan without heat). A steady run has one hour in it.
    """

    time_h: Floats
    temp_c: Floats
    mean_c: Floats
    bed_mean_c: Floats
    corner_c: Floats
    thickness_m: Floats
    lost_w_k: float


def box(
    length_m: float,
    width_m: float,
    depth_m: float,
    walls: Sequence[Layer | Mapping[str, Any]] = (),
    floor: Sequence[Layer | Mapping[str, Any]] = (),
    lid: Sequence[Layer | Mapping[str, Any]] = (),
    cover_m: float = 0.0,
    foam_r_m2k_w: float = 0.0,
    foam_top_r_m2k_w: float = 0.0,
    stand: Literal["legs", "ground", "floor"] = "legs",
    zones: int = 1,
    heat_w: float | Sequence[float] = 0.0,
    air_c: float | Sequence[float] = 0.0,
    rh_frac: float | None = None,
    start_c: float | None = None,
    days: float | None = None,
    moisture_frac: float = 0.75,
    conductivity_w_mk: float | None = None,
    params: Mapping[str, float] | None = None,
) -> BoxResult:
    """A bed of finished material in a box, warmed by a stated heat; nothing lives or rots in it.

    ``length_m``, ``width_m``, ``depth_m`` inside and filled; ``walls``, ``floor``, ``lid`` layers
    of ``{"material", "thickness_m"}`` from the inside out; ``cover_m`` of dry cover on top;
    ``foam_r_m2k_w`` more resistance around walls and floor, ``foam_top_r_m2k_w`` over the top
    [m2 K/W]; ``stand`` on ``legs``, a ``floor`` or the ``ground`` (as warm as the air here).
    ``zones`` equal parts along the length; ``heat_w`` in all of it, or a list by zone.
    ``air_c`` a number or an hourly series [degC]; ``rh_frac`` 0..1 lets the surface evaporate
    (the material is kept moist), None seals it. Without ``days`` the steady state is found
    (``air_c`` must be a number); else the run starts at ``start_c`` (default: the first air).
    ``conductivity_w_mk`` of the material replaces the model's own figure for ``moisture_frac``
    (wet basis). ``params`` changes parameters by name.

    Returns a :class:`BoxResult`; raises FaultList or KeeperError in sentences. Checked against an
    independent 3-D solution (tests/oracle/test_box_3d.py).
    """
    return run_box(checked(BoxSpec, locals()))


def run_box(spec: BoxSpec) -> BoxResult:
    """:func:`box` of a checked ``spec``."""
    by_zone = _heat_by_zone(spec)
    if spec.days is None and not isinstance(spec.air_c, (int, float)):
        raise KeeperError("A series of air needs a time.", where="days", fix="Give days.")
    params = parameters(spec.params, **NO_DECAY, **NO_FLOW, **_scale_of_k(spec))
    geometry = box_geometry(spec)
    air_c = hourly(spec.air_c, _hours(spec), "air_c")
    start_c = float(air_c[0]) if spec.start_c is None else spec.start_c
    bench = fill(geometry, params, _acts(spec), cell_count(_bed(spec)), start_c)
    humid = np.full(len(air_c), 1.0 if spec.rh_frac is None else spec.rh_frac)
    rows = []
    water_kg = bench.state.cells.water_kg.copy()
    for run in bench.hours(Surrounds(air_c, humid), heat_w=lambda _: by_zone):
        run.state.cells.water_kg[:] = water_kg  # what evaporates is made up at once
        rows.append(run.state.cells.temp_c[0].copy())
        settled = len(rows) > 1 and np.abs(rows[-1] - rows[-2]).max() < _STEADY_K_H
        if spec.days is None and settled:
            break
    else:
        if spec.days is None:
            raise KeeperError("This bed does not come to rest.", fix="Give days instead.")
    first = len(rows) - 1 if spec.days is None else 0
    return _result(spec, bench, np.array(rows[first:]), air_c, first, by_zone)


def _result(spec: BoxSpec, bench: Bench, temp_c: Floats, air_c: Floats, first: int,
            by_zone: Floats) -> BoxResult:  # fmt: skip
    layer = thickness_m(bench.state, bench.geometry)[0]
    mean_c = (temp_c * layer).sum(axis=2) / layer.sum(axis=1)
    bed_mean_c = mean_c @ bench.geometry.area_m2 / bench.geometry.area_m2.sum()
    air = air_c[first : first + len(temp_c)]
    ends = [0, spec.zones - 1]
    share = np.array([box_corner_share(spec, bench, z) for z in ends])
    corners = air[:, None] + share * (mean_c[:, ends] - air[:, None])
    lift = float(bed_mean_c[-1] - air[-1])
    return BoxResult(
        time_h=np.arange(1, len(temp_c) + 1, dtype=float) + first,
        temp_c=temp_c,
        mean_c=mean_c,
        bed_mean_c=bed_mean_c,
        corner_c=corners.min(axis=1),
        thickness_m=layer,
        lost_w_k=float(by_zone.sum()) / lift if lift != 0.0 and by_zone.sum() > 0 else np.nan,
    )


def box_corner_share(spec: BoxSpec, bench: Bench, zone: int) -> float:
    """Corner share of an end zone of a box, from its walls, films and material."""
    geometry, p = bench.geometry, bench.params[0]
    films = float(p["film_r_scale"])
    side_r = geometry.side_r[zone] * p["wall_r_scale"] + spec.foam_r_m2k_w
    base_r = geometry.base_r[zone] * p["wall_r_scale"] + spec.foam_r_m2k_w
    base_r += 0.0 if spec.stand != "legs" else geometry.base_film_r * films
    top_r = geometry.top_film_r * films + spec.foam_top_r_m2k_w
    top_r += geometry.lid_r[zone] * p["wall_r_scale"] if spec.lid else 0.0
    top_r += spec.cover_m / p["cover_dry_w_mk"]
    half_length = 0.5 * spec.length_m if spec.zones == 1 else spec.length_m / spec.zones
    return float(
        corner_share(
            material_k(spec, float(p["conductivity_scale"])), half_length, 0.5 * spec.width_m,
            spec.depth_m, 1.0 / (side_r + geometry.side_film_r * films), 1.0 / top_r,
            1.0 / max(base_r, 1e-6),
        )
    )  # fmt: skip


def box_geometry(spec: BoxSpec) -> Geometry:
    """Geometry of the model for a box; sealed against vapour unless ``rh_frac`` is given."""
    geometry = bed_geometry(_bed(spec))
    if spec.rh_frac is None:
        geometry = geometry._replace(
            lid_leak=np.zeros_like(geometry.lid_leak), open_leak=0.0
        )
    return geometry


def material_k(spec: BoxSpec, scale: float) -> float:
    """Conductivity [W/m K] that the model gives the unfrozen material of a box."""
    dry = POOL_BULK_KG_M3[HUMUS]
    water_m3 = 0.001 * dry * spec.moisture_frac / (1.0 - spec.moisture_frac)
    pores = 1.0 - dry / ORGANIC_SOLID_KG_M3
    share = water_m3 / (1.0 + max(0.0, water_m3 - pores))
    return float(conductivity(share, 0.0, scale))


def _scale_of_k(spec: BoxSpec) -> dict[str, float]:
    if spec.conductivity_w_mk is None:
        return {}
    return {"conductivity_scale": spec.conductivity_w_mk / material_k(spec, 1.0)}


def _heat_by_zone(spec: BoxSpec) -> Floats:
    if isinstance(spec.heat_w, (int, float)):
        return np.full(spec.zones, spec.heat_w / spec.zones)
    if len(spec.heat_w) != spec.zones:
        raise KeeperError(
            f"There are {len(spec.heat_w)} figures for {spec.zones} zones.", where="heat_w",
            fix="Give one number, or one for each zone.",
        )
    return np.array(spec.heat_w)


def _hours(spec: BoxSpec) -> int:
    return _LONGEST_H if spec.days is None else max(1, round(24 * spec.days))


def _bed(spec: BoxSpec) -> Bed:
    """The box as a farm file would describe it."""
    return Bed(
        id="box", name="Box", kind="sides", length_m=spec.length_m, width_m=spec.width_m,
        depth_m=spec.depth_m, walls=spec.walls, floor=spec.floor, lid=spec.lid,
        lid_sealed=spec.rh_frac is None, stand=spec.stand, place="indoors",
        zones=tuple(
            Zone(id=f"z{i}", side=f"z{i}", length_m=spec.length_m / spec.zones)
            for i in range(spec.zones)
        ),
        started=dt.date(2000, 1, 1),
    )  # fmt: skip


def _acts(spec: BoxSpec) -> Floats:
    """Fill every zone with finished material to the stated depth, then cover it."""
    area = spec.length_m * spec.width_m / spec.zones
    rows = []
    for z in range(spec.zones):
        rows.append(add_castings(z, area * spec.depth_m, spec.moisture_frac))
        if spec.cover_m > 0:
            rows.append(set_cover(0, z, spec.cover_m))
        rows.append(set_foam(0, z, spec.foam_r_m2k_w, spec.foam_top_r_m2k_w))
        rows.append(set_lid(0, z, bool(spec.lid)))
    return in_order(rows)
