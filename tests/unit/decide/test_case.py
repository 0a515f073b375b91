"""What a case runs, and what it need not run twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bedlore.outlook.ahead import look_ahead
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
