"""``bedlore plan`` on a small farm of a folder: JSON, text, what is kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedlore.cli.main import cli
from bedlore.service.fields import FIELDS
from bedlore.store.ahead_files import FolderAhead
from tests.small_farm import TWO_SIDES, feed, write_farm
from tests.unit.cli.json_keys import keys_of
from tests.unit.cli.test_dates import NOW


@pytest.fixture
def farm(tmp_path: Path, monkeypatch) -> Path:  # type: ignore[no-untyped-def]
    from bedlore.decide import plan_search
    from bedlore.decide.plan_search import Effort
    from bedlore.service import beds_now
    from bedlore.service.morning import farm_members

    monkeypatch.setattr(beds_now, "farm_members", lambda: farm_members(8))
    quick = Effort(few=3, some=4, together=4, kept_some=4, feeds=6, fresh=20)
    monkeypatch.setattr(plan_search, "Effort", lambda: quick)
    store = '[[store]]\nmaterial = "kitchen scraps"\nmass = "5 kg"\nper_week = "3 kg"\n'
    prefs = '[preferences]\nprice_per_kwh = 0.3\ncurrency = "EUR"\n'
    meal = feed("f1", "2025-05-12T09:00:00Z", 0.8, zone="race")
    return write_farm(tmp_path, TWO_SIDES + store + prefs, [meal])


def test_a_plan_is_told_kept_and_registered(farm: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    done = CliRunner().invoke(cli, ["plan", str(farm), "--at", NOW, "--json"])
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    assert set(keys_of(account)) - set(FIELDS) == set()
    (bed,) = account["beds"]
    assert bed["told_from"] == 20
    assert bed["steps"]
    assert [r["reading"] for r in bed["readings_worth"]]
    kept = FolderAhead(farm).plan("sluice")
    assert kept is not None
    assert [a.words for a in kept.actions] == [s["words"] for s in bed["steps"]]

    from bedlore.service import plan

    monkeypatch.setattr(plan, "plan_of", None)  # working out again would fail
    text = CliRunner().invoke(cli, ["plan", str(farm), "--at", NOW])
    assert text.exit_code == 0, text.output
    assert bed["steps"][0]["words"] in " ".join(text.output.split())
