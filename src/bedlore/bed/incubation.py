"""Incubation of cocoons as a chain of equal steps driven by thermal time.

Development adds up (T - base) above the base and never divides by it, so that a cold day simply
adds nothing. With s steps the thermal time to hatching is gamma distributed with shape s: the
chain is advanced each hour by a Poisson number of steps, which keeps that law. In an hour at
28 degC their mean is 0.03; more than four have a chance below 1e-9 and are left out.
"""

from __future__ import annotations

from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Floats, Parameters


@model
def incubation_warmth(p: Parameters, temp_c: float) -> float:
    """Return thermal time gained in a day at ``temp_c``, K d; zero below the base."""
    return max(min(temp_c, p["worm_incubation_top_c"]) - p["worm_incubation_base_c"], 0.0)


@model
def advance_cocoons(
    chains: Floats, zone: int, steps: float, keep: float
) -> tuple[float, float, float]:
    """Advance one chain in place by a Poisson number of steps of mean ``steps``.

    Row ``zone`` of ``chains`` [Z, COCOON_STEPS] holds cocoons by the steps they have done; the
    share ``keep`` of them lives. Returns how many there were, how many finish alive and how many
    are still in the chain; the live ones are conserved: keep x were = finished + still there.
    """
    c0 = keep * (1.0 - steps * (1.0 - steps * (0.5 - steps * (1.0 / 6.0 - steps * (1.0 / 24.0)))))
    c1 = c0 * steps
    c2 = c1 * steps * 0.5
    c3 = c2 * steps * (1.0 / 3.0)
    c4 = c3 * steps * 0.25
    c0 = keep - c1 - c2 - c3 - c4
    row = chains[zone]
    last = COCOON_STEPS - 1
    due = (c1 + c2 + c3 + c4) * row[last] + (c2 + c3 + c4) * row[last - 1]
    due += (c3 + c4) * row[last - 2] + c4 * row[last - 3]
    there = 0.0
    for k in range(COCOON_STEPS):
        there += row[k]
    # From the far end, so that those behind still stand where they were before the hour.
    for k in range(last, 3, -1):
        near = c0 * row[k] + c1 * row[k - 1] + c2 * row[k - 2]
        row[k] = near + c3 * row[k - 3] + c4 * row[k - 4]
    row[3] = c0 * row[3] + c1 * row[2] + c2 * row[1] + c3 * row[0]
    row[2] = c0 * row[2] + c1 * row[1] + c2 * row[0]
    row[1] = c0 * row[1] + c1 * row[0]
    row[0] = c0 * row[0]
    return there, due, max(keep * there - due, 0.0)
