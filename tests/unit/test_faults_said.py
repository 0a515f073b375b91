"""What is wrong is said to the keeper through the catalogue, so in the own language.

A :class:`Said` can be translated and said again; a plain text stays English for ever.
"""

from __future__ import annotations

import ast
import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from bedlore.cli.check import render_check
from bedlore.cli.console import check_place, sentences
from bedlore.cli.options import moment_of, only_bed
from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.facts.feedstocks import find
from bedlore.farm.interpret import Interpreter
from bedlore.say import Said, again, say, speaking
from bedlore.service.first_aid import finding_called
from bedlore.service.readings_file import Columns, preview_readings
from bedlore.weather.epw import read_epw
from bedlore.weather.gaps import fill_hourly
from bedlore.weather.normals import climate_of
from bedlore.weather.series import WeatherSeries
from bedlore.weather.tables import read_table
from bedlore.weather.tmy3 import read_tmy3
from bedlore.weather.typed import parse_typed_days
from tests.unit.farm.test_bed import FARM
from tests.unit.weather.test_normals import HIGH, LOW, Normals, Place
from tests.weather_files import Spot

SRC = Path(__file__).parents[2] / "src" / "bedlore"
NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
VIENNA = Spot(48.2, 16.4, 170.0, "Europe/Vienna")
# Speak English: the experiments, and what a server tells whoever starts it.
ENGLISH = ("lab/", "cli/lab_commands.py", "cli/serve.py", "web/machine.py", "web/home_network.py",
           "store/certificates.py")  # fmt: skip


def texts_of(problem: KeeperError) -> list[str]:
    if isinstance(problem, FaultList):
        return [fault.sentence for fault in problem.faults]
    return [text for text in (problem.message, problem.fix) if text]


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (lambda path: read_table(path, VIENNA), "time,temp_c\n"),
        (lambda path: read_table(path, VIENNA), "temp_c,rh\n1,2\n"),
        (lambda path: read_table(path, VIENNA), "time,t\n2026-02-03 00:00,1\n"),
        (lambda path: read_table(path, VIENNA), "time,temp_c\n2026-02-03 00:00,400\n"),
        (lambda path: read_table(path, VIENNA), "time,temp_c,wind\n2026-02-03 00:00,4,999\n"),
        (lambda path: read_table(path, VIENNA), "date,temp_c\n2026-02-03,9\n0001-01-01,9\n"),
        (lambda path: read_table(path, VIENNA), "date,low_c,high_c\n2026-02-03,9,1\n"),
        (lambda path: read_table(path, VIENNA), "time,temp_c\n2026-02-03 00:00,1\n"),
        (lambda path: read_table(path, VIENNA), "time,temp_c\n" + "2026-02-03 00:00,x\n" * 40),
        (read_tmy3, "a,b\nc,d\n"),
        (read_tmy3, "1,Here,X,-5,36,-80,10\nDate (MM/DD/YYYY),Time (HH:MM)\n"),
        (read_epw, "LOCATION,Here\n"),
    ],
)
def test_what_is_wrong_with_a_weather_file(
    tmp_path: Path, read: Callable[[Path], object], text: str
) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(text)
    with pytest.raises(KeeperError) as caught:
        read(path)
    assert texts_of(caught.value)
    assert all(isinstance(told, Said) for told in texts_of(caught.value))


def an_hour(start: dt.datetime, source: str) -> WeatherSeries:
    one = np.ones(1)
    return WeatherSeries(start=start, source=source, notes=(), temp_c=one, rh_frac=one,
                         wind_m_s=one, ghi_w_m2=one)  # fmt: skip


@pytest.mark.parametrize(
    "ask",
    [
        lambda: parse_typed_days(["2026-01-12: 200 degC to 300 degC"]),
        lambda: parse_typed_days(["2026-01-12: 5 degC to 2 degC"]),
        lambda: parse_typed_days(["tomorrow"]),
        lambda: climate_of(Place(Normals(LOW[:11], HIGH, [0.8] * 12))),
        lambda: climate_of(Place(Normals(HIGH, LOW, [0.8] * 12))),
        lambda: find("coffe groundz"),
        lambda: an_hour(NOW, "a").then(an_hour(NOW + dt.timedelta(hours=3), "b")),
        lambda: fill_hourly(np.full(3, np.nan), say("humidity"), NOW, "weather.csv"),
        lambda: moment_of("soon", FARM),
        lambda: only_bed({"beds": [{"bed": "north", "name": "North"}]}, "south"),
        lambda: check_place("/"),
        lambda: check_place("/no such folder/page.html"),
    ],
)
def test_what_is_wrong_with_what_was_asked(ask: Callable[[], object]) -> None:
    with pytest.raises(KeeperError) as caught:
        ask()
    assert all(isinstance(told, Said) for told in texts_of(caught.value))


@pytest.mark.parametrize(
    "raw",
    [
        {"kind": "air"},
        {"kind": "air", "low": "9 degC", "high": "2 degC"},
        {"kind": "moisture"},
        {"kind": "moisture", "wet": "1 kg", "dry": "2 kg"},
        {"kind": "probe", "temp": "12 miles"},
        {"kind": "feed", "material": "moon dust", "amount": "2 kg"},
        {"kind": "feed", "material": "bread", "amount": "2 moons"},
        {"kind": "probe", "temp": "12 degC", "at": "soon"},
    ],
)
def test_what_is_wrong_with_a_line_of_the_log(raw: dict[str, str]) -> None:
    line = {"at": "2025-01-11 07:30", "bed": "sluice", **raw}
    found = Interpreter(FARM, NOW).read(line, "log.csv line 7")
    assert found.faults
    assert all(isinstance(fault.sentence, Said) for fault in found.faults)


def test_what_is_wrong_with_a_loggers_line_is_said_again_in_another_language() -> None:
    data = b"date,temp\nsoon,12.0\n2025-01-11 08:00,warm\n"
    found = preview_readings(FARM, data, Columns(0, 1, bed="sluice"), "logger.csv", NOW)
    assert all(isinstance(fault.sentence, Said) for fault in found.faults)
    with speaking("es"):
        assert again(found.faults[1].sentence) == "'warm' no es una temperatura."


def test_a_list_of_faults_is_told_to_whoever_listens() -> None:
    problem = FaultList([Fault("farm.toml", say("There is no such file."))])
    with speaking("es"):
        assert again(problem.said) == "farm.toml: No existe ese archivo."
        assert sentences(problem)[1] == "  farm.toml: No existe ese archivo."


def test_a_material_nobody_knows_is_told_as_one_sentence_with_what_it_should_be() -> None:
    line = {"at": "2025-01-11 07:30", "bed": "sluice", "kind": "feed", "material": "moon dust"}
    (fault,) = Interpreter(FARM, NOW).read({**line, "amount": "2 kg"}, "").faults
    assert isinstance(fault.sentence, Said)
    assert fault.sentence.kept["with"]["what"] == {"say": "feed or bedding"}


def test_counts_of_the_check_keep_their_words() -> None:
    account = {"farm": "Mill", "beds": [1], "entries": 2, "faults": [], "cautions": [],
               "notes": [], "faults_left_out": 0, "kept_aside": []}  # fmt: skip
    first = render_check(account).renderables[0]  # type: ignore[attr-defined]
    assert str(first) == "Mill: 1 bed, 2 entries in the log."


def test_a_finding_is_known_by_its_name_in_either_language() -> None:
    with speaking("es"):
        assert finding_called("huele agrio") == finding_called("smells sour")
        with pytest.raises(KeeperError, match="huele agrio"):
            finding_called("zzzz")


def plain_texts(source: str) -> list[str]:
    """Literals and f-strings that a problem for the keeper is made of, with their line."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func).split(".")[-1]
        places = {"KeeperError": (0, 2), "ServiceError": (0, 2), "Changed": (0, 2),
                  "TakenId": (0, 2), "keeper_error": (0,), "Fault": (1,)}.get(name, ())  # fmt: skip
        given = [node.args[at] for at in places if at < len(node.args)]
        given += [word.value for word in node.keywords if places and word.arg in ("fix", "message")]
        found += [f"line {one.lineno}: {ast.unparse(one)[:60]}" for one in given
                  if isinstance(one, ast.JoinedStr)
                  or (isinstance(one, ast.Constant) and one.value)]  # fmt: skip
    return found


def test_no_problem_for_the_keeper_passes_by_the_catalogue() -> None:
    told = {
        name: plain
        for path in sorted(SRC.rglob("*.py"))
        if not (name := path.relative_to(SRC).as_posix()).startswith(ENGLISH)
        and (plain := plain_texts(path.read_text("utf-8")))
    }
    assert told == {}


def test_a_plain_text_would_be_seen() -> None:
    assert len(plain_texts('raise KeeperError("no.", fix=f"{x}")\nFault("a", "b")')) == 3
    assert plain_texts('raise KeeperError(say("no."), "log.csv", say("yes"))') == []
