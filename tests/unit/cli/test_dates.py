"""``bedlore dates`` on a small farm of a folder: text, JSON, what is kept, what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedlore.cli.main import cli
from bedlore.decide.date_words import brief
from bedlore.service.fields import FIELDS
from bedlore.store.ahead_files import AheadFiles, FolderAhead
from tests.small_farm import TWO_SIDES, feed, write_farm
from tests.unit.cli.json_keys import keys_of

NOW = "2025-05-20 12:00"


@pytest.fixture(scope="module")
def farm(tmp_path_factory) -> Path:
    meals = [feed(f"f{day}", f"2025-05-{day:02d}T09:00:00Z", 0.8, zone=zone)
             for day, zone in ((3, "race"), (14, "bank"), (18, "bank"))]  # fmt: skip
    switch = {"kind": "switch", "id": "s1", "at": "2025-05-10T09:00:00Z", "side": "bank"}
    return write_farm(tmp_path_factory.mktemp("mill"), TWO_SIDES, [*meals, switch])


@pytest.fixture(autouse=True)
def few_members(monkeypatch):  # type: ignore[no-untyped-def]
    from bedlore.service import beds_now, dates
    from bedlore.service.morning import farm_members

    monkeypatch.setattr(beds_now, "farm_members", lambda: farm_members(8))
    monkeypatch.setattr(beds_now, "HORIZON_D", 70)
    monkeypatch.setattr(dates, "HORIZON_D", 70)


def run(*words: str):  # type: ignore[no-untyped-def]
    return CliRunner().invoke(cli, ["dates", *words])


def test_dates_are_told_kept_and_registered(farm: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    done = run(str(farm), "--at", NOW, "--by", "2025-07-01", "--json")
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    assert set(keys_of(account)) - set(FIELDS) == set()
    (bed,) = account["beds"]
    assert {m["milestone"] for m in bed["milestones"]} >= {"emptied", "ready", "switch", "split"}
    assert {m["part"] for m in bed["milestones"]} == {"race", "bank", ""}
    assert bed["takings"][0]["day"] == "2025-07-01"

    kept = FolderAhead(farm).dates("sluice")
    assert kept is not None
    assert [m.words for m in kept.milestones] == [m["words"] for m in bed["milestones"]]
    assert all(line in [m.words for m in kept.milestones] for line in brief(kept))

    from bedlore.service import dates

    monkeypatch.setattr(dates, "rest_dates", None)  # working out again would fail
    text = run(str(farm), "--at", NOW, "--by", "2025-07-01")
    assert text.exit_code == 0, text.output
    assert "Sluice bed" in text.output
    assert "If you take Race on 1 Jul" in " ".join(text.output.split())
    assert run(str(farm), "--at", NOW).exit_code == 1  # other questions are other answers


def test_a_day_that_cannot_be_looked_at_is_refused(farm: Path) -> None:
    for day in ("2025-05-20", "2024-01-01", "2026-05-20"):
        done = run(str(farm), "--at", NOW, "--by", day)
        assert done.exit_code == 1
        assert "Name a day after today" in done.output


def test_a_bed_that_is_not_there_is_named(farm: Path) -> None:
    done = run(str(farm), "--at", NOW, "--bed", "moon")
    assert done.exit_code == 1
    assert "There are: sluice" in done.output


def test_spoilt_kept_dates_are_worked_out_again(farm: Path, tmp_path: Path) -> None:
    files = AheadFiles(tmp_path)
    assert files.dates("sluice") is None
    (tmp_path / "sluice.dates.json").write_bytes(b"\xff\xfe{")
    assert files.dates("sluice") is None
    assert run(str(farm), "--at", NOW, "--by", "2025-07-01").exit_code == 0
    kept = FolderAhead(farm).dates("sluice")
    assert kept is not None
    files.keep_dates("key", kept)
    assert files.dates("sluice", "key") == kept
    assert files.dates("sluice", "other") is None
