"""An independent steady solution of heat in a box bed: 3-D finite volumes with SciPy.

Test code, not product: a quarter of the box, uniform source, one U-value for each face from the
surface of the material to the air at 0. Cell-centred, second order.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import spsolve


@dataclass(frozen=True)
class Box:
    """Inside sizes [m], conductivity [W/m K], U of sides, top and base [W/m2 K], power [W]."""

    length_m: float
    width_m: float
    depth_m: float
    k_w_mk: float
    side_u: float
    top_u: float
    base_u: float
    power_w: float = 1.0


@dataclass(frozen=True)
class Lift:
    """Kelvin above the air: mean, highest, coldest cell, and the coldest corner itself."""

    mean_k: float
    highest_k: float
    corner_cell_k: float
    corner_k: float


def _chain(n: int, link: float, first: float, last: float) -> sparse.csr_matrix:
    """Conduction along one axis of ``n`` cells; ``first`` and ``last`` join its ends to the air."""
    diagonal = np.full(n, 2.0 * link)
    diagonal[0] -= link - first
    diagonal[-1] -= link - last
    off = np.full(n - 1, -link)
    return sparse.diags([off, diagonal, off], [-1, 0, 1], format="csr")


def _to_air(u: float, half_m: float, k: float) -> float:
    return 1.0 / (1.0 / u + half_m / k) if u > 0.0 else 0.0


@cache
def solve(box: Box, cells: tuple[int, int, int] = (36, 18, 12)) -> Lift:
    """Steady temperatures of ``box`` on a mesh of ``cells`` in a quarter of it."""
    nx, ny, nz = cells
    dx, dy, dz = 0.5 * box.length_m / nx, 0.5 * box.width_m / ny, box.depth_m / nz
    k = box.k_w_mk
    # Each axis by itself, per unit of the area that it crosses.
    ax = _chain(nx, k / dx, 0.0, _to_air(box.side_u, dx / 2, k)) * (dy * dz)
    ay = _chain(ny, k / dy, 0.0, _to_air(box.side_u, dy / 2, k)) * (dx * dz)
    az = _chain(nz, k / dz, _to_air(box.top_u, dz / 2, k), _to_air(box.base_u, dz / 2, k)) * (
        dx * dy
    )
    ix, iy, iz = (sparse.identity(n, format="csr") for n in cells)
    matrix = (
        sparse.kron(sparse.kron(ax, iy), iz)
        + sparse.kron(sparse.kron(ix, ay), iz)
        + sparse.kron(sparse.kron(ix, iy), az)
    )
    source = np.full(nx * ny * nz, 0.25 * box.power_w / (nx * ny * nz))
    lift = spsolve(matrix.tocsc(), source).reshape(cells)
    corners = [
        (lift[-1, -1, 0], box.top_u, dz),
        (lift[-1, -1, -1], box.base_u, dz),
    ]
    return Lift(
        mean_k=float(lift.mean()),
        highest_k=float(lift.max()),
        corner_cell_k=float(min(cell for cell, _, _ in corners)),
        corner_k=float(min(_corner_point(cell, u, d, box, dx, dy) for cell, u, d in corners)),
    )


def _corner_point(cell_k: float, u: float, dz: float, box: Box, dx: float, dy: float) -> float:
    """From the centre of the corner cell to the corner itself, one face after the other."""
    k = box.k_w_mk
    share = 1.0
    for half, face_u in ((dx / 2, box.side_u), (dy / 2, box.side_u), (dz / 2, u)):
        share *= (1.0 / face_u) / (1.0 / face_u + half / k) if face_u > 0.0 else 1.0
    return cell_k * share
