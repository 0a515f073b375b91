"""Thermometers: in the bed at a depth, and in the air beside it.

Sources: a hand probe is read to +-0.5 to 1 K; the widths of offset, lag and pace are assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.densities import student_logpdf
from bedlore.learn.moment import Moment
from bedlore.learn.sight import About, Place, Sight, View, exactly
from bedlore.learn.unknowns import Unknown

Floats = NDArray[np.float64]
FREEDOM = 4.0  # of the Student t of thermometer errors
# A Student t with 4 degrees of freedom and this share of the stated error tells as much about a
# temperature as a normal with the whole of it (Fisher information 5/7 over 0.85^2 is 0.99).
STUDENT_SHARE = 0.85
OFFSET_SD_K = 0.5  # of a thermometer against others (hand probes +-0.5 to 1 K)
LAG_MEDIAN, LAG_LOG_SD = 0.02, 0.8  # share of the air left in a reading taken too soon (assumed)
TIME_ERROR_K_PER_H, TIME_ERROR_MOST_K = 0.15, 1.5  # a bed's usual pace of change (assumed)


@dataclass(frozen=True)
class Thermometer(Place):
    """A thermometer at ``depth_m``: offset of the device, a reading taken too soon, rounding
    to ``step_k``, and a Student t error that lets a slip of the hand pass."""

    temp_c: float
    depth_m: float = 0.1
    device: str = ""
    error_k: float = 0.75
    step_k: float = 0.0
    at_error_h: float = 0.0
    about: ClassVar[About] = "temp"

    @property
    def series(self) -> str:
        """The device."""
        return f"offset:{self.device or 'thermometer'}"

    @property
    def sd_k(self) -> float:
        """Error of reading, rounding and time together [K]."""
        late = min(TIME_ERROR_K_PER_H * self.at_error_h, TIME_ERROR_MOST_K)
        return math.sqrt(self.error_k**2 + self.step_k**2 / 12.0 + late**2)

    def nuisances(self) -> tuple[Unknown, ...]:
        """The device's offset and how soon it is read."""
        return (Unknown(self.series, "device"), Unknown(self._lag, "device"))

    @property
    def _lag(self) -> str:
        return f"lag:{self.device or 'thermometer'}"

    def predict(self, moment: Moment, view: View) -> Floats:
        """What the device would show ``[M]`` [degC] but for its random error."""
        bed = moment.temp_c(self.zones, self.depth_m)
        lag = np.minimum(LAG_MEDIAN * np.exp(LAG_LOG_SD * view(self._lag)), 0.5)
        return bed + lag * (moment.air_c[:, -1] - bed) + OFFSET_SD_K * view(self.series)

    def sight(self, latent: Floats, view: View) -> Sight:
        """A number with its error."""
        return Sight(latent, *exactly(self.temp_c, latent), self.sd_k, robust=True)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Student t around the latent."""
        return student_logpdf(self.temp_c - latent, STUDENT_SHARE * self.sd_k, FREEDOM)


@dataclass(frozen=True)
class AirThermometer(Place):
    """Air beside the bed: ``now``, or the lowest or highest of the last day, which is compared
    with the lowest or highest hour of the member and not with any one hour."""

    temp_c: float
    which: Literal["now", "min", "max"] = "now"
    device: str = "air"
    error_k: float = 0.75
    about: ClassVar[About] = "air"

    @property
    def series(self) -> str:
        """The device."""
        return f"offset:{self.device}"

    def nuisances(self) -> tuple[Unknown, ...]:
        """The device's offset."""
        return (Unknown(self.series, "device"),)

    def predict(self, moment: Moment, view: View) -> Floats:
        """Air temperature ``[M]`` [degC] as the device shows it."""
        pick = {"now": moment.air_c[:, -1], "min": moment.air_c.min(axis=1),
                "max": moment.air_c.max(axis=1)}[self.which]  # fmt: skip
        return np.asarray(pick + OFFSET_SD_K * view(self.series))

    def sight(self, latent: Floats, view: View) -> Sight:
        """A number with its error."""
        return Sight(latent, *exactly(self.temp_c, latent), self.error_k, robust=True)

    def log_likelihood(self, latent: Floats, view: View) -> Floats:
        """Student t around the latent."""
        return student_logpdf(self.temp_c - latent, STUDENT_SHARE * self.error_k, FREEDOM)
