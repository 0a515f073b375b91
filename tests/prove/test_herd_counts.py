"""The herd's number by how many cores were counted and when: farms with the truth hidden.

The acceptance: the median within 35 % in 8 of 10 farms with at least 15 cores. A core is a litre;
"late" cores are counted in the last tenth of the log (6 to 18 days), the others on any day of its
last seven tenths, as in :mod:`tests.prove.test_twin_experiments`. Every row is the same farms.
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from benchmarks.filing import file_section, table
from tests.twin_trials import Trial, covered, trial
from tests.twin_world import Cores

pytestmark = pytest.mark.prove
FARMS = int(os.environ.get("BEDLORE_PROVE_FARMS", "120")) // 3
DAYS = (60, 90, 120, 180)
LATE = 0.9
COUNTS = {
    "15 cores, any day": Cores(15), "15 cores, late": Cores(15, LATE),
    "30 cores, any day": Cores(30), "30 cores, late": Cores(30, LATE),
}  # fmt: skip


def test_the_herd_is_found_by_counting() -> None:
    rows, near = [], []
    for name, cores in COUNTS.items():
        trials = [trial(60_000 + i, days=DAYS[i % 4], per_fortnight=10, cores=cores)
                  for i in range(FARMS)]  # fmt: skip
        rows.append((name, *_figures(trials)))
        near += [abs(t.herd_ratio - 1.0) <= 0.35 for t in trials]
    heads = ("counted", "farms", "all worms within 35 %", "adults", "mass",
             "sd of the logarithm of median over truth", "90 % bands hold")  # fmt: skip
    file_section("The herd by cores counted", table(heads, rows))
    assert np.mean(near) >= 0.8


def _figures(trials: list[Trial]) -> list[str]:
    ratios = {name: np.array([getattr(t, f"{name}_ratio") for t in trials])
              for name in ("herd", "adults", "mass")}  # fmt: skip
    within = [str(int(np.sum(np.abs(r - 1.0) <= 0.35))) for r in ratios.values()]
    spread = float(np.std(np.log(np.maximum(ratios["herd"], 1e-3))))
    return [str(len(trials)), *within, f"{spread:.2f}",
            f"{covered([t.herd_rank for t in trials]):.2f}"]  # fmt: skip
