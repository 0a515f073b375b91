"""The rival in NumPy solves the equations of the loop, else their ratio would say nothing.

It was written apart from the loop, so it is a check of the loop too: heat, water, air, decay, worms
and their movement, by the hour.
"""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.bed.cells import Cells, Floats
from bedlore.bed.layout import Herd
from bedlore.bed.loop import run_compiled
from benchmarks.numpy_model import VectorBed
from benchmarks.standard_bed import Case, outdoor_air, run_case, standard_case

MEMBERS = 5


def settled(worms: bool, mean_c: float) -> Case:
    """Zones fed unequally for five days, then left alone for a day without a change of cells."""
    fed = standard_case(MEMBERS, hours=130, worms=worms, mean_c=15.0)
    _, _, state = run_case(fed, run_compiled)
    return Case(fed.geometry, fed.params, state, outdoor_air(23, mean_c, 3), fed.acts[:0], 23)


def close(rival: Floats, loop: Floats) -> bool:
    """Whether both agree to a billionth of the largest."""
    return bool(np.abs(rival - loop).max() <= 1e-9 * np.abs(loop).max())


@pytest.mark.parametrize("mean_c", [10.0, 26.0])
@pytest.mark.parametrize("worms", [True, False])
def test_the_rival_agrees_with_the_loop(worms: bool, mean_c: float) -> None:
    case = settled(worms, mean_c)
    rival = VectorBed(case.geometry, case.params, case.state, case.air, worms=worms)
    rival.run(case.hours)
    end = run_case(case, run_compiled)[2]
    for name in Cells._fields:
        there = getattr(end.cells, name)
        here = getattr(rival, name).T.reshape(there.shape)
        assert close(here, there), name
        assert close(getattr(case.state.cells, name), there) == (name == "ash_kg" and not worms)


@pytest.mark.parametrize("mean_c", [10.0, 26.0])
def test_the_rival_rears_the_same_worms(mean_c: float) -> None:
    case = settled(True, mean_c)
    rival = VectorBed(case.geometry, case.params, case.state, case.air)
    rival.run(case.hours)
    end = run_case(case, run_compiled)[2]
    for name, here in rival.herd.arrays().items():
        there = getattr(end.herd, name)
        assert close(here.T.reshape(there.shape), there), name
    assert set(rival.herd.arrays()) == set(Herd._fields)
