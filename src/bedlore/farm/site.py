"""Where the beds stand: place on earth, usual weather by month, and the building around them."""

from __future__ import annotations

from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import field_validator, model_validator

from bedlore.farm.fields import Name, Record, keeper_error, number, quantity
from bedlore.farm.materials import nearest
from bedlore.say import joined, message, say

MONTHS = (
    message("January"), message("February"), message("March"),
    message("April"), message("May"), message("June"),
    message("July"), message("August"), message("September"),
    message("October"), message("November"), message("December"),
)  # fmt: skip

BuildingKind = Literal["none", "shed", "masonry", "attached"]

# Time constant [h] with its factor, offset [K] with its standard deviation. The factor spans 90 %
# of the prior (median / factor to median x factor). Detached shed: tau lognormal, median 6 h,
# x/3; offset 1.5 +- 1.5 K. Masonry or insulated garage: tau 6-24 h, offset +1 to +4 K. Attached
# garage: tau 12-48 h, offset 6 +- 2.5 K. All from memory (confidence C), lumped estimates.
BUILDING_PRIORS: dict[str, dict[str, float]] = {
    "none": {"time_constant_h": 0.0, "time_constant_factor": 1.0, "offset_k": 0.0,
             "offset_sd_k": 0.0},
    "shed": {"time_constant_h": 6.0, "time_constant_factor": 3.0, "offset_k": 1.5,
             "offset_sd_k": 1.5},
    "masonry": {"time_constant_h": 12.0, "time_constant_factor": 2.0, "offset_k": 2.5,
                "offset_sd_k": 0.9},
    "attached": {"time_constant_h": 24.0, "time_constant_factor": 2.0, "offset_k": 6.0,
                 "offset_sd_k": 2.5},
}

_Low = tuple[Annotated[float, quantity("temperature", -60, 35)], ...]
_High = tuple[Annotated[float, quantity("temperature", -50, 55)], ...]
_Spread = tuple[Annotated[float, quantity("temperature_difference", 0.1, 15)], ...]
_Wind = tuple[Annotated[float, number(0, 40)], ...]  # m/s
_Humidity = tuple[Annotated[float, quantity("fraction", 0.02, 1)], ...]


class Normals(Record):
    """Usual outdoor weather by month, January first: 12 values each.

    ``daily_low_c`` and ``daily_high_c``: mean daily minimum and maximum [degC]; ``rh_frac``: mean
    relative humidity (0..1); ``wind_m_s``: mean wind [m/s]; ``sd_low_k`` and ``sd_high_k``:
    standard deviation of a day's minimum and maximum about the mean [K]. The last three may be
    left out (None).
    """

    daily_low_c: _Low
    daily_high_c: _High
    rh_frac: _Humidity = (0.75,) * 12
    wind_m_s: _Wind | None = None
    sd_low_k: _Spread | None = None
    sd_high_k: _Spread | None = None

    @model_validator(mode="before")
    @classmethod
    def _one_value_for_the_year(cls, raw: Any) -> Any:
        if not isinstance(raw, dict):
            return raw
        return {
            key: [value] * 12 if isinstance(value, (int, float, str)) else value
            for key, value in raw.items()
        }

    @field_validator("*")
    @classmethod
    def _twelve(cls, value: Any) -> Any:
        if value is not None and len(value) != 12:
            raise keeper_error(say("There are {value} values, but a year has 12 months.",
                                   value=len(value)))
        return value

    @model_validator(mode="after")
    def _low_below_high(self) -> Normals:
        wrong = [
            month
            for month, low, high in zip(MONTHS, self.daily_low_c, self.daily_high_c, strict=True)
            if low >= high
        ]
        if wrong:
            raise keeper_error(
                say("The daily low is not below the daily high in {months}. Have the two rows"
                    " been swapped?", months=joined([say(month) for month in wrong]))
            )
        return self


class Building(Record):
    """The room around the indoor beds; its air follows the outdoor air slowly.

    ``time_constant_h``: time constant of the room's air [h], prior median; 90 % of the prior lies
    between ``time_constant_h / time_constant_factor`` and ``time_constant_h *
    time_constant_factor``. ``offset_k``: how much warmer than outdoors the room is on average
    [K], with its standard deviation ``offset_sd_k``. What is left out comes from ``kind``
    (:data:`BUILDING_PRIORS`); with ``none`` the air is the outdoor air.
    """

    kind: BuildingKind = "none"
    name: Name = ""
    time_constant_h: Annotated[float, quantity("duration", 0, 500)]
    time_constant_factor: Annotated[float, number(1, 10)]
    offset_k: Annotated[float, quantity("temperature_difference", -5, 25)]
    offset_sd_k: Annotated[float, quantity("temperature_difference", 0, 10)]

    @model_validator(mode="before")
    @classmethod
    def _defaults_of_kind(cls, raw: Any) -> Any:
        if not isinstance(raw, dict):
            return raw
        full = cls.with_full_names(raw)
        kind = full.get("kind", "none")
        priors = BUILDING_PRIORS.get(kind) if isinstance(kind, str) else None
        return {**(priors or BUILDING_PRIORS["shed"]), **full}


class Site(Record):
    """The place: ``latitude_deg`` (north positive), ``longitude_deg`` (east positive),
    ``altitude_m``, ``time_zone`` (a name of the IANA table), usual weather and building."""

    name: Name = ""
    latitude_deg: Annotated[float, number(-90, 90, say("North is positive, in degrees."))]
    longitude_deg: Annotated[float, number(-180, 180, say("East is positive, in degrees."))] = 0.0
    altitude_m: Annotated[float, quantity("length", -450, 6000)] = 0.0
    time_zone: str = "UTC"
    normals: Normals
    building: Building = Building.model_validate({"kind": "none"})

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        names = {name.lower(): name for name in available_timezones()}
        found = names.get(value.strip().lower())
        if found is None:
            near = names.get(nearest(value.strip(), tuple(names)), "")
            hint = (
                say(' Did you mean "{near}"?', near=near) if near
                else say(' Write it like "Europe/Vienna".')
            )  # fmt: skip
            raise keeper_error(say("{value} is not a time zone that is known.{hint}",
                                   value=repr(value[:60]), hint=hint))
        return found

    def zone_info(self) -> ZoneInfo:
        """The time zone of the place."""
        return ZoneInfo(self.time_zone)


