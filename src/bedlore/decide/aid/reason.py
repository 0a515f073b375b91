"""Odds of causes from findings: noisy-or over sets of at most two causes, summed exactly.

A bed has no cause, one, or two at once; each cause that is there shows a finding by itself with
P(finding | cause), beside the chance that it shows without any (noisy-or: Pearl 1988,
Probabilistic Reasoning in Intelligent Systems, 4.3, from memory). Checked against a library of
belief networks in tests/oracle.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from bedlore.facts.symptoms import CHANCE, USUAL, chance_of, links

Floats = NDArray[np.float64]
CAUSES = tuple(USUAL)
MOST_TOGETHER = 2


@dataclass(frozen=True)
class Judged:
    """Odds of every set of causes ``[S]``, given what was found so far.

    ``found`` maps findings to present (True) or absent (False).
    """

    weight: Floats
    found: Mapping[str, bool]

    def odds(self, cause: str) -> float:
        """Probability that ``cause`` is there, alone or with another."""
        return float(self.weight[_having(cause)].sum())

    @property
    def nothing(self) -> float:
        """Probability that none of the causes is there: what is seen is usual."""
        return float(self.weight[0])

    def ranked(self) -> list[tuple[str, float]]:
        """Causes with their odds, likeliest first."""
        found = [(cause, self.odds(cause)) for cause in CAUSES]
        return sorted(found, key=lambda one: -one[1])

    @property
    def entropy_bits(self) -> float:
        """Doubt left about the set of causes."""
        return _entropy(self.weight)

    def gain_bits(self, finding: str) -> float:
        """Expected drop of the doubt by asking for ``finding``."""
        yes = _shows(finding)
        p = float(self.weight @ yes)
        if not 0.0 < p < 1.0:
            return 0.0
        after = p * _entropy(self.weight * yes / p)
        after += (1.0 - p) * _entropy(self.weight * (1.0 - yes) / (1.0 - p))
        return self.entropy_bits - after

    def gain_about_bits(self, finding: str, cause: str) -> float:
        """Expected drop of the doubt whether ``cause`` is there, by asking for ``finding``."""
        yes, having = _shows(finding), _having(cause)
        p, q = float(self.weight @ yes), self.odds(cause)
        if not 0.0 < p < 1.0:
            return 0.0
        if_yes = float(self.weight[having] @ yes[having]) / p
        if_no = (q - if_yes * p) / (1.0 - p)
        return _doubt(q) - p * _doubt(if_yes) - (1.0 - p) * _doubt(if_no)

    def open_findings(self) -> list[str]:
        """What could still be asked: symptoms and checks without an answer."""
        asked = (*CHANCE["symptom"], *CHANCE["check"])
        return [finding for finding in asked if finding not in self.found]


def judge(prior: Mapping[str, float], found: Mapping[str, bool]) -> Judged:
    """Weigh all sets of causes. ``prior`` is P(cause) before anything was found; findings not in
    ``found`` are unknown. Raises KeyError for a finding that is not in the table."""
    p = np.array([prior[cause] for cause in CAUSES])
    sets = _sets()
    log_weight = np.log(np.where(sets, p, 1.0 - p)).sum(axis=1)
    for finding, present in found.items():
        yes = _shows(finding)
        log_weight = log_weight + np.log(yes if present else 1.0 - yes)
    weight = np.exp(log_weight - log_weight.max())
    return Judged(weight / weight.sum(), dict(found))


@cache
def _sets() -> NDArray[np.bool_]:
    """All sets of causes ``[S, causes]``, none first."""
    chosen: Iterable[tuple[int, ...]] = (
        one for size in range(MOST_TOGETHER + 1) for one in combinations(range(len(CAUSES)), size)
    )
    rows = [[place in one for place in range(len(CAUSES))] for one in chosen]
    return np.array(rows)


def _having(cause: str) -> NDArray[np.bool_]:
    return np.asarray(_sets()[:, CAUSES.index(cause)])


@cache
def _shows(finding: str) -> Floats:
    """P(finding | set of causes) ``[S]``."""
    table = links()
    spared = np.array([1.0 - table.get((finding, cause), 0.0) for cause in CAUSES])
    unseen = (1.0 - chance_of(finding)) * np.where(_sets(), spared, 1.0).prod(axis=1)
    return np.asarray(1.0 - unseen)


def _entropy(weight: Floats) -> float:
    real = weight[weight > 0.0]
    return float(-(real * np.log2(real)).sum())


def _doubt(p: float) -> float:
    if not 1e-12 < p < 1.0 - 1e-12:
        return 0.0
    return -p * math.log2(p) - (1.0 - p) * math.log2(1.0 - p)
