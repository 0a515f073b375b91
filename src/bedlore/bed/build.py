"""From the keeper's description of a bed to the geometry of the model."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from bedlore.bed.cells import Floats, Geometry
from bedlore.facts.building import FILM_M2KW, material
from bedlore.farm.bed import Bed, Layer, Zone

PROBE_DEPTH_M = 0.10
# Vapour leaving an open bed, against still building air: wind outdoors 10-15 instead of 4 W/m2 K
# (from memory, halved for a bed under eaves); a loose lid passes a third (assumed).
OUTDOOR_VAPOUR = 2.0
LOOSE_LID_VAPOUR = 0.35
SEALED_LID_VAPOUR = 0.03
OUTDOOR_FILM_M2K_W = 0.044  # moving air 3.4 m/s, ASHRAE Fundamentals (from memory)
LID_AIR_GAP_M2K_W = 0.16  # still air under a lid, heat flow up (from memory)
SLAB_M2K_W = 0.5  # from a floor standing on the ground into the ground (assumed)
TRAY_GAP_M2K_W = 0.03  # mesh and uneven contact between trays (assumed)
GRAVEL_W_MK = 0.4  # drained gravel 0.3-0.5 (from memory)


def cell_count(bed: Bed) -> int:
    """Cells in a zone: fine enough for a few centimetres each, coarser for many zones."""
    return 12 if len(bed.zones) <= 4 else 8


def layers_r(layers: Iterable[Layer]) -> float:
    """Resistance [m2 K/W] of ``layers`` without films. By hand: 12 mm plywood 0.10."""
    resistances = (material(layer.material).resistance_m2k_w(layer.thickness_m) for layer in layers)
    return sum(resistances, 0.0)


def bed_geometry(bed: Bed) -> Geometry:
    """Geometry of ``bed``; zones in the order of the farm file, arrays as in :class:`Geometry`."""
    n = len(bed.zones)
    stack = bed.kind == "stack"
    area = np.array([_zone_area(bed, zone) for zone in bed.zones])
    outdoors = bed.place == "outdoors"
    gravel_r = bed.drainage.thickness_m / GRAVEL_W_MK
    below_r = layers_r(bed.floor) + gravel_r + (SLAB_M2K_W if bed.stand == "floor" else 0.0)
    return Geometry(
        area_m2=area,
        column_start=np.array([0] if stack else range(n)),
        column_end=np.array([n] if stack else range(1, n + 1)),
        side_m=np.array([_outer_wall_m(bed, i) for i in range(n)]),
        side_r=np.full(n, layers_r(bed.walls)),
        base_r=np.full(n, below_r),
        lid_r=np.full(n, layers_r(bed.lid) + (LID_AIR_GAP_M2K_W if bed.lid else 0.0)),
        lid_leak=np.full(n, _vapour_share(bed)),
        open_leak=OUTDOOR_VAPOUR if outdoors else 1.0,
        half_width_m=np.full(n, 0.5 * min(bed.width_m, bed.length_m)),
        on_ground=0.0 if bed.stand == "legs" else 1.0,
        side_film_r=OUTDOOR_FILM_M2K_W if outdoors else FILM_M2KW["side"],
        top_film_r=OUTDOOR_FILM_M2K_W if outdoors else FILM_M2KW["up"],
        base_film_r=FILM_M2KW["down"],
        tray_gap_r=TRAY_GAP_M2K_W if stack else 0.0,
        link_zone=np.array([[i, i + 1] for i in range(n - 1)], dtype=np.int64).reshape(-1, 2),
        link_width_m=np.full(max(n - 1, 0), 0.0 if stack else bed.width_m),
        link_gap_m=np.array([_gap_m(bed, i) for i in range(n - 1)]),
        drains=0.0 if bed.drainage.kind == "liner" else 1.0,
        gravel_m=bed.drainage.thickness_m,
        mat_w=_mat_w(bed, area),
        mat_zone=n // 2,
        probe_depth_m=PROBE_DEPTH_M,
    )


def _mat_w(bed: Bed, area: Floats) -> Floats:
    """Power [W] of the mat below each thermal column: by area, and all of it below a stack."""
    watts = bed.heat_mat.watts if bed.heat_mat else 0.0
    return np.array([watts]) if bed.kind == "stack" else watts * area / area.sum()


def _zone_area(bed: Bed, zone: Zone) -> float:
    return bed.area_m2 if bed.kind == "stack" else (zone.length_m or bed.length_m) * bed.width_m


def _outer_wall_m(bed: Bed, i: int) -> float:
    """Length of outer wall around zone ``i``: both long walls, and the ends where it has them."""
    if bed.kind == "stack":
        return 2.0 * (bed.length_m + bed.width_m)
    ends = (i == 0) + (i == len(bed.zones) - 1)
    return 2.0 * (bed.zones[i].length_m or bed.length_m) + ends * bed.width_m


def _gap_m(bed: Bed, i: int) -> float:
    a, b = bed.zones[i], bed.zones[i + 1]
    if bed.kind == "stack":
        return 0.5 * ((a.depth_m or 0.1) + (b.depth_m or 0.1))
    return 0.5 * ((a.length_m or bed.length_m) + (b.length_m or bed.length_m))


def _vapour_share(bed: Bed) -> float:
    if bed.lid:
        return SEALED_LID_VAPOUR if bed.lid_sealed else LOOSE_LID_VAPOUR
    return OUTDOOR_VAPOUR if bed.place == "outdoors" else 1.0
