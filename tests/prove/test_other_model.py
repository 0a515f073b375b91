"""Logs made by another model: the bands must still mostly hold, and the check must notice."""

from __future__ import annotations

import os

import pytest

from benchmarks.filing import file_section, table
from tests.other_world import make_other_world
from tests.twin_trials import LEADS_D, covered, judge, skills, trial
from tests.twin_world import Cores

pytestmark = pytest.mark.prove
FARMS = int(os.environ.get("BEDLORE_PROVE_FARMS", "120")) // 3


def test_bands_and_the_check_under_another_model() -> None:
    wrong = [judge(make_other_world(30_000 + i)) for i in range(FARMS)]
    right = [trial(30_000 + i, days=120, per_fortnight=20, cores=Cores(15)) for i in range(FARMS)]
    temps = {lead: [r for t in wrong for r in t.temp_ranks[lead]] for lead in LEADS_D}
    noticed, false = (sum(t.complaints > 0 for t in some) for some in (wrong, right))
    herd = covered([t.herd_rank for t in wrong])
    rows = [(f"90 % bands hold, {lead} days ahead", f"{covered(r):.2f}")
            for lead, r in temps.items()]  # fmt: skip
    rows += [("90 % bands of the herd hold", f"{herd:.2f}"),
             ("the check notices", f"{noticed} of {FARMS}"),
             ("false alarms on right models", f"{false} of {FARMS}")]  # fmt: skip
    rows += [(f"3-day {name.replace('_', ' ')}", f"{v:.2f}") for name, v in skills(wrong).items()]
    file_section("Logs made by another model", table(("figure", "value"), rows))
    assert covered([r for some in temps.values() for r in some]) >= 0.80
    assert noticed >= 0.8 * FARMS
    assert false <= 0.1 * FARMS
