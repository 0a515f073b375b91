"""What a case runs, and what it need not run twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedlore.bed.plan import give_water
from bedlore.decide.case import joined
from bedlore.outlook.ahead import look_ahead
from bedlore.outlook.doubt import Doubt
from tests.unit.decide.conftest import bed_of, case_of


def test_the_outlook_stands_for_the_run_with_nothing_done() -> None:
    """Bit for bit, for all members and for some: only what is asked for again is not run again."""
    case = case_of(bed_of())
    known = replace(case, outlook=look_ahead(case.twin, case.air))
    some = case.members(7)
    for members in (None, some):
        run, taken = case.run([], members).run, known.run([], members).run
        assert run.every == taken.every == 24
        assert np.array_equal(run.values, taken.values)
        assert np.array_equal(run.tally, taken.tally)
        for name, array in run.state.arrays().items():
            assert np.array_equal(array, taken.state.arrays()[name]), name


def test_another_length_is_run() -> None:
    case = case_of(bed_of())
    known = replace(case, outlook=look_ahead(case.twin, case.air))
    assert known.run([], case.members(3), hours=48).run.values.shape[1] == 2


def test_two_halves_joined_are_the_whole() -> None:
    """Bit for bit, each member in its place, wander and all."""
    case = case_of(bed_of())
    case = replace(case, twin=replace(case.twin, doubt=Doubt(0.5)))
    every = np.arange(case.twin.members)
    some, water = case.members(9), [give_water(30, 0, 2.0, 8.0)]
    others = np.setdiff1d(every, some)
    whole = case.run(water).run
    halves = [(mine, case.run(water, mine)) for mine in (some, others)]
    run = joined(len(every), halves).run
    assert np.array_equal(run.values, whole.values)
    assert np.array_equal(run.tally, whole.tally)
    for name, array in run.state.arrays().items():
        assert np.array_equal(array, whole.state.arrays()[name]), name
    with pytest.raises(ValueError):
        joined(len(every), halves[:1])
