"""Heat in a column of chosen layers, through the column solver of the beds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, model_validator

from bedlore.bed.conduction import DRY, LINK_DOWN, ROWS, SIDE, SOURCE, TEMP, WATER, solve_column
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    WATER_HEAT_J_KGK,
    conductivity,
    ice_share,
)
from bedlore.errors import KeeperError
from bedlore.facts.building import material
from bedlore.farm.fields import Record, keeper_error, quantity
from bedlore.farm.materials import Construction
from bedlore.lab.compiled import compiled
from bedlore.lab.inputs import Amount, Floats, Number, checked
from bedlore.lab.result import Result

_MOST_VALUES = 50_000_000
_WOULD_BE_FIXED_W_M2K = 1e9  # so good a contact that the face has the temperature outside


class SlabLayer(Record):
    """One layer, from the top down.

    ``thickness_m``. What it is: ``material`` (an id of a building material), or ``k_w_mk``
    [W/m K] and ``heat_capacity_j_m3k`` [J/m3 K] (unfrozen, water included), or bed material by
    ``dry_kg_m3`` and ``water_kg_m3`` with the conductivity and heat capacity of the bed model.
    ``water_kg_m3`` is what can freeze; ``k_frozen_w_mk`` its conductivity once all is ice
    (default: as unfrozen, bed material by the model). ``source_w_m3`` heat released [W/m3],
    ``start_c`` temperature at first [degC].
    """

    thickness_m: Annotated[float, quantity("length", 1e-4, 1e3)]
    material: Construction | None = None
    k_w_mk: Annotated[float, Field(ge=1e-4, le=1e4)] | None = None
    heat_capacity_j_m3k: Annotated[float, Field(ge=1.0, le=1e9)] | None = None
    dry_kg_m3: Amount | None = None
    water_kg_m3: Annotated[float, Field(ge=0, le=1000)] = 0.0
    k_frozen_w_mk: Annotated[float, Field(ge=1e-4, le=1e4)] | None = None
    source_w_m3: Number = 0.0
    start_c: Number = 0.0

    @model_validator(mode="after")
    def _one_kind(self) -> SlabLayer:
        by_hand = self.k_w_mk is not None and self.heat_capacity_j_m3k is not None
        if [self.material is not None, by_hand, self.dry_kg_m3 is not None].count(True) != 1:
            raise keeper_error(
                "Say what the layer is in one way: material, or k_w_mk with heat_capacity_j_m3k,"
                " or dry_kg_m3 (bed material)."
            )
        if self._solids_j_m3k() < 0.0:
            raise keeper_error("The heat capacity is less than that of the water in the layer.")
        return self

    def _solids_j_m3k(self) -> float:
        if self.material is not None:
            return material(self.material).heat_capacity_j_m3k
        if self.dry_kg_m3 is not None:
            return self.dry_kg_m3 * DRY_HEAT_J_KGK
        return (self.heat_capacity_j_m3k or 0.0) - self.water_kg_m3 * WATER_HEAT_J_KGK

    def solids_kg_m3(self) -> float:
        """Solids [kg/m3] that, in the model, hold the heat of the layer without its water."""
        return self._solids_j_m3k() / DRY_HEAT_J_KGK

    def conductivities(self) -> tuple[float, float]:
        """Conductivity [W/m K] unfrozen and frozen."""
        if self.material is not None:
            k = material(self.material).k_w_mk
        elif self.k_w_mk is not None:
            k = self.k_w_mk
        else:
            theta = self.water_kg_m3 / 1000.0
            return conductivity(theta, 0.0, 1.0), (
                self.k_frozen_w_mk or conductivity(theta, 1.0, 1.0)
            )
        return k, self.k_frozen_w_mk or k


class SlabEdge(Record):
    """What a face of the column meets.

    ``kind``: ``fixed`` (the face has ``temp_c``), ``convective`` (air of ``temp_c`` through
    ``h_w_m2k`` [W/m2 K]), ``insulated``, ``periodic`` (``temp_c`` + ``amplitude_k`` x
    sin(2 pi t / ``period_h``); through ``h_w_m2k`` when given) or ``series`` (``temps_c`` hour by
    hour, straight between; through ``h_w_m2k`` when given).
    """

    kind: Literal["fixed", "convective", "insulated", "periodic", "series"]
    temp_c: Number = 0.0
    h_w_m2k: Annotated[float, Field(ge=0, le=1e9)] | None = None
    amplitude_k: Number = 0.0
    period_h: Annotated[float, Field(ge=0.01, le=1e6)] = 24.0
    temps_c: tuple[Number, ...] = ()

    @model_validator(mode="after")
    def _complete(self) -> SlabEdge:
        if self.kind == "convective" and self.h_w_m2k is None:
            raise keeper_error("A convective face needs h_w_m2k.")
        if self.kind == "series" and not self.temps_c:
            raise keeper_error("A series needs temps_c.")
        return self

    def film_w_m2k(self) -> float:
        """Conductance [W/m2 K] from the face to the temperature outside."""
        if self.kind == "insulated":
            return 0.0
        if self.kind == "fixed" or self.h_w_m2k is None:
            return _WOULD_BE_FIXED_W_M2K
        return self.h_w_m2k

    def temps(self, time_h: Floats) -> Floats:
        """Temperature outside [degC] at ``time_h`` [T]."""
        if self.kind == "periodic":
            return self.temp_c + self.amplitude_k * np.sin(2 * np.pi * time_h / self.period_h)
        if self.kind == "series":
            if time_h[-1] > len(self.temps_c) - 1 + 1e-9:
                raise KeeperError(
                    f"A series of {len(self.temps_c)} hourly values ends before the run of"
                    f" {time_h[-1]:g} h.", fix="Give a longer series or fewer hours.",
                )
            return np.interp(time_h, np.arange(len(self.temps_c)), self.temps_c)
        return np.full(len(time_h), self.temp_c)


class SlabSpec(Record):
    """Input of :func:`slab`."""

    layers: tuple[SlabLayer, ...] = Field(min_length=1, max_length=50)
    top: SlabEdge
    base: SlabEdge
    hours: Annotated[float, Field(ge=0.01, le=1e5)]
    cell_m: Annotated[float, Field(ge=1e-4, le=1.0)] = 0.005
    step_s: Annotated[float, Field(ge=1.0, le=3600.0)] = 300.0
    every_h: Annotated[float, Field(ge=0.01, le=1e5)] = 1.0
    freezing_range_k: Annotated[float, Field(ge=0.001, le=5.0)] = 0.6


@dataclass(frozen=True)
class SlabResult(Result):
    """Heat in a column: ``depth_m`` [N] of the cell centres, ``time_h`` [T], ``temp_c`` [T, N].

    ``top_c`` and ``base_c`` [T] are the temperatures of the faces, ``frozen_m`` [T] the depth of
    ice (cells count by the share of their water that is frozen), ``heat_gained_j_m2`` [T] what
    came in through both faces since the start.
    """

    depth_m: Floats
    time_h: Floats
    temp_c: Floats
    top_c: Floats
    base_c: Floats
    frozen_m: Floats
    heat_gained_j_m2: Floats


def slab(
    layers: Sequence[SlabLayer | Mapping[str, Any]],
    top: SlabEdge | Mapping[str, Any],
    base: SlabEdge | Mapping[str, Any],
    hours: float,
    cell_m: float = 0.005,
    step_s: float = 300.0,
    every_h: float = 1.0,
    freezing_range_k: float = 0.6,
) -> SlabResult:
    """Heat in a column of chosen ``layers`` between two faces, with sources and freezing.

    ``layers`` from the top down and the faces ``top`` and ``base`` are :class:`SlabLayer` and
    :class:`SlabEdge` or mappings of their fields. Runs ``hours`` in steps of ``step_s`` [s] (the
    beds take 3600) with cells of at most ``cell_m`` [m]; the result is written down every
    ``every_h`` hours, the start first. Water freezes from 0 degC down to minus
    ``freezing_range_k``. Returns a :class:`SlabResult`.

    Raises FaultList (a KeeperError) naming every field that cannot be. Solver:
    :func:`bedlore.bed.conduction.solve_column`; checked against Carslaw & Jaeger 1959 (from
    memory) in tests/exact/test_slab.py.
    """
    return run_slab(checked(SlabSpec, locals()))


def run_slab(spec: SlabSpec) -> SlabResult:
    """:func:`slab` of a checked ``spec``."""
    cells = _Cells.of(spec)
    steps = max(1, round(spec.hours * 3600.0 / spec.step_s))
    every = min(steps, max(1, round(spec.every_h * 3600.0 / spec.step_s)))
    written = steps // every
    if written * len(cells.k) > _MOST_VALUES:
        raise KeeperError(
            "This would write down too much.", where="every_h", fix="Write it down less often."
        )
    time_h: Floats = np.arange(1, every * written + 1, dtype=float) * spec.step_s / 3600.0
    top_c, base_c = spec.top.temps(time_h), spec.base.temps(time_h)
    out = np.zeros((written + 1, len(cells.k)))
    gained = np.zeros(written + 1)
    column = np.zeros((ROWS, len(cells.k)))
    column[TEMP], column[DRY], column[WATER] = cells.start_c, cells.solids_kg, cells.water_kg
    column[SOURCE] = cells.source_w
    column[SIDE] = 0.0
    out[0] = cells.start_c
    _march(column, cells.thickness_m, cells.k, cells.k_frozen, spec.step_s, every,
           spec.top.film_w_m2k(), top_c, spec.base.film_w_m2k(), base_c,
           spec.freezing_range_k, out, gained)  # fmt: skip
    shown: Floats = np.arange(written + 1, dtype=float) * every * spec.step_s / 3600.0
    ice = np.clip(-out / spec.freezing_range_k, 0.0, 1.0)
    return SlabResult(
        depth_m=np.cumsum(cells.thickness_m) - 0.5 * cells.thickness_m,
        time_h=shown,
        temp_c=out,
        top_c=_face(out[:, 0], ice[:, 0], cells, 0, spec.top, shown),
        base_c=_face(out[:, -1], ice[:, -1], cells, -1, spec.base, shown),
        frozen_m=(ice * np.where(cells.water_kg > 0, cells.thickness_m, 0.0)).sum(axis=1),
        heat_gained_j_m2=gained,
    )


@dataclass(frozen=True)
class _Cells:
    """Per square metre of column; all [N]."""

    thickness_m: Floats
    k: Floats
    k_frozen: Floats
    solids_kg: Floats
    water_kg: Floats
    source_w: Floats
    start_c: Floats

    @classmethod
    def of(cls, spec: SlabSpec) -> _Cells:
        rows: list[tuple[float, ...]] = []
        for layer in spec.layers:
            count = max(1, int(np.ceil(layer.thickness_m / spec.cell_m - 1e-9)))
            dz = layer.thickness_m / count
            k, k_frozen = layer.conductivities()
            rows += count * [(
                dz, k, k_frozen, layer.solids_kg_m3() * dz, layer.water_kg_m3 * dz,
                layer.source_w_m3 * dz, layer.start_c,
            )]  # fmt: skip
        if len(rows) > 5000:
            raise KeeperError(
                f"The column has {len(rows)} cells.", where="cell_m", fix="Use thicker cells."
            )
        return cls(*np.array(rows).T)


def _face(
    temp_c: Floats, ice: Floats, cells: _Cells, i: int, edge: SlabEdge, time_h: Floats
) -> Floats:
    k = cells.k[i] + (cells.k_frozen[i] - cells.k[i]) * ice
    inner, film = 2.0 * k / cells.thickness_m[i], edge.film_w_m2k()
    return np.asarray((inner * temp_c + film * edge.temps(time_h)) / (inner + film))


@compiled
def _march(
    column: Floats,
    thickness_m: Floats,
    k_open: Floats,
    k_frozen: Floats,
    step_s: float,
    every: int,
    top_film: float,
    top_c: Floats,
    base_film: float,
    base_c: Floats,
    freezing_range_k: float,
    out: Floats,
    gained: Floats,
) -> None:
    """Step the column through ``top_c`` and ``base_c``; writes ``out`` and ``gained``."""
    n = thickness_m.shape[0]
    half = np.zeros(n)
    total = 0.0
    for step in range(top_c.shape[0]):
        for i in range(n):
            ice = ice_share(column[TEMP, i], freezing_range_k) if column[WATER, i] > 0.0 else 0.0
            half[i] = 0.5 * thickness_m[i] / (k_open[i] + (k_frozen[i] - k_open[i]) * ice)
        for i in range(n - 1):
            column[LINK_DOWN, i] = 1.0 / (half[i] + half[i + 1])
        top_w_k = 1.0 / (half[0] + 1.0 / top_film) if top_film > 0.0 else 0.0
        base_w_k = 1.0 / (half[n - 1] + 1.0 / base_film) if base_film > 0.0 else 0.0
        total += solve_column(column, n, step_s, top_w_k, top_c[step], base_w_k, base_c[step],
                              0.0, freezing_range_k)  # fmt: skip
        if (step + 1) % every == 0:
            row = (step + 1) // every
            gained[row] = total
            for i in range(n):
                out[row, i] = column[TEMP, i]
