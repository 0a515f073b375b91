"""Simulation-based calibration: where the truth ranks among what is learnt of it.

Talts et al. 2018 (arXiv 1804.06788, from memory): if truths are drawn from the prior and readings
from the model, the truth's rank in the posterior is uniform. 300 small beds (24 cells, 45 days,
ten entries a fortnight), the corrected posterior; uniform after Holm's correction over all
learnt parameters. Where a log tells little of a parameter its ranks repeat those of the truths
among the prior, chance and all: these are filed beside them.
"""

from __future__ import annotations

import os

import numpy as np
import pytest
from scipy.stats import kstest

from bedlore.learn.unknowns import learnt_parameters
from benchmarks.filing import file_section, table
from tests.twin_trials import trial

pytestmark = pytest.mark.prove
DRAWS = int(os.environ.get("BEDLORE_PROVE_DRAWS", "300"))


def holm(p_values: np.ndarray) -> np.ndarray:
    """P values after Holm's step-down correction (Holm 1979).

    By hand: 0.01, 0.04, 0.03 become 0.03, 0.06, 0.06.
    """
    order = np.argsort(p_values)
    steps = p_values[order] * np.arange(len(p_values), 0, -1)
    corrected = np.minimum(np.maximum.accumulate(steps), 1.0)
    out = np.empty_like(corrected)
    out[order] = corrected
    return out


def test_ranks_are_uniform() -> None:
    np.testing.assert_allclose(holm(np.array([0.01, 0.04, 0.03])), (0.03, 0.06, 0.06))
    trials = [trial(20_000 + i, days=45, per_fortnight=10) for i in range(DRAWS)]
    names = learnt_parameters()
    ranks = np.array([[t.parameter_ranks[name] for name in names] for t in trials])
    p = holm(np.array([kstest(column, "uniform").pvalue for column in ranks.T]))
    before = np.array([[t.prior_ranks[name] for name in names] for t in trials])
    inside = ((ranks > 0.05) & (ranks < 0.95)).mean(axis=0)
    file_section("Ranks of the truth among what is learnt", f"{DRAWS} draws.\n\n" + table(
        ("parameter", "p after Holm", "in the 90 % band", "mean rank", "among the prior"),
        [(name, f"{p[i]:.2g}", f"{inside[i]:.2f}", f"{ranks[:, i].mean():.2f}",
          f"{before[:, i].mean():.2f}")
         for i, name in enumerate(names)],
    ))  # fmt: skip
    assert p.min() > 0.05, [name for i, name in enumerate(names) if p[i] <= 0.05]
