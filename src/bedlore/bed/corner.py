"""How much colder the coldest corner of a bed is than the mean of its zone.

The model's columns know one temperature a layer; in a box losing heat through six faces the
corners are colder. The share of the lift over the air that is left in the corner is the product
of three profiles: along and across, a fin that loses heat through top, base and the other pair of
walls (Carslaw & Jaeger 1959, from memory); upright, the parabola of an even source. The product
overstates the loss where faces meet, so the two level shares go to the power 0.93, fitted to
300 three-dimensional finite-volume solutions (tests/oracle/test_corner.py).

Checked error: for boxes 0.4-3 m by 0.3-1.3 m, 0.1-0.6 m deep, 0.2-0.7 W/m K and 0.2-9 W/m2 K the
share itself lies between 0.07 and 0.87 and the formula within 0.07 of it (95 % within 0.03). It
holds for steady warmth; a corner answers a change of the air faster than the mean does.
"""

from __future__ import annotations

import math

from bedlore.bed.jit import model

CORNER_INSET_M = 0.0125  # centre of the outermost 2.5 cm, about the size of a worm's refuge
_MEETING_FACES = 0.93  # fitted, see above
_MEAN_TO_FACE = 4.0  # mean of a layer to its face is depth / 4k, between two- and one-sided loss


@model
def _edge_share(loss_per_m, half_m, conductivity_w_mk, side_u):  # type: ignore[no-untyped-def]
    """Lift near the end of a fin over its mean lift; ``loss_per_m`` is the fin's m."""
    x = loss_per_m * half_m
    ends = math.cosh(x) + conductivity_w_mk * loss_per_m / side_u * math.sinh(x)
    at_edge = math.cosh(loss_per_m * max(half_m - CORNER_INSET_M, 0.0))
    return (1.0 - at_edge / ends) / (1.0 - math.sinh(x) / (x * ends))


@model
def _face_share(depth_m, conductivity_w_mk, top_u, base_u):  # type: ignore[no-untyped-def]
    """Lift near the colder of top and base over the mean lift, for an even source."""
    k = conductivity_w_mk
    top = (depth_m + 0.5 * base_u * depth_m * depth_m / k) / (
        top_u + base_u + top_u * base_u * depth_m / k
    )
    slope = top_u * top / k
    mean = top + 0.5 * slope * depth_m - depth_m * depth_m / (6.0 * k)
    z = min(CORNER_INSET_M, 0.5 * depth_m)
    low = depth_m - z
    at_top = top + slope * z - 0.5 * z * z / k
    at_base = top + slope * low - 0.5 * low * low / k
    return min(at_top, at_base) / mean


@model
def _from_mean(u_w_m2k, path_m, conductivity_w_mk):  # type: ignore[no-untyped-def]
    """U [W/m2 K] from the mean of the material to the air, ``path_m`` of it in series."""
    return u_w_m2k / (1.0 + u_w_m2k * path_m / conductivity_w_mk)


@model
def corner_share(conductivity_w_mk, half_length_m, half_width_m, depth_m, side_u, top_u, base_u):  # type: ignore[no-untyped-def]
    """Lift over the air in the coldest corner against the mean lift of its zone, 0..1.

    ``half_length_m`` and ``half_width_m`` [m] run from the corner's walls to where the bed
    mirrors itself (half the bed's width; half its length, or the whole of an end zone).
    ``side_u``, ``top_u`` and ``base_u`` [W/m2 K, > 0] lead from the face of the material through
    walls and films to the air. By hand, 1.2 x 0.6 x 0.2 m at 0.40 W/m K in bare 12 mm plywood
    (U 4.55, 9.09, 3.85): about 0.25; in 5 cm of foam about 0.74.
    """
    k = conductivity_w_mk
    side_u = max(side_u, 1e-4)
    top_u = max(top_u, 1e-4)
    base_u = max(base_u, 1e-4)
    through_depth = _from_mean(top_u, depth_m / _MEAN_TO_FACE, k)
    through_depth += _from_mean(base_u, depth_m / _MEAN_TO_FACE, k)
    by_depth = through_depth / (k * depth_m)
    by_width = _from_mean(side_u, half_width_m / 3.0, k) / (k * half_width_m)
    by_length = _from_mean(side_u, half_length_m / 3.0, k) / (k * half_length_m)
    along = _edge_share(math.sqrt(by_depth + by_width), half_length_m, k, side_u)
    across = _edge_share(math.sqrt(by_depth + by_length), half_width_m, k, side_u)
    upright = _face_share(depth_m, k, top_u, base_u)
    return (along * across) ** _MEETING_FACES * upright
