"""Implicit heat conduction down one column of cells, with freezing.

Backward Euler on enthalpy. Without ice the problem is linear and one tridiagonal solve is
exact; near 0 degC Newton steps follow the kinked enthalpy curve, each step stopping at a kink.
Whatever that iteration leaves over, temperatures are set from its fluxes, so heat is conserved
to rounding.
"""

from __future__ import annotations

from bedlore.bed.jit import model
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    WATER_HEAT_J_KGK,
    temp_of_heat,
    water_heat,
    water_heat_slope,
)

# Rows of the scratch array ``column`` [ROWS, cells of the column].
TEMP, DRY, WATER, LINK_DOWN, SIDE, SOURCE, OLD_HEAT, SLOPE, RHS, UPPER, GUESS = range(11)
ROWS = 11
_MOST_ITERATIONS = 40


@model
def solve_column(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k):  # type: ignore[no-untyped-def]
    """Advance ``column[TEMP, :n]`` by ``dt_s`` seconds.

    Rows read: TEMP [degC], DRY and WATER [kg], LINK_DOWN[i] [W/K] from cell i to i+1, SIDE
    [W/K] to ``side_c``, SOURCE [W]. ``top_w_k`` and ``base_w_k`` join the first and last cell
    to ``top_c`` and ``base_c``. Returns the heat [J] gained through top, base and sides; GUESS
    holds the temperatures that the fluxes belong to.
    """
    if _solve_thawed(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c):
        return _gain(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c)
    for i in range(n):
        temp = column[TEMP, i]
        column[OLD_HEAT, i] = column[DRY, i] * DRY_HEAT_J_KGK * temp + column[WATER, i] * (
            water_heat(temp, freezing_range_k)
        )
        column[GUESS, i] = temp
    for _ in range(_MOST_ITERATIONS):
        _newton_step(
            column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k
        )
        if _accept(column, n, freezing_range_k):
            break
    _book_fluxes(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c, freezing_range_k)
    return _gain(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c)


@model
def _solve_thawed(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c):  # type: ignore[no-untyped-def]
    """Solve the linear problem without ice; true, and TEMP set, where none is met."""
    for i in range(n):
        if column[TEMP, i] < 0.0:
            return False
    per_s = 1.0 / dt_s
    # What lies above the first and below the last cell is as a cell of known temperature.
    above = top_w_k
    upper = 0.0
    answer = top_c
    column[LINK_DOWN, n - 1] = base_w_k
    for i in range(n):
        below = column[LINK_DOWN, i]
        holds_w_k = per_s * (column[DRY, i] * DRY_HEAT_J_KGK + column[WATER, i] * WATER_HEAT_J_KGK)
        pivot = holds_w_k + above + below + column[SIDE, i] - above * upper
        rhs = holds_w_k * column[TEMP, i] + column[SOURCE, i] + column[SIDE, i] * side_c
        rhs += above * answer
        per_pivot = 1.0 / pivot
        upper = below * per_pivot
        answer = rhs * per_pivot
        column[UPPER, i] = upper
        column[RHS, i] = answer
        above = below
    answer = base_c
    coldest = 0.0
    for i in range(n - 1, -1, -1):
        answer = column[RHS, i] + column[UPPER, i] * answer
        column[GUESS, i] = answer
        coldest = min(coldest, answer)
    if coldest < 0.0:
        return False
    for i in range(n):
        column[TEMP, i] = column[GUESS, i]
    return True


@model
def _gain(column, n, dt_s, top_w_k, top_c, base_w_k, base_c, side_c):  # type: ignore[no-untyped-def]
    """Heat [J] gained from outside at the temperatures of GUESS."""
    gained_w = top_w_k * (top_c - column[GUESS, 0]) + base_w_k * (base_c - column[GUESS, n - 1])
    for i in range(n):
        gained_w += column[SIDE, i] * (side_c - column[GUESS, i])
    return gained_w * dt_s


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
    """Set TEMP from the fluxes that GUESS implies."""
    for i in range(n):
        guess = column[GUESS, i]
        flow = column[SIDE, i] * (side_c - guess) + column[SOURCE, i]
        if i == 0:
            flow += top_w_k * (top_c - guess)
        if i == n - 1:
            flow += base_w_k * (base_c - guess)
        if i > 0:
            flow += column[LINK_DOWN, i - 1] * (column[GUESS, i - 1] - guess)
        if i < n - 1:
            flow += column[LINK_DOWN, i] * (column[GUESS, i + 1] - guess)
        column[TEMP, i] = temp_of_heat(
            column[OLD_HEAT, i] + flow * dt_s,
            column[DRY, i],
            column[WATER, i],
            freezing_range_k,
        )
