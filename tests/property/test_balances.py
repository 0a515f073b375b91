"""Heat, water, carbon, nitrogen, ash, worms and cocoons close over a year of random beds."""

from __future__ import annotations

import numpy as np
import pytest

from tests.property.random_beds import Case, run_case

# 1001 nearly empties a zone beside a full one, which once made heat between them run away.
SEEDS = (*range(16), 1001)
CLOSED = 1e-9


def check(case: Case) -> None:
    """The properties of every run, whatever was done to the bed."""
    for name, off in case.imbalances().items():
        assert np.abs(off).max() <= CLOSED, (name, off)
    cells, herd = case.run.state.cells, case.run.state.herd
    for group in (cells, herd, case.run.state.zones):
        for name, array in group._asdict().items():
            assert np.isfinite(array).all(), name
            if name not in ("temp_c", "surface_c", "mat_set_c"):
                assert array.min() >= -1e-12, (name, array.min())
    assert np.isfinite(case.run.values).all()
    share = herd.where.sum(axis=2)
    alive = herd.adult_n + herd.juvenile_n + herd.hatchling_n > 1e-6
    assert np.abs(share[alive] - 1.0).max(initial=0.0) < 1e-6


@pytest.mark.parametrize("seed", SEEDS)
def test_a_year_of_a_random_bed_closes(seed: int) -> None:
    check(run_case(seed))


def test_the_cases_reach_what_they_should() -> None:
    """Among them are frozen and hot beds, liners, stacks, harvests, worms lost and swapped."""
    cases = [run_case(seed, members=1) for seed in SEEDS]
    kinds = {case.bed.kind for case in cases}
    assert kinds == {"sides", "stack", "wedge"}
    assert {case.bed.drainage.kind for case in cases} >= {"open", "liner"}
    temps = [case.run.series("temp_mean_c") for case in cases]
    assert min(t.min() for t in temps) < -5.0
    assert max(t.max() for t in temps) > 30.0
    for name in ("carbon_out_kg", "worms_out_n", "water_drained_kg", "nitrogen_leached_kg",
                 "cocoons_laid_n", "worms_died_n", "mat_energy_j"):  # fmt: skip
        assert sum(float(case.run.total(name).sum()) for case in cases) > 0.0, name


def test_the_check_can_fail() -> None:
    """A gram of ash too much is seen."""
    case = run_case(3, hours=240)
    case.run.state.cells.ash_kg[0, 0, 0] += 0.001
    assert np.abs(case.imbalances()["ash"]).max() > CLOSED
