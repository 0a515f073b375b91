"""Rules of thumb of the trade and the small geometry that goes with them.

A rule of thumb is shown beside what the model says, never in its place.
"""

from __future__ import annotations

import math

from bedlore.units import INCH_M, POUND_KG

FOOT_M = 12 * INCH_M
# A handful of feed or of moist bedding with its worms, lifted with one hand [L]: common practice,
# no source.
HANDFUL_L = 0.3
# 1 lb of food scraps a week for each square foot: a state extension service (read).
WEEKLY_SCRAPS_KG_M2 = POUND_KG / FOOT_M**2
# 1 lb of waste a week for each cubic foot: an extension text, issuer not shown (read). The two
# rules differ unless the bed is a foot deep; for worms that feed at the surface area is the one.
WEEKLY_SCRAPS_KG_M3 = POUND_KG / FOOT_M**3


def weekly_scraps_by_area_kg(length_m: float, width_m: float) -> float:
    """Scraps [kg a week] by the area rule; 2 ft by 1 ft gives 2 lb, 0.907 kg."""
    return WEEKLY_SCRAPS_KG_M2 * length_m * width_m


def weekly_scraps_by_volume_kg(length_m: float, width_m: float, depth_m: float) -> float:
    """Scraps [kg a week] by the volume rule; 1 x 1 x 2 ft gives 2 lb, 0.907 kg."""
    return WEEKLY_SCRAPS_KG_M3 * length_m * width_m * depth_m


def spread_volume_m3(area_m2: float, depth_m: float) -> float:
    """Volume [m3] that covers ``area_m2`` to ``depth_m``."""
    return area_m2 * depth_m


def spread_area_m2(volume_m3: float, depth_m: float) -> float:
    """Area [m2] that ``volume_m3`` covers to ``depth_m`` (above 0)."""
    return volume_m3 / depth_m


def cylinder_volume_m3(diameter_m: float, height_m: float) -> float:
    """Volume [m3] of a round pot; 7 in by 7 in gives 4.41 L."""
    return math.pi / 4.0 * diameter_m**2 * height_m
