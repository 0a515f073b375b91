"""Twin experiments at three densities of reading, with the truth hidden.

The acceptance: the farm-bootstrap 95 % interval of the 90 % coverage contains 0.90, or its
centre lies in 0.85 to 0.95. Figures and what misses are in docs/learning.md.
"""

from __future__ import annotations

import os

import pytest

from tests.twin_trials import summary, trial

FARMS = int(os.environ.get("BEDLORE_PROVE_FARMS", "120"))
DAYS = (60, 90, 120, 180)


@pytest.mark.prove
@pytest.mark.parametrize("per_fortnight", [5, 10, 20])
def test_bands_hold(per_fortnight: int) -> None:
    trials = [
        trial(1000 + i, days=DAYS[i % 4], per_fortnight=per_fortnight, cores=(0, 15)[i % 2])
        for i in range(FARMS)
    ]
    told = summary(trials)
    print(told)
    for what in ("parameters", "temp_1d", "temp_3d", "temp_7d", "temp_14d"):
        low, high = told[f"{what}_interval"]
        assert low <= 0.90 <= high or 0.85 <= 0.5 * (low + high) <= 0.95, what
    counted = [t for i, t in enumerate(trials) if i % 2]
    near = sum(abs(t.herd_ratio - 1.0) <= 0.35 for t in counted)
    assert near >= 0.8 * len(counted)
    assert told["skill_over_persistence"] >= 0.30
    assert told["skill_over_shed_lag"] >= 0.10
    assert told["complaining"] <= 0.1 * FARMS
