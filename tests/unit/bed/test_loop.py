"""The compiled loop is the plain functions: same numbers, any threads, never a stale cache."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import bedlore
from bedlore.bed import acts
from bedlore.bed.engine import simulate
from bedlore.bed.loop import run_compiled, run_members
from bedlore.bed.outputs import OUTPUT_NAMES
from benchmarks.standard_bed import Case, run_case, standard_case

PACKAGE = Path(bedlore.__file__).parent


def frosty_case(members: int, zones: int = 3, cells: int = 5, hours: int = 120) -> Case:
    """A bed fed, stocked and driven through 0 degC, so that every branch is taken."""
    return standard_case(members, zones, cells, hours, mean_c=-4.0)


@pytest.mark.parametrize("mean_c", [-4.0, 14.0, 30.0])
def test_compiled_equals_plain(mean_c: float) -> None:
    case = standard_case(2, 3, 5, 96, mean_c=mean_c)
    plain = run_case(case, run_members)
    compiled = run_case(case, run_compiled)
    # The compiler may round a sum of products once where Python rounds twice.
    np.testing.assert_allclose(compiled[0], plain[0], rtol=1e-9, atol=1e-12)
    most = np.abs(plain[1]).max(axis=(0, 1))
    assert np.all(np.abs(compiled[1] - plain[1]) <= 1e-9 * most + 1e-12)
    for name, array in plain[2].arrays().items():
        np.testing.assert_allclose(
            compiled[2].arrays()[name], array, rtol=1e-8, atol=1e-12, err_msg=name
        )


def test_the_run_does_something() -> None:
    values, _, _ = run_case(frosty_case(2), run_members)
    temps = values[:, :, :, OUTPUT_NAMES.index("temp_mean_c")]
    assert temps[:, 0].min() > 5.0
    assert temps[:, -1].max() < 5.0
    food = values[0, :, :, OUTPUT_NAMES.index("food_left_kg")]
    assert np.ptp(food) > 0.3


@pytest.mark.parametrize("threads", [2, 3])
def test_threads_change_not_a_bit(threads: int) -> None:
    case = frosty_case(41)
    runs = [
        simulate(case.geometry, case.params, case.state, case.air, case.acts, threads=n)
        for n in (1, threads)
    ]
    assert np.array_equal(runs[0].values, runs[1].values)
    assert np.array_equal(runs[0].tally, runs[1].tally)
    for name, array in runs[0].state.arrays().items():
        assert np.array_equal(array, runs[1].state.arrays()[name]), name


def test_an_empty_zone_remembers_no_other_member() -> None:
    case = standard_case(33, 4, 5, 240, mean_c=14.0)
    filled = case.acts[case.acts[:, acts.ZONE] != 1.0]
    half_empty = replace(case, acts=filled)
    together = run_case(half_empty, run_compiled)[0]
    for m in (0, 32):
        alone = replace(half_empty, params=case.params[m : m + 1],
                        state=case.state.pick(np.array([m])))  # fmt: skip
        assert np.array_equal(run_case(alone, run_compiled)[0][0], together[m])


def test_a_member_does_not_feel_its_neighbours() -> None:
    case = frosty_case(5)
    whole = run_case(case, run_compiled)[0]
    alone = Case(case.geometry, case.params[3:4], case.state.pick(np.array([3])), case.air,
                 case.acts, case.hours)  # fmt: skip
    assert np.array_equal(run_case(alone, run_compiled)[0][0], whole[3])


def test_windows_hold_the_extremes_of_their_hours() -> None:
    case = frosty_case(2, hours=96)
    hourly = run_case(case, run_compiled)[0]
    daily = run_case(case, run_compiled, every=24)[0]
    by_day = hourly.reshape(2, 4, 24, *hourly.shape[2:])
    low, high = OUTPUT_NAMES.index("temp_coldest_c"), OUTPUT_NAMES.index("temp_warmest_c")
    assert np.array_equal(daily[..., low], by_day[..., low].min(axis=2))
    assert np.array_equal(daily[..., high], by_day[..., high].max(axis=2))
    rest = [i for i in range(len(OUTPUT_NAMES)) if i not in (low, high)]
    assert np.array_equal(daily[..., rest], by_day[:, :, -1][..., rest])


def copied_package(folder: Path, old: str = "", new: str = "") -> Path:
    """A copy of the package under ``folder``, with ``old`` in the decay module made ``new``."""
    shutil.copytree(PACKAGE, folder / "bedlore", ignore=shutil.ignore_patterns("__pycache__"))
    decay = folder / "bedlore" / "bed" / "decay.py"
    text = decay.read_text("utf-8")
    assert old in text
    decay.write_text(text.replace(old, new) if old else text, "utf-8")
    return folder


def say(folder: Path, statement: str, **env: str) -> str:
    """What a fresh process prints that runs the package in ``folder``."""
    environment = {**os.environ, "PYTHONPATH": str(folder), **env}
    done = subprocess.run(
        [sys.executable, "-c", statement], env=environment, capture_output=True, text=True,
        check=True, cwd=folder,
    )  # fmt: skip
    return done.stdout.strip()


def test_an_edit_in_a_process_names_another_cache_folder(tmp_path: Path) -> None:
    ask = "from bedlore.bed.loop import cache_folder; print(cache_folder())"
    folders = [
        copied_package(tmp_path / "a"),
        copied_package(tmp_path / "b"),
        copied_package(tmp_path / "c", "7.0622", "7.0623"),
    ]
    # Without the compiler's start the question takes a moment; the name holds its version too.
    same, again, edited = (
        say(folder, ask, BEDLORE_CACHE=str(tmp_path), BEDLORE_PLAIN="1") for folder in folders
    )
    assert Path(same).is_relative_to(tmp_path)
    assert same == again
    assert same != edited
