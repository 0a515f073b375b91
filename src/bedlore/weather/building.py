"""Air inside a building, and the ground under it.

One resistance and one capacity (Bacher & Madsen 2011 compare richer ones):
``dTs/dt = (T_out + s*sun + offset - Ts)/tau``, solved exactly for outdoor air that runs straight
between the hours. Time constant and offset come from the farm file; they are meant to be learnt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from bedlore.weather.air import rh_from_vapour_density, vapour_density_kg_m3
from bedlore.weather.normals import Climate
from bedlore.weather.series import FloatArray, WeatherEnsemble
from bedlore.weather.sun import SolarClock

STILL_AIR_M_S = 0.1
_NINETY_FIVE = 1.645


@dataclass(frozen=True)
class Openness:
    """What sun and wind do to the air of one kind of building.

    ``sun_k_per_w_m2`` is the rise for each W/m2 of level sunshine; 90 % of such buildings lie
    within ``sun_factor`` either way. ``air_change_h`` is the time in which the air is renewed.
    """

    sun_k_per_w_m2: float
    sun_factor: float
    air_change_h: float


# A lined metal shed stood 5 K over outdoors in full sun (one owner's reading); masonry and
# attached buildings less, and all air changes, are assumed.
OPENNESS: dict[str, Openness] = {
    "none": Openness(0.0, 1.0, 0.0),
    "shed": Openness(0.008, 2.0, 1.0),
    "masonry": Openness(0.003, 2.0, 2.0),
    "attached": Openness(0.002, 2.0, 2.0),
}


class BuildingLike(Protocol):
    """The farm file's building: its prior, with ``time_constant_h`` a lognormal median whose 90 %
    band is the factor either way, and ``offset_k`` +- ``offset_sd_k`` how much warmer than
    outdoors it is without sun."""

    @property
    def kind(self) -> str: ...
    @property
    def time_constant_h(self) -> float: ...
    @property
    def time_constant_factor(self) -> float: ...
    @property
    def offset_k(self) -> float: ...
    @property
    def offset_sd_k(self) -> float: ...


@dataclass(frozen=True)
class BuildingMembers:
    """A building as each member believes it to be; arrays of shape [M].

    ``time_constant_h`` 0 means the open air.
    """

    time_constant_h: FloatArray
    offset_k: FloatArray
    sun_k_per_w_m2: FloatArray
    air_change_h: FloatArray

    @property
    def outdoors(self) -> bool:
        """Whether there is no building at all."""
        return bool(np.all(self.time_constant_h == 0.0))


def draw_building(building: BuildingLike, members: int, seed: int) -> BuildingMembers:
    """``members`` draws from the building's prior; the same seed gives the same draws."""
    normal = np.random.default_rng(seed).standard_normal((3, members))
    tau_scale = np.exp(np.log(building.time_constant_factor) / _NINETY_FIVE * normal[0])
    sun_factor = OPENNESS[building.kind].sun_factor
    return building_members(
        building,
        tau_scale=tau_scale,
        offset_shift_k=building.offset_sd_k * normal[1],
        sun_scale=np.exp(np.log(sun_factor) / _NINETY_FIVE * normal[2]),
    )


def building_members(
    building: BuildingLike,
    tau_scale: FloatArray,
    offset_shift_k: FloatArray,
    sun_scale: FloatArray | None = None,
) -> BuildingMembers:
    """The building with its farm-file values scaled and shifted for each member; arrays [M]."""
    openness = OPENNESS[building.kind]
    return BuildingMembers(
        time_constant_h=building.time_constant_h * tau_scale,
        offset_k=building.offset_k + offset_shift_k,
        sun_k_per_w_m2=openness.sun_k_per_w_m2
        * (np.ones_like(tau_scale) if sun_scale is None else sun_scale),
        air_change_h=np.full_like(tau_scale, openness.air_change_h),
    )


def building_air(
    outdoor: WeatherEnsemble, building: BuildingMembers, start_temp_c: FloatArray | None = None
) -> WeatherEnsemble:
    """Weather inside ``building``: same hours and members as ``outdoor``.

    Wind is still air and there is no sun. Humidity follows the outdoor vapour density through
    the air change; water that beds give off is left out. ``start_temp_c`` [M] or a number is the
    inside air at the first hour (a reading); without it the building starts in balance with the
    mean of the first day. Open air comes back unchanged.
    """
    if building.outdoors:
        return outdoor
    drive = (
        outdoor.temp_c
        + building.sun_k_per_w_m2[:, None] * outdoor.ghi_w_m2
        + building.offset_k[:, None]
    )
    temp = first_order(drive, building.time_constant_h, start_temp_c)
    outside = vapour_density_kg_m3(outdoor.temp_c, outdoor.rh_frac)
    inside = first_order(outside, building.air_change_h, None)
    return WeatherEnsemble(
        start=outdoor.start,
        temp_c=temp,
        rh_frac=rh_from_vapour_density(temp, inside),
        wind_m_s=np.full_like(temp, STILL_AIR_M_S),
        ghi_w_m2=np.zeros_like(temp),
        source=f"building air from {outdoor.source}",
        notes=outdoor.notes,
    )


def first_order(
    drive: FloatArray, time_constant_h: FloatArray, start: FloatArray | float | None
) -> FloatArray:
    """Hourly response [M, T] of ``dy/dt = (drive - y)/tau``; exact for straight hours.

    ``drive`` has shape [M, T], ``time_constant_h`` [M] (> 0). ``start`` [M] or a number is y at
    the first hour, the mean drive of the first day without it.
    """
    tau = np.maximum(np.asarray(time_constant_h, dtype=float), 1e-6)
    fade = np.exp(-1.0 / tau)
    now_weight = tau * (1 - fade) - fade
    next_weight = 1.0 - tau * (1 - fade)
    out = np.empty_like(drive)
    out[:, 0] = drive[:, :24].mean(axis=1) if start is None else start
    for hour in range(1, drive.shape[1]):
        out[:, hour] = (
            fade * out[:, hour - 1]
            + now_weight * drive[:, hour - 1]
            + next_weight * drive[:, hour]
        )
    return out


def ground_temp_c(
    climate: Climate,
    clock: SolarClock,
    depth_m: float,
    diffusivity_m2_s: float = 5e-7,
    surface_offset_k: float = 1.0,
) -> FloatArray:
    """Undisturbed ground temperature [degC] at ``depth_m`` for each hour of ``clock``; [T].

    Kusuda & Achenbach 1965: an annual wave that fades and lags with depth. Mean and amplitude
    are the first harmonic of the climate's mean temperature; the ground stands
    ``surface_offset_k`` above the air (1 to 2 K, recalled).
    """
    mean_curve = (climate.low_curve_c + climate.high_curve_c) / 2
    harmonic = np.fft.rfft(mean_curve)[1] * 2 / 365.0
    amplitude, phase = np.abs(harmonic), np.angle(harmonic)
    per_depth = np.sqrt(np.pi / (365 * 86400.0 * diffusivity_m2_s))
    day = clock.day_of_year[clock.day_index] + clock.hour / 24.0 - 0.5
    angle = 2 * np.pi * day / 365.0 + phase - depth_m * per_depth
    mean = float(mean_curve.mean()) + surface_offset_k
    return np.asarray(mean + amplitude * np.exp(-depth_m * per_depth) * np.cos(angle))
