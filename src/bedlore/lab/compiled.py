"""Compiles the loops of this package, kept on disk beside the loop of the beds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bedlore.bed.jit import register_jitable
from bedlore.bed.loop import cache_folder


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """``function`` compiled where Numba is at hand, else as it is."""
    if register_jitable is None:
        return function
    import numba

    before = numba.config.CACHE_DIR
    try:
        folder = cache_folder()
        folder.mkdir(parents=True, exist_ok=True)
        numba.config.CACHE_DIR = str(folder)
        return numba.njit(cache=True, nogil=True, error_model="numpy")(function)  # type: ignore[no-any-return]
    except OSError:  # a read-only home: compile anew in each process
        return numba.njit(nogil=True, error_model="numpy")(function)  # type: ignore[no-any-return]
    finally:
        numba.config.CACHE_DIR = before
