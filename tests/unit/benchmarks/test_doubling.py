"""The study of doubled feed, small."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks import bench_doubling as study


def test_foam_makes_extra_feed_count(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study, "MEMBERS", 4)
    monkeypatch.setattr(study, "SETTLE_D", 20)
    gains = {}
    for kind in ("bare", "foamed"):
        once, twice = study.branches(kind, 4.0)
        food = [run.series("food_left_kg")[:, -1].sum(axis=1) for run in (once, twice)]
        if kind == "bare":  # foamed, the extra warmth may clear more than the extra feed
            assert np.all(food[1] >= food[0] - 0.5)
        mean = [run.series("temp_mean_c")[:, -1].mean() for run in (once, twice)]
        gains[kind] = mean[1] - mean[0]
    assert gains["foamed"] > gains["bare"] > -0.2


def test_a_page_keeps_what_is_outside_the_marks(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(f"head\n{study.MARKS[0]}old{study.MARKS[1]}\ntail\n")
    study.put_between_marks(page, "new")
    text = page.read_text()
    assert text.startswith("head")
    assert text.endswith("tail\n")
    assert "new" in text
    assert "old" not in text
