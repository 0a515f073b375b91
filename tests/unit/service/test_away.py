"""The neighbour's sheet in words."""

from __future__ import annotations

from bedlore.decide.away import away
from bedlore.service.away import _watch
from tests.unit.decide.conftest import bed_of, case_of, feed


def test_odds_of_the_cold_limit_are_not_called_odds_of_frost() -> None:
    bed = bed_of()
    case = case_of(bed, ahead_c=12.0, late_c=[12.0] * 10 + [-6.0] * 81,
                   feeds=[feed(day, bed, 1.5) for day in (5, 12, 20)])  # fmt: skip
    plan = away(case, 1, 25)
    line = next(_watch(plan, bed, case.limits, case.now.date()))
    assert line.startswith("Where the worms live it may go below 4 degC from about")
    assert "10 cm thick" in line
