"""Implicit heat conduction down one column of cells, with freezing.

Backward Euler on enthalpy. Without ice the problem is linear and one tridiagonal solve is
exact; near 0 degC Newton steps follow the kinked enthalpy curve, each step stopping at a kink.
Whatever the iteration leaves over, the last step books the fluxes, so heat is conserved to
rounding.
"""

from __future__ import annotations

from bedlore.bed.jit import model
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    temp_of_heat,
    water_heat,
    water_heat_slope,
)

# Rows of the scratch array ``column`` [ROWS, cells of the column].
TEMP, DRY, WATER, LINK_DOWN, SIDE, SOURCE, OLD_HEAT, SLOPE, RHS, UPPER, GUESS, FLUX = range(12)
ROWS = 12
_MOST_ITERATIONS = 40


@model
def solve_column(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Advance ``column[TEMP, :n]`` by ``dt_s`` seconds.

    Rows read: TEMP [degC], DRY and WATER [kg], LINK_DOWN[i] [W/K] from cell i to i+1, SIDE
    [W/K] to ``side_c``, SOURCE [W]. ``top_w_k`` and ``base_w_k`` join the first and last cell
    to ``top_c`` and ``base_c``. Returns the heat [J] gained through top, base and sides.
    """
    frost = False
    for i in range(n):
        temp = column[TEMP, i]
        column[OLD_HEAT, i] = column[DRY, i] * DRY_HEAT_J_KGK * temp + column[WATER, i] * (
            water_heat(temp, freezing_range_k)
        )
        column[GUESS, i] = temp
        frost = frost or temp < 0.0
    for iteration in range(_MOST_ITERATIONS):
        _newton_step(
            column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k
        )
        if iteration == 0 and not frost:
            for i in range(n):
                frost = frost or column[RHS, i] < 0.0
            if not frost:
                for i in range(n):
                    column[GUESS, i] = column[RHS, i]
                break
        if _accept(column, n, freezing_range_k):
            break
    gained = _book_fluxes(
        column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k
    )
    return gained


@model
def _newton_step(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Solve the linearised system around GUESS; the answer stands in RHS."""
    for i in range(n):
        guess = column[GUESS, i]
        dry = column[DRY, i]
        water = column[WATER, i]
        slope = dry * DRY_HEAT_J_KGK + water * water_heat_slope(guess, freezing_range_k)
        heat = dry * DRY_HEAT_J_KGK * guess + water * water_heat(guess, freezing_range_k)
        above = column[LINK_DOWN, i - 1] if i > 0 else 0.0
        below = column[LINK_DOWN, i] if i < n - 1 else 0.0
        out = above + below + column[SIDE, i]
        rhs = (column[OLD_HEAT, i] - heat + slope * guess) / dt_s + column[SOURCE, i]
        rhs += column[SIDE, i] * side_c
        if i == 0:
            out += top_w_k
            rhs += top_w_k * top_c
        if i == n - 1:
            out += base_w_k
            rhs += base_w_k * base_c
        pivot = slope / dt_s + out
        if i > 0:
            pivot -= above * column[UPPER, i - 1]
            rhs += above * column[RHS, i - 1]
        column[UPPER, i] = below / pivot
        column[RHS, i] = rhs / pivot
    for i in range(n - 2, -1, -1):
        column[RHS, i] += column[UPPER, i] * column[RHS, i + 1]


@model
def _accept(column, n, freezing_range_k):  # type: ignore[no-untyped-def]
    """Move GUESS toward RHS, stopping at a kink; true when nothing moves any more."""
    settled = True
    for i in range(n):
        old = column[GUESS, i]
        new = column[RHS, i]
        if old >= 0.0 and new < 0.0:
            new = max(new, -1e-9)
        elif old < 0.0 and old >= -freezing_range_k:
            new = min(new, 0.0)
            if new < -freezing_range_k:
                new = -freezing_range_k - 1e-9
        elif old < -freezing_range_k and new > -freezing_range_k:
            new = -freezing_range_k + 1e-9
        if abs(new - old) > 1e-7 or abs(new - column[RHS, i]) > 1e-7:
            settled = False
        column[GUESS, i] = new
    return settled


@model
def _book_fluxes(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Set TEMP from the fluxes that GUESS implies; returns the heat gained from outside [J]."""
    gained = 0.0
    for i in range(n):
        guess = column[GUESS, i]
        outside = column[SIDE, i] * (side_c - guess)
        if i == 0:
            outside += top_w_k * (top_c - guess)
        if i == n - 1:
            outside += base_w_k * (base_c - guess)
        flow = outside + column[SOURCE, i]
        if i > 0:
            flow += column[LINK_DOWN, i - 1] * (column[GUESS, i - 1] - guess)
        if i < n - 1:
            flow += column[LINK_DOWN, i] * (column[GUESS, i + 1] - guess)
        gained += outside * dt_s
        column[FLUX, i] = flow * dt_s
    for i in range(n):
        column[TEMP, i] = temp_of_heat(
            column[OLD_HEAT, i] + column[FLUX, i],
            column[DRY, i],
            column[WATER, i],
            freezing_range_k,
        )
    return gained
