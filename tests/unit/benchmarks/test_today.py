"""What a morning is counted to cost."""

from __future__ import annotations

import inspect

import numpy as np
import pytest

from bedlore.decide import advise, card, harm, hold, lifeboat
from bedlore.outlook import ahead, twin
from bedlore.service import early, morning, views
from benchmarks.bench_today import PURPOSES, cost_of, counted
from tests.unit.decide.conftest import bed_of, case_of


def test_hours_are_counted_once_for_whom_they_are_run() -> None:
    case = case_of(bed_of())
    with counted() as hours:
        case.run([], np.arange(3), hours=48)
        card.find_card(case_of(bed_of(), store=()))  # nothing to feed: nothing is run
        harm.harms_of(case)
    assert hours == {"other": 3 * 48, PURPOSES["harms_of"]: case.twin.members * harm.WINDOW_H}
    with counted() as after:
        pass
    case.run([], np.arange(3), hours=48)
    assert not after


def test_every_purpose_is_asked_by_a_function_there_is() -> None:
    modules = (advise, ahead, card, early, harm, hold, lifeboat, morning, twin, views)
    there = {name for module in modules for name, _ in inspect.getmembers(module, callable)}
    assert set(PURPOSES) <= there


def test_a_command_that_fails_has_no_cost() -> None:
    with pytest.raises(RuntimeError):
        cost_of("today", "/nowhere")
