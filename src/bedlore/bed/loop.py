"""The loop over hours and members: plain functions, compiled once where Numba is at hand.

Members are independent, so the order and the number of threads never change a bit of the
answer. The compiled loop is kept on disk in a folder named after the source of the whole
``bed`` package and the compiler's versions, because Numba's cache does not notice an edit in a
function that the loop calls.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedlore.bed import cells as _cells
from bedlore.bed.cells import POOLS, Air, Cells, Floats, Geometry, Work, Zones
from bedlore.bed.conduction import ROWS
from bedlore.bed.jit import ARITHMETIC, model, register_jitable
from bedlore.bed.layout import Herd
from bedlore.bed.outputs import note_zone
from bedlore.bed.step import begin_hour, step_hour
from bedlore.bed.worms import FLOW_SIZE


def new_work(n_zones: int, n_cells: int) -> Work:
    """Scratch arrays for one call of the loop."""
    shape = (n_zones, n_cells)
    return Work(
        np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        np.zeros(shape), np.zeros(shape), np.zeros((n_zones, n_cells, POOLS)),
        np.zeros(shape), np.zeros(shape), np.ones(shape),
        np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        np.zeros(n_cells), np.zeros(n_cells), np.zeros(shape), np.zeros(n_zones),
        np.zeros(n_zones), np.zeros(n_zones), np.zeros(n_zones),
        np.zeros((ROWS, n_zones * n_cells)), np.zeros(FLOW_SIZE),
    )  # fmt: skip


@model
def one_of_cells(a: Cells, m):  # type: ignore[no-untyped-def]
    """Views of member ``m``."""
    return Cells(
        a.temp_c[m], a.carbon_kg[m], a.nitrogen_kg[m], a.ash_kg[m], a.water_kg[m],
        a.ammonia_kg[m], a.nitrate_kg[m], a.starch_kg[m], a.quality_kg[m], a.oxygen_kg_m3[m],
    )  # fmt: skip


@model
def one_of_zones(a: Zones, m):  # type: ignore[no-untyped-def]
    """Views of member ``m``."""
    return Zones(
        a.active[m], a.cover_m[m], a.cover_water_kg[m], a.foam_r[m], a.foam_top_r[m],
        a.lid_on[m], a.lump_m[m], a.sour[m], a.mat_on[m], a.mat_set_c[m], a.surface_c[m],
    )  # fmt: skip


@model
def one_of_herd(a: Herd, m):  # type: ignore[no-untyped-def]
    """Views of member ``m``."""
    return Herd(
        a.cocoon_n[m], a.hatchling_n[m], a.hatchling_kg[m], a.juvenile_n[m], a.juvenile_kg[m],
        a.juvenile_slow_n[m], a.adult_n[m], a.adult_kg[m], a.adult_slow_n[m], a.adult_age_d[m],
        a.where[m], a.cocoon_where[m],
    )  # fmt: skip


@model
def one_of_air(a: Air, m):  # type: ignore[no-untyped-def]
    """Views of member ``m``; members take turns when there are fewer weather series."""
    return Air(
        a.air_c[m % a.air_c.shape[0]],
        a.outer_c[m % a.outer_c.shape[0]],
        a.vapour_kg_m3[m % a.vapour_kg_m3.shape[0]],
        a.ground_c[m % a.ground_c.shape[0]],
    )


def member_loop(first, last, geometry: Geometry, params, cells: Cells, zones: Zones, herd: Herd,
                air: Air, acts, scale, hours, every, out, tally, work: Work, first_hour):  # type: ignore[no-untyped-def]  # fmt: skip
    """The loop of :func:`run_members`; allocates nothing, so it compiles to plain arithmetic."""
    n_zones = geometry.area_m2.shape[0]
    for m in range(first, last):
        p = params[m]
        mine = one_of_cells(cells, m)
        my_zones = one_of_zones(zones, m)
        my_herd = one_of_herd(herd, m)
        my_air = one_of_air(air, m)
        next_act = 0
        for hour in range(hours):
            next_act = begin_hour(
                p, geometry, mine, my_zones, my_herd, tally[m], acts, scale[m], next_act, hour
            )
            ends_day = (first_hour + hour) % 24 == 23
            step_hour(
                p, geometry, mine, my_zones, my_herd, my_air, work, tally[m], hour, ends_day
            )
            window = hour // every
            if window < out.shape[1]:
                for z in range(n_zones):
                    note_zone(
                        geometry, mine, my_zones, my_herd, work, tally[m], z,
                        hour % every == 0, out[m, window, z],
                    )  # fmt: skip


def run_members(first, last, geometry: Geometry, params, cells: Cells, zones: Zones,
                herd: Herd, air: Air, acts, scale, hours, every, out, tally,
                first_hour=0):  # type: ignore[no-untyped-def]  # fmt: skip
    """Run members ``first`` to ``last - 1`` for ``hours``; the state arrays are advanced.

    ``out`` ``[M, hours // every, Z, V]`` takes the outputs at the end of each window of
    ``every`` hours, ``tally`` ``[M, Z, TALLY]`` the running sums. ``acts`` ``[A, ACT_SIZE]`` are
    common to all, ``scale`` ``[M, A]`` each member's factor on their amounts. ``first_hour`` is
    how long the bed has already run: its cells are tidied every 24 hours from its start.
    """
    work = new_work(len(geometry.area_m2), cells.temp_c.shape[2])
    member_loop(first, last, geometry, params, cells, zones, herd, air, acts, scale, hours, every,
                out, tally, work, first_hour)  # fmt: skip


@cache
def model_hash() -> str:
    """Hash of the source of the whole ``bed`` package: what stored states are good for. Versions of
    the compiler and of NumPy change the last digits alone, and a stored state has seven."""
    digest = hashlib.sha256()
    for path in sorted(Path(_cells.__file__).parent.glob("*.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _compiled_hash() -> str:
    """Hash of the model and of the versions it is compiled by."""
    digest = hashlib.sha256(f"{model_hash()} {sys.version}".encode())
    for module in ("numba", "llvmlite", "numpy"):
        digest.update(getattr(sys.modules.get(module), "__version__", "none").encode())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Where the compiled loop is kept; ``BEDLORE_CACHE`` overrides the user's cache folder."""
    base = os.environ.get("BEDLORE_CACHE") or os.environ.get("XDG_CACHE_HOME")
    root = Path(base) if base else Path.home() / ".cache"
    return root / "bedlore" / f"loop-{_compiled_hash()}"


def _compile(function: Callable[..., None]) -> Callable[..., None]:
    import numba

    # Views of arrays need no counting of references: the caller holds every array, and the loop
    # makes none. Counting (``_nrt``) would take half of the loop's time.
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "_nrt": False,
                               "fastmath": set(ARITHMETIC)}  # fmt: skip
    folder = cache_folder()
    before = numba.config.CACHE_DIR
    try:
        folder.mkdir(parents=True, exist_ok=True)
        numba.config.CACHE_DIR = str(folder)
        compiled: Any = numba.njit(cache=True, **options)(function)
    except OSError:  # a read-only home: compile anew in each process
        compiled = numba.njit(**options)(function)
    finally:
        numba.config.CACHE_DIR = before
    return compiled  # type: ignore[no-any-return]


_compiled_loop = member_loop if register_jitable is None else _compile(member_loop)


def run_compiled(first: int, last: int, geometry: Geometry, params: NDArray[np.void],
                 cells: Cells, zones: Zones, herd: Herd, air: Air, acts: Floats, scale: Floats,
                 hours: int, every: int, out: Floats, tally: Floats,
                 first_hour: int = 0) -> None:  # fmt: skip
    """As :func:`run_members`, by the compiled loop where Numba is at hand."""
    work = new_work(len(geometry.area_m2), cells.temp_c.shape[2])
    _compiled_loop(first, last, geometry, params, cells, zones, herd, air, acts, scale, hours,
                   every, out, tally, work, first_hour)  # fmt: skip
