"""Incubation of cocoons as a chain of equal steps driven by thermal time.

Development adds up (T - base) above the base and never divides by it, so that a cold day simply
adds nothing. With s steps the thermal time to hatching is gamma distributed with shape s: the
chain is advanced each hour by a Poisson number of steps, which keeps that law exactly.
"""

from __future__ import annotations

from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Floats, Parameters

# In one hour at 28 degC the mean is 0.03 steps; five or more have a chance below 1e-9.
MOST_STEPS = 4


@model
def incubation_rate(p: Parameters, temp_c: float) -> float:
    """Return the share of incubation done in a day at ``temp_c``, 1/d; zero below the base."""
    warm = min(temp_c, p["worm_incubation_top_c"]) - p["worm_incubation_base_c"]
    return max(warm, 0.0) / p["worm_incubation_kd"]


@model
def advance_cocoons(chain: Floats, steps: float) -> float:
    """Advance ``chain`` in place by a Poisson number of steps of mean ``steps``.

    ``chain`` [COCOON_STEPS] holds cocoons by the steps they have done. Returns the number that
    finish. Cocoons are conserved: what leaves the chain is what is returned.
    """
    if steps <= 0.0:
        return 0.0
    chance_1 = steps * (1.0 - steps * (1.0 - steps * (0.5 - steps * (1.0 / 6.0 - steps / 24.0))))
    chance_2 = 0.5 * steps * chance_1
    chance_3 = steps * chance_2 / 3.0
    chance_4 = steps * chance_3 / 4.0
    stay = 1.0 - chance_1 - chance_2 - chance_3 - chance_4
    before = 0.0
    after = 0.0
    a1 = a2 = a3 = a4 = 0.0  # cocoons one to four steps behind, before the hour
    for k in range(COCOON_STEPS):
        here = chain[k]
        chain[k] = stay * here + chance_1 * a1 + chance_2 * a2 + chance_3 * a3 + chance_4 * a4
        before += here
        after += chain[k]
        a4, a3, a2, a1 = a3, a2, a1, here
    return max(before - after, 0.0)
