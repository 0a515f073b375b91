"""Arithmetic on the four carbon pools of a cell, as tuples, which need no memory of their own."""

from __future__ import annotations

from bedlore.bed.jit import model


@model
def pools_of(array, z, c):  # type: ignore[no-untyped-def]
    """The four pools of cell ``c`` of zone ``z`` of ``array`` [Z, C, POOLS]."""
    return array[z, c, 0], array[z, c, 1], array[z, c, 2], array[z, c, 3]


@model
def put_pools(array, z, c, values):  # type: ignore[no-untyped-def]
    """Write the four pools of a cell."""
    array[z, c, 0] = values[0]
    array[z, c, 1] = values[1]
    array[z, c, 2] = values[2]
    array[z, c, 3] = values[3]


@model
def product(a, b):  # type: ignore[no-untyped-def]
    """``a`` times ``b``, pool by pool."""
    return a[0] * b[0], a[1] * b[1], a[2] * b[2], a[3] * b[3]


@model
def times(a, factor):  # type: ignore[no-untyped-def]
    """``a`` times a number."""
    return a[0] * factor, a[1] * factor, a[2] * factor, a[3] * factor


@model
def minus(a, b):  # type: ignore[no-untyped-def]
    """``a`` less ``b``, pool by pool."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3]


@model
def dot(a, b):  # type: ignore[no-untyped-def]
    """Sum of the products, pool by pool."""
    return (a[0] * b[0] + a[1] * b[1]) + (a[2] * b[2] + a[3] * b[3])
