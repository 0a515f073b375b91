"""What a morning is counted to cost."""

from __future__ import annotations

import inspect
from pathlib import Path

import numpy as np
import pytest

from bedlore.decide import advise, card, harm, hold, lifeboat
from bedlore.outlook import ahead, twin
from bedlore.service import early, morning, views
from benchmarks import bench_today
from benchmarks.bench_today import PURPOSES, Cost, cost_of, counted, first_ever
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


def test_the_first_morning_ever_finds_no_compiled_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    caches: list[Path] = []

    def asked(*words: str, cache: str = "") -> Cost:
        caches.append(Path(cache))
        assert words == ("today", "farm")
        assert caches[-1].is_dir()
        assert not list(caches[-1].iterdir())
        return Cost(1.0, 1.0, 1.0)

    monkeypatch.setattr(bench_today, "cost_of", asked)
    first_ever(Path("farm"))
    first_ever(Path("farm"))
    assert caches[0] != caches[1]
    assert not any(cache.exists() for cache in caches)


def test_a_command_uses_the_cache_it_is_given(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A script in Python's place writes down what folder it is told."""
    script, told = tmp_path / "python", tmp_path / "told"
    script.write_text(f'#!/bin/sh\nprintf %s "$BEDLORE_CACHE" > {told}\n', "utf-8")
    script.chmod(0o755)
    monkeypatch.setattr("sys.executable", str(script))
    monkeypatch.setenv("BEDLORE_CACHE", "in use")
    for cache, wanted in (("", "in use"), ("another", "another")):
        cost_of("today", cache=cache)
        assert told.read_text("utf-8") == wanted
