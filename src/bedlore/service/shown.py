"""Numbers as the keeper reads them: own units, rounded to what the model bears.

Published compost models miss temperatures by several kelvin, so a temperature is shown to a
whole degree and a mass to two figures. Exact factors come from :mod:`bedlore.units`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from bedlore.say import Units, again, figures, say, say_many, speaking, whole
from bedlore.say.amounts import degrees, limit_figure, setting_figure
from bedlore.units import INCH_M, POUND_KG, US_GALLON_M3

__all__ = ["Shown", "Units", "figures", "whole"]
_OUNCES_BELOW_LB = 0.9
_GALLONS_FROM_QT = 8.0

_NUMBER = r"(?P<{0}>[-−]?\d+(?:[.,]\d+)?)"
# A number, or two with a word or a dash between them, and a unit written in SI.
_SPAN = re.compile(
    _NUMBER.format("first") + r"(?:(?P<between> (?:and|to|or|y|a|o) | ?– ?)"
    + _NUMBER.format("second")
    + r")? ?(?P<unit>degC|°C|kWh|kg|g|cm|mm|m|L|K)(?P<per>/m2)?(?![\w/²])"
)  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """Writes SI values in ``units``."""

    units: Units = "metric"

    @property
    def degree(self) -> str:
        """The sign behind a temperature."""
        return "°F" if self.units == "us" else "°C"

    def degrees(self, temp_c: float) -> float:
        """A temperature [degC] as a number on the keeper's scale."""
        return degrees(temp_c, self.units)

    def temp(self, temp_c: float, *, unit: bool = True) -> str:
        """``temp(4.4)`` is ``4 °C``, or ``40 °F``."""
        if not math.isfinite(temp_c):
            return "–"
        return whole(self.degrees(temp_c)) + (f" {self.degree}" if unit else "")

    def limit(self, temp_c: float) -> str:
        """A limit as the keeper set it: ``limit(1.5)`` is ``1.5 °C``, ``limit(4)`` ``4 °C``."""
        return f"{limit_figure(temp_c, self.units)} {self.degree}"

    def setting(self, temp_c: float) -> str:
        """What a thermostat is set to: ``setting(6.5)`` is ``6.5 °C``, or ``44 °F``."""
        return f"{setting_figure(temp_c, self.units)} {self.degree}"

    def difference(self, kelvin: float) -> str:
        """A difference of temperature, which has no zero point: 5 K is 9 F degrees."""
        if self.units == "us":
            return say("{number} F degrees", number=figures(kelvin * 1.8))
        return f"{figures(kelvin)} K"

    def mass(self, mass_kg: float) -> str:
        """``mass(0.3)`` is ``300 g``, or ``11 oz``."""
        if self.units == "us":
            pounds = mass_kg / POUND_KG
            if 0 < abs(pounds) * 16 < 0.1:
                return say("under {amount}", amount=f"{figures(0.1)} oz")
            if 0 < abs(pounds) < _OUNCES_BELOW_LB:
                return f"{figures(pounds * 16)} oz"
            return f"{figures(pounds)} lb"
        if 0 < abs(mass_kg) < 0.001:
            return say("under {amount}", amount="1 g")
        if 0 < abs(mass_kg) < 1.0:
            return f"{figures(mass_kg * 1000)} g"
        return f"{figures(mass_kg)} kg"

    def length(self, length_m: float) -> str:
        """``length(0.42)`` is ``42 cm``, or ``16.5 in``; for sizes, so three figures."""
        if self.units == "us":
            return f"{figures(length_m / INCH_M, 3)} in"
        if abs(length_m) < 0.0995:
            return f"{figures(length_m * 1000)} mm"
        return f"{figures(length_m * 100, 3)} cm"

    def volume(self, volume_l: float) -> str:
        """``volume(9)`` is ``9 L``, or ``9.5 qt``; gallons from 8 quarts on."""
        if self.units == "us":
            quarts = volume_l / 1000 / (US_GALLON_M3 / 4)
            if abs(quarts) >= _GALLONS_FROM_QT:
                return f"{figures(quarts / 4)} gal"
            return f"{figures(quarts)} qt"
        return f"{figures(volume_l)} L"

    def percent(self, share: float) -> str:
        """``percent(0.724)`` is ``72 %``."""
        return f"{whole(share * 100)} %"

    def hours(self, hours: float) -> str:
        """``hours(30)`` is ``30 hours``; days from two on; "not within the time looked at"."""
        if not math.isfinite(hours):
            return say("longer than looked at")
        if hours < 1.5:
            return say("about an hour")
        if hours < 48:
            return say_many("{count} hour", "{count} hours", round(hours))
        return say("{number} days", number=figures(hours / 24))

    def sentence(self, text: str) -> str:
        """``text`` said to whoever listens, with every SI figure in it in the keeper's units.

        ``"between 4 and 9 degC"`` is ``"between 4 and 9 °C"`` or ``"between 39 and 48 °F"``.
        """
        with speaking(units=self.units):
            text = again(text)
        return _SPAN.sub(self._converted, text).replace("degF", "°F")

    def _converted(self, match: re.Match[str]) -> str:
        unit, per = match["unit"], match["per"] or ""
        if self.units == "metric" or per:
            sign = "°C" if unit in ("degC", "°C") else unit
            first = match["first"].replace("-", "−")
            second = f"{match['between']}{match['second']}" if match["second"] else ""
            return f"{first}{second.replace('-', '−')} {sign}{per}"
        first_text = self._in_us(_value(match["first"]), unit)
        if match["second"] is None:
            return first_text
        second_text = self._in_us(_value(match["second"]), unit)
        number, _, sign = first_text.rpartition(" ")
        same = second_text.endswith(f" {sign}")
        return f"{number if same else first_text}{match['between']}{second_text}"

    def _in_us(self, value: float, unit: str) -> str:
        if unit in ("degC", "°C"):
            return self.temp(value)
        if unit == "K":
            return f"{figures(value * 1.8)} °F"
        if unit in ("kg", "g"):
            return self.mass(value if unit == "kg" else value / 1000)
        if unit == "L":
            return self.volume(value)
        if unit in ("m", "cm", "mm"):
            metres = value * {"m": 1.0, "cm": 0.01, "mm": 0.001}[unit]
            inches = metres / INCH_M
            return f"{figures(inches / 12)} ft" if inches >= 72 else f"{figures(inches)} in"
        return f"{figures(value)} {unit}"


def _value(number: str) -> float:
    return float(number.replace("−", "-").replace(",", "."))
