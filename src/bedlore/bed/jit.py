"""Marks the plain functions of the model so that the compiled loop may inline them.

Without Numba the mark is the identity and the whole model runs as ordinary Python.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., object])

# Arithmetic may be joined and reordered, so that plain and compiled runs agree to rounding and not
# to the bit; numbers that are none, and signs of infinity, keep their meaning.
ARITHMETIC = frozenset({"contract", "reassoc", "arcp", "nsz"})
register_jitable: Callable[..., Any] | None = None
if not os.environ.get("BEDLORE_PLAIN"):
    try:
        from numba import extending
    except ImportError:  # the plain model needs no compiler
        pass
    else:
        register_jitable = extending.register_jitable


def model(function: F) -> F:
    """Mark ``function`` as part of the model: plain Python that Numba may compile."""
    if register_jitable is None:
        return function
    # A member may never hold a division by zero; numpy's rules keep the loop free of branches.
    return register_jitable(  # type: ignore[no-any-return]
        error_model="numpy", forceinline=True, fastmath=set(ARITHMETIC)
    )(function)
