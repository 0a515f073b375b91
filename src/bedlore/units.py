"""Conversions at the edge: text such as ``"24 in"`` or ``"40 degF"`` to SI numbers.

Inside the package every quantity is SI with its unit in the name; temperatures are degrees
Celsius. Exact factors stand in :mod:`bedlore.factors`.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from bedlore.errors import KeeperError
from bedlore.factors import (
    IMPERIAL_GALLON_M3,
    INCH_M,
    POUND_KG,
    US_GALLON_M3,
    celsius_to_fahrenheit,
    fahrenheit_to_celsius,
)
from bedlore.say import message, say

Kind = Literal[
    "length", "area", "volume", "mass", "temperature", "temperature_difference", "power",
    "duration", "fraction",
]

__all__ = ["IMPERIAL_GALLON_M3", "INCH_M", "POUND_KG", "US_GALLON_M3", "Kind",
           "celsius_to_fahrenheit", "fahrenheit_to_celsius", "parse_quantity"]  # fmt: skip

# Factor to SI for each unit the keeper may write; durations become hours.
_FACTORS: dict[str, dict[str, float]] = {
    "length": {
        "m": 1.0, "cm": 0.01, "mm": 0.001, "in": INCH_M, "inch": INCH_M, "inches": INCH_M,
        '"': INCH_M, "ft": 12 * INCH_M, "foot": 12 * INCH_M, "feet": 12 * INCH_M,
        "'": 12 * INCH_M, "yd": 36 * INCH_M,
    },
    "area": {
        "m2": 1.0, "cm2": 1e-4, "ft2": (12 * INCH_M) ** 2, "sqft": (12 * INCH_M) ** 2,
        "in2": INCH_M**2,
    },
    "volume": {
        "m3": 1.0, "l": 1e-3, "litre": 1e-3, "litres": 1e-3, "liter": 1e-3, "liters": 1e-3,
        "ml": 1e-6, "gal": US_GALLON_M3, "usgal": US_GALLON_M3, "impgal": IMPERIAL_GALLON_M3,
        "qt": US_GALLON_M3 / 4, "quart": US_GALLON_M3 / 4, "quarts": US_GALLON_M3 / 4,
        "pt": US_GALLON_M3 / 8, "cup": US_GALLON_M3 / 16, "cups": US_GALLON_M3 / 16,
        "ft3": (12 * INCH_M) ** 3,
    },
    "mass": {
        "kg": 1.0, "g": 1e-3, "mg": 1e-6, "t": 1000.0, "lb": POUND_KG, "lbs": POUND_KG,
        "pound": POUND_KG, "pounds": POUND_KG, "oz": POUND_KG / 16,
    },
    "temperature_difference": {
        "k": 1.0, "degc": 1.0, "c": 1.0, "°c": 1.0, "degf": 5 / 9, "f": 5 / 9, "°f": 5 / 9,
    },
    "power": {"w": 1.0, "kw": 1000.0},
    "duration": {
        "h": 1.0, "hr": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60, "d": 24.0, "day": 24.0,
        "days": 24.0, "wk": 168.0, "week": 168.0, "weeks": 168.0,
    },
    "fraction": {"%": 0.01, "percent": 0.01, "": 1.0},
}
_SI_NAME = {
    "length": "m", "area": "m2", "volume": "m3", "mass": "kg", "temperature": "degC",
    "temperature_difference": "K", "power": "W", "duration": "h", "fraction": "a fraction",
}
_EXAMPLE = {
    "length": message('"24 in" or "60 cm"'), "area": message('"4 ft2" or "0.4 m2"'),
    "volume": message('"9 L" or "3 qt"'), "mass": message('"2 lb" or "900 g"'),
    "temperature": message('"40 degF" or "4 degC"'),
    "temperature_difference": message('"3 K" or "5 degF"'), "power": '"40 W"',
    "duration": '"6 h"', "fraction": message('"75 %" or 0.75'),
}
_NUMBER = re.compile(
    r"^\s*([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", re.DOTALL
)


def parse_quantity(value: object, kind: Kind) -> float:
    """The SI value of ``value``: a number (already SI) or a number with a unit.

    Durations come back in hours and temperatures in degC. Raises :class:`KeeperError` with a
    sentence when it is no number, carries a unit of another kind, or is not finite.
    ``parse_quantity("24 in", "length")`` is 0.6096.
    """
    if isinstance(value, bool):
        raise _not_understood(value, kind)
    if isinstance(value, (int, float)):
        return _finite(float(value), value, kind)
    if not isinstance(value, str):
        raise _not_understood(value, kind)
    match = _NUMBER.match(value)
    if match is None:
        raise _not_understood(value, kind)
    number = float(match.group(1).replace(",", "."))
    unit = match.group(2).lower().replace(" ", "").replace("²", "2").replace("³", "3")
    return _finite(_to_si(number, unit, value, kind), value, kind)


def _to_si(number: float, unit: str, value: object, kind: Kind) -> float:
    if kind == "temperature":
        if unit in ("", "c", "degc", "°c"):
            return number
        if unit in ("f", "degf", "°f"):
            return fahrenheit_to_celsius(number)
        if unit in ("k", "kelvin"):
            return number - 273.15
        raise _not_understood(value, kind)
    factor = 1.0 if unit == "" else _FACTORS[kind].get(unit)
    if factor is None:
        raise _not_understood(value, kind)
    return number * factor


def _finite(si_value: float, value: object, kind: Kind) -> float:
    if not math.isfinite(si_value):
        raise _not_understood(value, kind)
    return si_value


def _not_understood(value: object, kind: Kind) -> KeeperError:
    return KeeperError(
        say(_NOT_UNDERSTOOD[kind], shown=repr(str(value)[:40])),
        fix=say("Write a number in {unit}, or with its unit, such as {example}.",
                unit=_SI_NAME[kind], example=say(_EXAMPLE[kind])),
    )  # fmt: skip


_NOT_UNDERSTOOD: dict[Kind, str] = {
    "length": message("{shown} is not understood as a length."),
    "area": message("{shown} is not understood as a area."),
    "volume": message("{shown} is not understood as a volume."),
    "mass": message("{shown} is not understood as a mass."),
    "temperature": message("{shown} is not understood as a temperature."),
    "temperature_difference": message("{shown} is not understood as a temperature difference."),
    "power": message("{shown} is not understood as a power."),
    "duration": message("{shown} is not understood as a duration."),
    "fraction": message("{shown} is not understood as a fraction."),
}
