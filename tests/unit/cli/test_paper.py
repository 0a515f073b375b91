"""``bedlore sheet`` and ``bedlore label``: files where they belong, sentences otherwise."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.unit.cli.test_commands import all_registered, farm, run

__all__ = ["farm"]
PAGES = "https://mill.local:8021/farms/mill/today/"


def test_a_sheet_is_written_for_a_bed_and_month(farm: Path) -> None:
    result = run("sheet", str(farm), "--bed", "Sluice", "--month", "2026-03", "--pages", PAGES,
                 "--json")  # fmt: skip
    told = json.loads(result.stdout)
    all_registered(told)
    assert told["sheet"] == str(farm / "sheet-sluice-2026-03-1.pdf")
    assert Path(told["sheet"]).read_bytes().startswith(b"%PDF")
    assert run("sheet", str(farm), "--bed", "2", "--pdf", "-").stdout_bytes.startswith(b"%PDF")


def test_labels_are_written_for_all_beds_or_one(farm: Path) -> None:
    assert run("label", str(farm)).stdout == f"It is at {farm / 'labels.pdf'}\n"
    one = run("label", str(farm), "--bed", "weir", "--pages", PAGES, "--pdf", "-").stdout_bytes
    assert one.startswith(b"%PDF")
    assert len(one) < len((farm / "labels.pdf").read_bytes()) * 3


@pytest.mark.parametrize(("words", "said"), [
    (("sheet", "--bed", "attic"), "There is no bed"),
    (("sheet", "--bed", "weir", "--month", "soon"), "not a month"),
    (("label", "--bed", "attic"), "There is no bed"),
    (("label", "--pages", "mill.local"), "no address of a farm's page"),
    (("label", "--pdf", "nowhere/x.pdf"), "no such folder"),
])  # fmt: skip
def test_what_cannot_be_is_a_sentence(words: tuple[str, ...], said: str, farm: Path) -> None:
    result = run(words[0], str(farm), *words[1:])
    assert result.exit_code == 1
    assert said in result.stderr
    assert not list(farm.glob("*.pdf"))
