"""``bedlore shelter`` on a farm in a cold January: JSON and text."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from bedlore.cli.main import cli
from bedlore.service.fields import FIELDS
from tests.small_farm import farm_text, write_farm
from tests.unit.cli.json_keys import keys_of


def test_shelter_is_told_and_registered(tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    from bedlore.service import beds_now
    from bedlore.service.morning import farm_members

    monkeypatch.setattr(beds_now, "farm_members", lambda: farm_members(8))
    write_farm(tmp_path, farm_text("2025-12-10", race="0.5 kg", bank="0.3 kg"), [])
    words = ["shelter", str(tmp_path), "--at", "2026-01-10 08:00"]
    done = CliRunner().invoke(cli, [*words, "--json"])
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    assert set(keys_of(account)) - set(FIELDS) == set()
    (bed,) = account["beds"]
    assert bed["threat"] == "cold"
    assert bed["ways"][0]["words"]
    text = CliRunner().invoke(cli, words)
    assert text.exit_code == 0, text.output
    assert "1. " in text.output
    assert CliRunner().invoke(cli, [*words, "--bed", "moon"]).exit_code == 1
