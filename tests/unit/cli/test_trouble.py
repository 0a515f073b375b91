"""``bedlore aid`` and ``bedlore away`` on a small farm of a folder."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedlore.cli.main import cli
from bedlore.decide.away import LONGEST_D
from bedlore.service.away import SOONEST_D
from bedlore.service.fields import FIELDS
from bedlore.service.morning import HORIZON_D
from tests.small_farm import TWO_SIDES, feed, write_farm
from tests.unit.cli.json_keys import keys_of
from tests.unit.cli.test_dates import NOW

STORE = """
[[store]]
material = "food_mixed_kitchen"
name = "scraps"
mass = "5 kg"
"""
FINDINGS = {"sour_smell", "heat", "climbing", "fed_starch"}


@pytest.fixture(scope="module")
def farm(tmp_path_factory) -> Path:
    return write_farm(tmp_path_factory.mktemp("mill"), TWO_SIDES + STORE, [
        feed("f3", "2025-05-03T09:00:00Z", 0.6, zone="race"),
        feed("f14", "2025-05-14T09:00:00Z", 0.6, "food_bread", zone="race"),
        {"kind": "sighting", "id": "s1", "at": "2025-05-19T09:00:00Z", "what": "worms_on_lid"},
    ])  # fmt: skip


def run(*args: object):
    return CliRunner().invoke(cli, [str(arg) for arg in args], catch_exceptions=False)


def test_aid_without_a_symptom_lists_them_with_careful_defaults(farm: Path) -> None:
    told = run("aid", farm)
    assert told.exit_code == 0
    assert "Careful whatever it is" in told.output
    assert "Smells sour" in told.output
    account = json.loads(run("aid", farm, "--json").output)
    assert len(account["symptoms"]) == 22
    assert set(keys_of(account)) <= set(FIELDS)


def test_aid_ranks_causes_from_signs_log_and_twin(farm: Path) -> None:
    asked = ("aid", farm, "--at", NOW, "--symptom", "smells sour")
    account = json.loads(run(*asked, "--absent", "hot or steaming", "--json").output)
    assert set(keys_of(account)) <= set(FIELDS) | FINDINGS
    (bed,) = account["beds"]
    first = bed["suspects"][0]
    assert first["cause"] == "sour"
    assert first["odds"] > 0.5
    assert bed["answered"] == {"sour_smell": True, "heat": False}
    assert {f["finding"] for f in bed["from_log"]} >= {"climbing", "fed_starch"}
    assert any("gloves" in line.lower() for line in bed["cautions"])
    told = run(*asked).output
    assert "Soured by bread" in told
    assert "do: Take the food out" in " ".join(told.split())


def test_each_answer_narrows_it_down(farm: Path) -> None:
    answers: list[str] = ["--symptom", "rotten"]
    asked, odds = [], []
    for _ in range(4):
        (bed,) = json.loads(run("aid", farm, "--at", NOW, *answers, "--json").output)["beds"]
        odds.append(bed["suspects"][0]["odds"])
        if bed["ask"] is None:
            break
        asked.append(bed["ask"]["finding"])
        answers += ["--symptom" if bed["ask"]["finding"] in ("runs", "base") else "--absent",
                    bed["ask"]["finding"]]  # fmt: skip
    assert len(set(asked)) == len(asked) >= 1
    assert odds[-1] > odds[0]


def test_unclear_words_are_answered_with_a_choice(farm: Path) -> None:
    told = run("aid", farm, "--symptom", "haunted")
    assert told.exit_code == 1
    assert "not clear" in told.output
    assert "smells rotten" in told.output
    assert run("aid", farm, "--bed", "nowhere", "--symptom", "ants").exit_code == 1


def test_the_weather_drawn_reaches_to_the_end_of_the_longest_absence() -> None:
    assert SOONEST_D + LONGEST_D < HORIZON_D


def test_away_weighs_and_prints_a_page_a_bed(farm: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "sheet.pdf"
    args = ("away", farm, "--at", NOW, "--from", "2025-05-22", "--to", "2025-06-14", "--call",
            "Ines #555-0142", "--pdf", pdf)  # fmt: skip
    account = json.loads(run(*args, "--json").output)
    assert set(keys_of(account)) <= set(FIELDS)
    (bed,) = account["beds"]
    chosen = [way for way in bed["weighed"] if way["chosen"]]
    assert len(chosen) == 1
    assert len(bed["weighed"]) >= 2
    assert bed["call"] == "Ines #555-0142"
    for day in bed["visits"]:
        assert "2025-05-22" < day < "2025-06-14"
    assert pdf.read_bytes().startswith(b"%PDF")
    if shutil.which("pdftotext"):
        words = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True,
                               check=True).stdout
        assert words.count("\f") == 1, "it must fit on one page"
        for said in ("Sluice bed", "If you find", "Never", "Call if", "Ines #555-0142"):
            assert said in words
    told = run(*args).output
    assert "Before you leave" in told
    assert "what was" in told


@pytest.mark.parametrize(("leave", "back", "said"), [
    ("2025-05-22", "2025-05-22", "come back before"), ("2025-04-01", "2025-05-22", "is past"),
    ("2025-09-01", "2025-09-22", "days ahead"), ("2025-05-22", "2025-12-01", "longer than"),
    ("soon", "2025-12-01", "not a date"),
])  # fmt: skip
def test_odd_dates_are_answered_with_a_sentence(
    farm: Path, leave: str, back: str, said: str
) -> None:
    told = run("away", farm, "--at", NOW, "--from", leave, "--to", back)
    assert told.exit_code == 1
    assert said in told.output
