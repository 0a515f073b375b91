"""``bedlore what-if``: both futures in two columns, or as JSON with known names."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bedlore.cli.main import cli
from bedlore.farm.load import dump_farm, load_farm
from bedlore.service.fields import FIELDS
from tests.morning_fake import FARM_FILE
from tests.unit.cli.json_keys import keys_of


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented farm with beds that are three weeks old, so that little is replayed."""
    folder = tmp_path_factory.mktemp("farm")
    demo = load_farm(FARM_FILE)
    beds = [bed.model_copy(update={"started": dt.date(2026, 1, 5)}) for bed in demo.beds]
    text = dump_farm(demo.model_copy(update={"beds": tuple(beds)}))
    (folder / "farm.toml").write_text(text, "utf-8")
    return folder


def run(farm: Path, *words: str) -> Result:
    return CliRunner().invoke(cli, ["what-if", str(farm), "--at", "2026-01-25 07:00", *words])


def test_both_futures_stand_in_two_columns(farm: Path) -> None:
    told = run(farm, "--bed", "Sluice", "--foam-walls", "2 in", "--foam-lid", "5 cm")
    assert told.exit_code == 0
    assert "5.1 cm of foam round walls and floor" in " ".join(told.stdout.split())
    assert "as it is" in told.stdout
    assert "same 60 futures" in told.stdout
    assert "no animal gnaws it" in " ".join(told.stdout.split())


def test_json_has_known_names_and_both_futures(farm: Path) -> None:
    told = run(farm, "--bed", "1", "--feed", "half a blue bucket", "--json")
    account = json.loads(told.stdout)
    assert set(keys_of(account)) - set(FIELDS) == set()
    assert account["change"]["feed_kg"] == pytest.approx(2.25)
    assert len(account["as_is"]["times"]) == 14 * 24 / account["every_h"]
    assert account["with_it"]["food_left_kg"][1] > account["as_is"]["food_left_kg"][1]


@pytest.mark.parametrize(("words", "sentence"), [
    (("--foam-lid", "5 cm"), "Say which bed"),
    (("--bed", "attic", "--foam-lid", "5 cm"), "There is no bed"),
    (("--bed", "weir", "--mat", "on"), "This bed has no heat mat"),
    (("--bed", "weir",), "Change something"),
    (("--bed", "weir", "--feed", "lorry load"), "is not a container"),
])  # fmt: skip
def test_what_cannot_be_used_is_a_sentence(farm: Path, words: tuple[str, ...],
                                           sentence: str) -> None:  # fmt: skip
    told = run(farm, *words)
    assert told.exit_code != 0
    assert sentence in told.output + str(told.stderr)
    assert "Traceback" not in told.output
