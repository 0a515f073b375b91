"""The reasons in full: what the advice rests on, what lost and by what."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedlore import wiring
from bedlore.cli.main import cli
from bedlore.service.fields import FIELDS
from tests.morning_fake import FARM_FILE, NOW, morning
from tests.unit.cli.json_keys import keys_of


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(FARM_FILE, tmp_path / "farm.toml")
    lines = [
        {"kind": "probe", "id": f"p{i}", "at": f"2026-01-0{3 + i}T08:00:00Z", "bed": "sluice",
         "temp_c": 6.0}
        for i in range(3)
    ]  # fmt: skip
    (tmp_path / "log.jsonl").write_text("".join(json.dumps(x) + "\n" for x in lines), "utf-8")
    told = morning()
    first = told.beds[0]
    worse = replace(first.advice.effect, odds=replace(first.advice.effect.odds, cold=0.5),
                    coldest_c=(0.0, first.advice.effect.coldest_c[1] - 2.0, 5.0), energy_kwh=3.0)
    advice = replace(first.advice, rivals=((first.advice.action, worse),))
    told = replace(told, beds=(replace(first, advice=advice), *told.beds[1:]))
    monkeypatch.setattr(wiring, "morning_in", lambda *_, **__: told)
    return tmp_path


def run(*words: str):
    return CliRunner().invoke(cli, list(words), catch_exceptions=False)


def test_why_says_what_lost_and_by_what(farm: Path) -> None:
    done = run("why", str(farm), "--bed", "sluice")
    assert done.exit_code == 0
    text = " ".join(done.output.split())
    assert "Not learnt yet" in text
    assert "thermometer: 3, the last on Mon 5 Jan" in text
    assert "in 50 in 100 instead of 4 in 100" in text
    assert "2 K colder at its coldest" in text
    assert "kWh more" in text
    assert "Would change it" in text


def test_why_in_json_is_registered(farm: Path) -> None:
    account = json.loads(run("why", str(farm), "--json").stdout)
    assert account["made_at"] == NOW.isoformat()
    assert set(keys_of(account)) <= set(FIELDS)
    (bed,) = (bed for bed in account["beds"] if bed["bed"] == "sluice")
    assert bed["data"][0]["count"] == 3
    assert bed["rivals"][-1]["action"]["kind"] == "nothing"
