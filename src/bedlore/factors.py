"""Exact factors and the scales of temperature, below everything that reads or writes amounts.

International yard and pound (1959); litre definitions of the US liquid gallon (231 cubic inches)
and the imperial gallon (4.54609 L).
"""

from __future__ import annotations

INCH_M = 0.0254
POUND_KG = 0.45359237
US_GALLON_M3 = 231 * INCH_M**3
IMPERIAL_GALLON_M3 = 4.54609e-3


def fahrenheit_to_celsius(temp_f: float) -> float:
    """Temperature [degC] of ``temp_f`` [degF]; 40 degF is 4.44 degC."""
    return (temp_f - 32.0) * 5.0 / 9.0


def celsius_to_fahrenheit(temp_c: float) -> float:
    """Temperature [degF] of ``temp_c`` [degC]; 25 degC is 77 degF."""
    return temp_c * 9.0 / 5.0 + 32.0
