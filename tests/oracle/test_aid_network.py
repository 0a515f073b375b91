"""Odds of causes against pyAgrum, a library of belief networks with its own noisy-or."""

from __future__ import annotations

from itertools import combinations

import pytest

from bedlore.decide.aid import reason
from bedlore.facts.symptoms import USUAL, chance_of, links

gum = pytest.importorskip("pyagrum", reason="pyagrum is not installed")
FOUND = {"rotten": True, "runs": True, "uneaten": False, "base": False, "springtails": True}


def test_noisy_or_agrees_with_a_belief_network() -> None:
    """Sets of at most two of six causes, the others held absent, against exact inference."""
    few = sorted({cause for finding, cause in links() if finding in FOUND})[:6]
    net = gum.BayesNet()
    for cause in reason.CAUSES:
        net.add(gum.LabelizedVariable(cause, cause, 2))
        net.cpt(cause)[:] = [1.0 - USUAL[cause], USUAL[cause]]
    for finding in FOUND:  # Diez's form: a share is that of the cause alone, without the chance
        net.addNoisyORNet(gum.LabelizedVariable(finding, finding, 2), chance_of(finding))
        for cause in reason.CAUSES:
            if (finding, cause) in links():
                net.addWeightedArc(cause, finding, links()[finding, cause])
    engine = gum.LazyPropagation(net)
    absent = {cause: 0 for cause in reason.CAUSES if cause not in few}
    engine.setEvidence({**{finding: int(there) for finding, there in FOUND.items()}, **absent})
    engine.addJointTarget(set(few))
    engine.makeInference()
    joint = engine.jointPosterior(set(few))
    judged = reason.judge(USUAL, FOUND)
    sets = [(), *combinations(reason.CAUSES, 1), *combinations(reason.CAUSES, 2)]
    ours = {one: w for one, w in zip(sets, judged.weight, strict=True) if set(one) <= set(few)}
    theirs = {one: float(joint[{c: int(c in one) for c in few}]) for one in ours}
    assert len(ours) == 22
    for one, weight in ours.items():
        assert weight / ours[()] == pytest.approx(theirs[one] / theirs[()], rel=1e-6), one
