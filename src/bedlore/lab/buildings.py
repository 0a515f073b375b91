"""Air inside a building, through the building model of the weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

import numpy as np
from pydantic import Field

from bedlore.farm.fields import Record
from bedlore.lab.inputs import Amount, Amounts, Floats, Number, Series, Share, checked, hourly
from bedlore.lab.result import Result
from bedlore.weather.building import BuildingMembers, building_air
from bedlore.weather.series import WeatherSeries

_ANY_YEAR = datetime(2001, 1, 1, tzinfo=UTC)  # the building knows no calendar


class ShedSpec(Record):
    """Input of :func:`shed`."""

    outdoor_c: Series
    time_constant_h: Annotated[float, Field(ge=0, le=1000)] = 6.0
    offset_k: Number = 0.0
    hours: Annotated[int, Field(ge=1, le=1_000_000)] | None = None
    start_c: Number | None = None
    ghi_w_m2: Amounts = 0.0
    sun_k_per_w_m2: Amount = 0.0
    rh_frac: Share = 0.8
    air_change_h: Annotated[float, Field(ge=0, le=1000)] = 1.0


@dataclass(frozen=True)
class ShedResult(Result):
    """Building air: ``time_h``, ``temp_c`` [degC] and ``rh_frac`` 0..1, each [T]."""

    time_h: Floats
    temp_c: Floats
    rh_frac: Floats


def shed(
    outdoor_c: float | Sequence[float],
    time_constant_h: float = 6.0,
    offset_k: float = 0.0,
    hours: int | None = None,
    start_c: float | None = None,
    ghi_w_m2: float | Sequence[float] = 0.0,
    sun_k_per_w_m2: float = 0.0,
    rh_frac: float = 0.8,
    air_change_h: float = 1.0,
) -> ShedResult:
    """Air inside a building that follows outdoor air with ``time_constant_h``.

    ``dT/dt = (outdoor + sun + offset - T) / time constant``, exact for outdoor air that runs
    straight between its hours. ``outdoor_c`` an hourly series [degC] (or a number, with
    ``hours``), ``offset_k`` how much warmer the building is, ``start_c`` inside at the first hour
    (default: in balance with the first day), ``ghi_w_m2`` level sunshine with
    ``sun_k_per_w_m2`` rise for each W/m2, ``rh_frac`` outdoors and ``air_change_h`` the time in
    which the air is renewed. A time constant of 0 is the open air.

    Returns a :class:`ShedResult`; raises FaultList or KeeperError in sentences. Source:
    :mod:`bedlore.weather.building`; first-order response checked in tests/exact.
    """
    return run_shed(checked(ShedSpec, locals()))


def run_shed(spec: ShedSpec) -> ShedResult:
    """:func:`shed` of a checked ``spec``."""
    given = 1 if isinstance(spec.outdoor_c, (int, float)) else len(spec.outdoor_c)
    hours = spec.hours or given
    outdoor = hourly(spec.outdoor_c, hours, "outdoor_c")
    weather = WeatherSeries(
        start=_ANY_YEAR, temp_c=outdoor, rh_frac=np.full(hours, spec.rh_frac),
        wind_m_s=np.full(hours, 2.0), ghi_w_m2=hourly(spec.ghi_w_m2, hours, "ghi_w_m2"),
        source="experiment",
    )  # fmt: skip
    building = BuildingMembers(
        time_constant_h=np.array([spec.time_constant_h]),
        offset_k=np.array([spec.offset_k]),
        sun_k_per_w_m2=np.array([spec.sun_k_per_w_m2]),
        air_change_h=np.array([spec.air_change_h]),
    )
    start = None if spec.start_c is None else np.array([spec.start_c])
    inside = building_air(weather.as_ensemble(), building, start)
    return ShedResult(np.arange(hours, dtype=float), inside.temp_c[0], inside.rh_frac[0])
