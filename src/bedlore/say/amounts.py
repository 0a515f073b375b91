"""Amounts and temperatures in words: the one place where SI becomes what a person reads.

Exact factors come from :mod:`bedlore.factors`. A difference of temperature has no zero point: 5 K
is 9 F degrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from bedlore.factors import INCH_M, POUND_KG, US_GALLON_M3, celsius_to_fahrenheit
from bedlore.say.language import Units, catalogue, count, decimal, listener
from bedlore.say.said import Said, filled, way

US_QUART_L = US_GALLON_M3 / 4 * 1000.0


def figures(value: float, count: int = 2) -> str:
    """``value`` with at most ``count`` significant figures and no trailing noise: 1234 is 1200.

    With a true minus and the reader's decimal sign.
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "–"
    places = count - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    text = f"{rounded:.{max(places, 0)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return decimal(text.replace("-", "−"))


def number_words(value: float) -> str:
    """Two figures of a count, thousands apart: 2,700."""
    return f"{round(value)}" if value < 100 else count(round(value, 2 - len(str(int(value)))))


def whole(value: float) -> str:
    """``value`` as a whole number with a proper minus sign and no minus nought."""
    return str(round(value) + 0).replace("-", "−")


def degrees(temp_c: float, units: Units) -> float:
    """A temperature [degC] as a number on the scale of ``units``."""
    return celsius_to_fahrenheit(temp_c) if units == "us" else temp_c


def limit_figure(temp_c: float, units: Units) -> str:
    """A limit [degC] on the scale of ``units``, as the keeper set it: in whole degrees where it is
    whole on either scale, else to a tenth."""
    scales: tuple[Units, ...] = ("metric", "us")
    is_whole = any(abs(on - round(on)) < 0.05 for on in (degrees(temp_c, u) for u in scales))
    value = degrees(temp_c, units)
    return whole(value) if is_whole else decimal(f"{value:.1f}".replace("-", "−"))


def setting_figure(temp_c: float, units: Units) -> str:
    """What a thermostat is set to [degC] on the scale of ``units``: a dial of Fahrenheit has whole
    degrees, one of Celsius tenths."""
    is_whole = units == "us" or abs(temp_c - round(temp_c)) < 0.05
    return whole(degrees(temp_c, units)) if is_whole else decimal(f"{temp_c:.1f}")


# --- Kept amounts: said again in each reader's units -------------------------------------------


def temp(temp_c: float) -> Said:
    """A temperature to the degree, since no more is known of a bed."""
    return Said({"temp_c": float(temp_c)})


def limit_temp(temp_c: float) -> Said:
    """A limit [degC] as the keeper set it (:func:`limit_figure`)."""
    return Said({"limit_c": float(temp_c)})


@way("limit_c")
def _limit(kept: Mapping[str, Any]) -> str:
    unit = _whole_degrees(0.0)[1]
    return f"{limit_figure(kept['limit_c'], listener().units)} {unit}"


def setting(temp_c: float) -> Said:
    """What a thermostat is set to [degC] (:func:`setting_figure`)."""
    return Said({"setting_c": float(temp_c)})


@way("setting_c")
def _setting(kept: Mapping[str, Any]) -> str:
    unit = _whole_degrees(0.0)[1]
    return f"{setting_figure(kept['setting_c'], listener().units)} {unit}"


@way("temp_c")
def _temp(kept: Mapping[str, Any]) -> str:
    value, unit = _whole_degrees(kept["temp_c"])
    return f"{value} {unit}"


def _whole_degrees(temp_c: float) -> tuple[str, str]:
    units = listener().units
    return whole(degrees(temp_c, units)), "degF" if units == "us" else "degC"


def temps(band: tuple[float, float, float]) -> Said:
    """A range of temperatures and the likeliest: low, middle, high [degC]."""
    low, middle, high = band
    return Said({"temps_c": [float(low), float(middle), float(high)]})


@way("temps_c")
def _temps(kept: Mapping[str, Any]) -> str:
    low, middle, high = (_whole_degrees(value)[0] for value in kept["temps_c"])
    unit = _whole_degrees(0.0)[1]
    gettext = catalogue(listener().language).gettext
    if low == high:
        return filled(gettext("about {amount}"), {"amount": f"{middle} {unit}"})
    pattern = gettext("between {low} and {high} {unit}, most likely {middle}")
    return filled(pattern, {"low": low, "high": high, "unit": unit, "middle": middle})


def kelvin(difference_k: float) -> Said:
    """A difference of temperature to half a degree."""
    return Said({"kelvin": float(difference_k)})


@way("kelvin")
def _kelvin(kept: Mapping[str, Any]) -> str:
    us = listener().units == "us"
    value, unit = kept["kelvin"] * (1.8 if us else 1.0), "degF" if us else "K"
    half = round(abs(value) * 2.0) / 2.0
    if half < 0.5:
        gettext = catalogue(listener().language).gettext
        pattern = gettext("less than half a degree ({unit})")
        return filled(pattern, {"unit": unit})
    return decimal(f"{half:g} {unit}")


def mass(mass_kg: float) -> Said:
    """A mass, two figures at most; little of it to the gram."""
    return Said({"mass_kg": float(mass_kg)})


@way("mass_kg")
def _mass(kept: Mapping[str, Any]) -> str:
    mass_kg = kept["mass_kg"]
    if mass_kg < 0.0005:
        mass_kg = 0.0
    if listener().units == "us":
        pounds = mass_kg / POUND_KG
        ounces = 16.0 * pounds
        if pounds >= 0.95:
            return f"{figures(pounds)} lb"
        return f"{figures(ounces, 1)} oz" if ounces < 0.5 else f"{ounces:.0f} oz"
    if mass_kg < 0.0095:
        return f"{mass_kg * 1000.0:.0f} g"
    if mass_kg < 0.095:
        return f"{round(mass_kg * 1000.0, -1):.0f} g"
    return decimal(f"{mass_kg:.1f} kg" if mass_kg < 9.95 else f"{mass_kg:.0f} kg")


def litres(volume_l: float) -> Said:
    """A volume."""
    return Said({"litres": float(volume_l)})


@way("litres")
def _litres(kept: Mapping[str, Any]) -> str:
    if listener().units == "us":
        return f"{figures(kept['litres'] / US_QUART_L)} qt"
    return f"{figures(kept['litres'])} L"


def thickness(thickness_m: float) -> Said:
    """A thickness of a cover or a board."""
    return Said({"thickness_m": float(thickness_m)})


@way("thickness_m")
def _thickness(kept: Mapping[str, Any]) -> str:
    if listener().units == "us":
        inches = kept["thickness_m"] / INCH_M
        # From an inch on by quarters, as a rule is read: 10 cm are 4 in.
        return f"{figures(round(4.0 * inches) / 4.0, 3) if inches >= 1.0 else figures(inches)} in"
    return f"{figures(kept['thickness_m'] * 100.0)} cm"
