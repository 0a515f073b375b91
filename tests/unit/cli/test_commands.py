"""Every command: exit codes, sentences, JSON fields. The model itself is left out here."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from bedlore import wiring
from bedlore.cli.main import cli
from bedlore.service.fields import FIELDS
from tests.morning_fake import FARM_FILE, morning
from tests.unit.cli.json_keys import keys_of


def run(*words: str, stdin: str | bytes | None = None) -> Result:
    return CliRunner().invoke(cli, list(words), input=stdin, catch_exceptions=False)


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the invented farm file and a fake morning."""
    shutil.copy(FARM_FILE, tmp_path / "farm.toml")
    monkeypatch.setattr(wiring, "morning_in", lambda *_, **__: morning())
    return tmp_path


def all_registered(told: object) -> None:
    assert set(keys_of(told)) - set(FIELDS) == set()


def test_help_is_quick_and_names_every_command() -> None:
    told = run("--help").output
    for name in ("demo", "check", "today", "outlook", "report", "weather", "lab", "params"):
        assert f"\n  {name}" in told


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom bedlore.cli.main import cli\n"
        "assert CliRunner().invoke(cli, ['--help']).exit_code == 0\n"
        "heavy = {'numba', 'numpy', 'pydantic', 'vl_convert', 'rich', 'httpx', 'typst', 'jinja2'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "words",
    [("today",), ("today", "x", "--what"), ("nonsense",), ("outlook", "x", "--every", "0"),
     ("lab", "nonsense", "f")],
)
def test_mistyped_commands_end_with_two(words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


@pytest.mark.parametrize("name", ["check", "today", "outlook", "report"])
def test_a_folder_that_is_not_there_is_a_sentence(name: str, tmp_path: Path) -> None:
    result = run(name, str(tmp_path / "nowhere"))
    assert result.exit_code == 1
    assert "There is no such folder." in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "The file is empty."),
        (b"\xff\xfe\x00", "saved as UTF-16"),
        (b"name = '\xe9'", "not UTF-8"),
        (b"name = [", "not proper TOML"),
        (b"name = 'x'\nfarmm = 3", "Did you mean"),
    ],
)
@pytest.mark.parametrize("command", ["check", "today"])
def test_a_broken_farm_file_is_a_sentence(
    command: str, content: bytes, sentence: str, tmp_path: Path
) -> None:
    (tmp_path / "farm.toml").write_bytes(content)
    result = run(command, str(tmp_path))
    told = result.stdout + result.stderr
    assert result.exit_code == 1
    assert sentence in told or "This is missing" in told
    assert "Traceback" not in told


def test_check_tells_all_and_keeps_the_lines(farm: Path) -> None:
    (farm / "log.csv").write_text(
        "kind,at,bed,temp\nprobe,2024-10-01 08:00,sluice,400 degC\n"
        "probe,2024-10-02 08:00,sluice,11 degC\n", "utf-8")  # fmt: skip
    result = run("check", str(farm), "--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert told["entries"] == 1
    assert [line["line"] for line in told["kept_aside"]] == [2]
    all_registered(told)
    shown = run("check", str(farm)).stdout
    assert "To mend (1)" in shown
    assert "400" in shown


NO_SUN = "Sunshine is not given"


def test_check_reads_what_is_known_of_the_weather(farm: Path) -> None:
    """Each file with its own fault, in a sentence without the folder; the good one with remarks,
    each once."""
    (farm / "weather.csv").write_text("hello,world\n1,2\n", "utf-8")
    (farm / "days-ahead.txt").write_text(
        "2025-06-01: 20 degC to 10 degC\nsoon: warm\n2025-06-02: 4 degC to 9 degC\n", "utf-8")
    days = "".join(f"2025-03-{day:02d},2,9\n" for day in range(1, 20))
    (farm / "forecast.csv").write_text(f"date,low_c,high_c\n{days}", "utf-8")
    result = run("check", str(farm), "--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    found = {fault["path"]: fault["sentence"] for fault in told["faults"]}
    assert "time" in found["weather.csv"]
    assert "above the high" in found["days-ahead.txt typed day 1"]
    assert "not understood" in found["days-ahead.txt typed day 2"]
    assert len(found) == 3
    assert not any(str(farm) in sentence for sentence in found.values())
    remarks = [note for note in told["notes"] if note["path"] == "forecast.csv"]
    assert sum(NO_SUN in note["sentence"] for note in remarks) == 1


def test_check_says_which_record_is_used(farm: Path) -> None:
    days = "".join(f"2025-03-{day:02d},2,9\n" for day in range(1, 20))
    (farm / "weather.csv").write_text(f"date,low_c,high_c\n{days}", "utf-8")
    (farm / "weather.epw").write_text("no weather", "utf-8")
    told = json.loads(run("check", str(farm), "--json").stdout)
    assert [fault["path"] for fault in told["faults"]] == ["weather.epw"]
    assert {"path": "weather.epw", "sentence": "Not used, since weather.csv is there."} in (
        told["notes"])  # fmt: skip


def test_a_remark_on_the_weather_is_said_once(farm: Path) -> None:
    """Record and forecast lack the same columns."""
    days = "".join(f"2025-03-{day:02d},2,9\n" for day in range(1, 20))
    for name in ("weather.csv", "forecast.csv"):
        (farm / name).write_text(f"date,low_c,high_c\n{days}", "utf-8")
    told = json.loads(
        run("weather", "ahead", str(farm), "--json", "--days", "2", "--at", "2025-03-10").stdout)
    assert sum(NO_SUN in note for note in told["notes"]) == 1


def test_check_of_a_good_farm_ends_with_nought(farm: Path) -> None:
    result = run("check", str(farm))
    assert result.exit_code == 0
    assert "Nothing to mend." in result.stdout


@pytest.mark.parametrize("words", [("today",), ("outlook",), ("outlook", "--every", "6")])
def test_json_of_the_morning(words: tuple[str, ...], farm: Path) -> None:
    result = run(words[0], str(farm), "--json", *words[1:])
    assert result.exit_code == 0
    told = json.loads(result.stdout)
    assert {bed["bed"] for bed in told["beds"]} == {"sluice", "ladder", "weir"}
    all_registered(told)


def test_today_puts_the_act_of_each_bed_first(farm: Path) -> None:
    lines = run("today", str(farm)).stdout.splitlines()
    head = lines[4:7]
    assert [line.split()[1] for line in head] == ["Sluice", "Weir", "Ladder"]
    assert "Lay 5 cm of straw" in head[0]
    assert "Nothing yet" in head[2]


def test_today_says_what_was_kept_aside_and_the_odds_both_ways(farm: Path) -> None:
    told = run("today", str(farm), "--bed", "sluice").stdout
    assert "grams of joy" in told
    assert "if you do this" in told
    assert "if you do nothing" in told
    assert "4 in 100" in told
    assert "32 in 100" in told
    assert "Ladder" not in told


def test_today_speaks_the_keepers_units(farm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = morning()
    us = made.farm.model_copy(
        update={"preferences": made.farm.preferences.model_copy(update={"units": "us"})}
    )
    monkeypatch.setattr(wiring, "morning_in", lambda *_, **__: morning(us))
    told = run("today", str(farm)).stdout
    assert "°F" in told
    assert "°C" not in told
    assert " kg" not in told


def test_no_tenth_of_a_degree_of_our_own(farm: Path) -> None:
    """What the model says comes in whole degrees; a reading keeps what its keeper wrote."""
    rows = [row for row in run("outlook", str(farm)).stdout.splitlines() if " to " in row]
    assert len(rows) == 3 * 14
    assert not any("…" in row for row in rows)
    for row in rows:
        assert "." not in row.rsplit(")", 1)[0]


def test_an_unknown_bed_is_a_sentence(farm: Path) -> None:
    result = run("today", str(farm), "--bed", "attic")
    assert result.exit_code == 1
    assert "sluice" in result.stderr


def test_a_time_that_is_none_is_a_sentence(tmp_path: Path) -> None:
    shutil.copy(FARM_FILE, tmp_path / "farm.toml")
    result = run("today", str(tmp_path), "--at", "yesterday-ish")
    assert result.exit_code == 1
    assert 'Write it like "2026-01-12 07:00"' in result.stderr


def test_today_can_go_to_a_file(farm: Path) -> None:
    out = farm / "today.json"
    assert run("today", str(farm), "--json", "--out", str(out)).exit_code == 0
    assert json.loads(out.read_text("utf-8"))["farm"] == "Ousel Mill Kitchen Garden"


@pytest.fixture
def small_farm(farm: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same with one bed: drawing takes time."""
    whole = morning().farm
    one = whole.model_copy(update={"beds": whole.beds[:1]})
    monkeypatch.setattr(wiring, "morning_in", lambda *_, **__: morning(one))
    return farm


def test_report_writes_page_and_sheet(small_farm: Path) -> None:
    farm = small_farm
    result = run("report", str(farm), "--json")
    told = json.loads(result.stdout)
    all_registered(told)
    assert Path(told["page"]).read_text("utf-8").startswith("<!doctype html>")
    assert Path(told["sheet"]).read_bytes().startswith(b"%PDF")


def test_report_to_the_standard_output(small_farm: Path) -> None:
    farm = small_farm
    result = run("report", str(farm), "--out", "-")
    assert result.stdout.startswith("<!doctype html>")
    assert not (farm / "report.pdf").exists()
    assert run("report", str(farm), "--out", "-", "--pdf", "-").exit_code == 2


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_no_right_to_write_is_a_sentence(farm: Path) -> None:
    locked = farm / "locked"
    locked.mkdir(mode=0o500)
    result = run("report", str(farm), "--no-pdf", "--out", str(locked / "page.html"))
    assert result.exit_code == 1
    assert "cannot be written" in result.stderr


@pytest.mark.parametrize("out", ["nowhere/page.html", "."])
def test_a_place_that_takes_no_file_is_a_sentence(farm: Path, out: str) -> None:
    result = run("report", str(farm), "--no-pdf", "--out", str(farm / out))
    assert result.exit_code == 1
    assert "folder" in result.stderr


def test_a_write_that_fails_leaves_the_old_page(
    farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bedlore.sheets import page as pages
    from bedlore.store import durable

    monkeypatch.setattr(pages, "page_html", lambda _: "new")
    page = farm / "page.html"
    page.write_text("old", "utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable.os, "fsync", full)
    result = run("report", str(farm), "--no-pdf", "--out", str(page))
    assert result.exit_code == 1
    assert "No space left" in result.stderr
    assert page.read_text("utf-8") == "old"


def test_what_nobody_foresaw_is_a_sentence(farm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("at noon")

    monkeypatch.setattr(wiring, "morning_in", broken)
    result = run("today", str(farm))
    assert result.exit_code == 1
    assert "bedlore itself went wrong (ZeroDivisionError: at noon)" in result.stderr
    assert "Traceback" not in result.stderr
    monkeypatch.setenv("BEDLORE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("today", str(farm))


def test_demo_writes_a_farm_once(tmp_path: Path) -> None:
    result = run("demo", str(tmp_path / "mill"), "--json")
    told = json.loads(result.stdout)
    all_registered(told)
    assert str(tmp_path / "mill" / "farm.toml") in told["files"]
    assert run("demo", str(tmp_path / "mill")).exit_code == 1


def test_params() -> None:
    told = json.loads(run("params", "--json").stdout)
    all_registered(told)
    assert len(told["parameters"]) > 50
    assert run("params", "no such thing").exit_code == 1
    assert "worm" in run("params", "worm").stdout


@pytest.mark.parametrize(
    ("content", "sentence"),
    [("", "not proper JSON"), ("[1]", "not a JSON object"), ("[" * 100_000, "nested too deeply"),
     ('{"temp_c": "warm"}', "temp_c"), ('{"temp": 3}', "temp"), ("{}", "One thing to mend:"),
     ('{"temp_c": 9, "x": 1, "y": 2}', "2 things to mend:")],
)
def test_lab_says_what_is_wrong_with_its_file(content: str, sentence: str) -> None:
    result = run("lab", "hatch", "-", stdin=content)
    assert result.exit_code == 1
    assert sentence in result.stderr


def test_lab_says_what_is_no_number_in_plain_words() -> None:
    given = {"depth": "1 ft", "moisture_frac": "wet", "hours": 2}
    result = run("lab", "drain", "-", stdin=json.dumps(given))
    assert "moisture_frac: 'wet' is not a number." in result.stderr
    none = {"worms": 0, "stage": "adult", "mass_g": 0.1, "area_m2": 0.01, "depth_m": 0.1,
            "temp_c": 25, "moisture_pct": 75, "material": "cow manure", "food_g": 10, "days": 1}
    assert "None" not in run("lab", "culture", "-", stdin=json.dumps(none)).stdout


def test_lab_from_the_standard_input() -> None:
    result = run("lab", "shed", "-", "--json", stdin=json.dumps(
        {"outdoor_c": 5, "time_constant_h": 10, "offset_k": 2, "hours": 48}))
    assert result.exit_code == 0, result.stderr
    told = json.loads(result.stdout)
    all_registered(told)
    assert told["result"]["temp_c"][-1] == pytest.approx(7, abs=0.2)  # 5 + 2 after 4.8 tau


def test_every_experiment_is_offered_and_its_fields_are_registered() -> None:
    import dataclasses
    import typing

    from bedlore.cli.lab_commands import EXPERIMENTS
    from bedlore.lab.runner import EXPERIMENTS as THERE

    assert set(EXPERIMENTS) == set(THERE)
    for _, runner in THERE.values():
        result = typing.get_type_hints(runner)["return"]
        assert {field.name for field in dataclasses.fields(result)} <= set(FIELDS)


@given(st.text(max_size=60))
def test_any_text_as_a_folder_ends_with_a_sentence(name: str) -> None:
    result = CliRunner().invoke(cli, ["check", "/nowhere/" + name.replace("\0", "")])
    assert result.exit_code in (1, 2)
    assert isinstance(result.exception, SystemExit)
