"""Weather on the command line."""

from __future__ import annotations

import functools
import json
import shutil
from pathlib import Path

import pytest

from bedlore.fetch import client
from tests.morning_fake import FARM_FILE
from tests.unit.cli.test_commands import all_registered, run
from tests.weather_files import greensboro_tmy3


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    shutil.copy(FARM_FILE, tmp_path / "farm.toml")
    return tmp_path


def test_read_a_station_year() -> None:
    """Greensboro, TMY3: mean 14.4, -16.7..35.6 degC (the pvlib wheel's file)."""
    told = json.loads(run("weather", "read", str(greensboro_tmy3()), "--json").stdout)
    all_registered(told)
    assert told["hours"] == 8760
    assert told["temp_low_c"] == pytest.approx(-16.7)
    assert told["temp_high_c"] == pytest.approx(35.6)
    assert told["temp_mean_c"] == pytest.approx(14.4, abs=0.1)
    assert len(told["normals"]["daily_low_c"]) == 12
    shown = run("weather", "read", str(greensboro_tmy3())).stdout
    assert "[site.normals]" in shown
    assert "° west" in shown


def test_read_a_table_needs_its_place(farm: Path) -> None:
    table = farm / "w.csv"
    table.write_text("date,low_degF,high_degF\n2026-01-01,14,41\n2026-01-02,14,41\n", "utf-8")
    result = run("weather", "read", str(table))
    assert result.exit_code == 1
    assert "--farm DIR" in result.stderr
    told = json.loads(run("weather", "read", str(table), "--farm", str(farm), "--json").stdout)
    all_registered(told)
    assert told["normals"] is None
    assert told["temp_low_c"] == pytest.approx(-10, abs=0.6)  # 14 degF


def test_read_what_is_no_weather(tmp_path: Path) -> None:
    odd = tmp_path / "odd.bin"
    odd.write_bytes(b"\0\1\2")
    result = run("weather", "read", str(odd))
    assert result.exit_code == 1
    assert "empty or no text" in result.stderr


def test_typed_days_are_kept_and_steer_the_days_ahead(farm: Path) -> None:
    typed = run("weather", "days", str(farm), "2026-01-12: 14 degF to 2 degC", "--json")
    told = json.loads(typed.stdout)
    all_registered(told)
    assert told["days"] == [{"day": "2026-01-12", "low_c": -10.0, "high_c": 2.0}]
    lines = "2026-01-12: -4 to 3\n2026-01-13: ? to 1\n"
    again = run("weather", "days", str(farm), "-", stdin=lines)
    assert again.exit_code == 0
    assert "2 in all" in again.stdout
    ahead = run("weather", "ahead", str(farm), "--at", "2026-01-11 07:00", "--days", "3", "--json")
    days = json.loads(ahead.stdout)
    all_registered(days)
    monday = next(day for day in days["days"] if day["day"] == "2026-01-12")
    assert monday["low_c"][1] == pytest.approx(-4, abs=1.0)
    assert "Mon 12 Jan" in run("weather", "ahead", str(farm), "--at", "2026-01-11").stdout


def test_days_that_cannot_be_are_told_together_and_change_nothing(farm: Path) -> None:
    result = run("weather", "days", str(farm), "2026-01-12: 5 to 2", "soon: 1 to 2")
    assert result.exit_code == 1
    assert "2 things to mend" in result.stderr
    assert not (farm / "days-ahead.txt").exists()


def test_fetch_asks_who_you_are(farm: Path) -> None:
    result = run("weather", "fetch", str(farm))
    assert result.exit_code == 1
    assert "who asks" in result.stderr


def test_fetch_without_network_says_what_serves_instead(
    farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasty = functools.partial(client.HttpSettings, backoff_s=0.0)
    monkeypatch.setattr(client, "HttpSettings", hasty)
    result = run("weather", "fetch", str(farm), "--contact", "me@example.org", "--url",
                 "http://127.0.0.1:9", "--json")
    assert result.exit_code == 1
    told = json.loads(result.stdout)
    all_registered(told)
    assert told["file"] is None
    assert "normals" in told["sentence"]
