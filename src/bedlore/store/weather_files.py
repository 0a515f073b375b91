"""Weather kept as files in the farm folder: a record, days typed ahead, a fetched forecast."""

from __future__ import annotations

from pathlib import Path

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.site import Site
from bedlore.say import capital, say, sentences
from bedlore.service.surroundings import Recorded
from bedlore.weather.epw import read_epw
from bedlore.weather.series import WeatherSeries
from bedlore.weather.tables import read_table
from bedlore.weather.tmy3 import read_tmy3
from bedlore.weather.typed import Known, parse_typed_days

RECORD_NAMES = ("weather.csv", "weather.epw", "weather.tmy3")
DAYS_AHEAD = "days-ahead.txt"
FORECAST = "forecast.csv"


def recorded_weather(folder: Path, site: Site) -> Recorded:
    """What the folder knows of the weather; a file that cannot be used becomes a remark.

    ``weather.csv`` (daily or hourly), ``weather.epw`` or ``weather.tmy3`` is the record,
    ``days-ahead.txt`` holds lows and highs typed for coming days, ``forecast.csv`` the last
    forecast fetched.
    """
    notes: list[str] = []

    def attempt(read, path: Path):  # type: ignore[no-untyped-def]
        try:
            return read(path)
        except KeeperError as problem:
            notes.append(say("{name} was not used: {problem}", name=path.name,
                             problem=problem.said))  # fmt: skip
            return None

    series: WeatherSeries | None = None
    for record in _records(folder)[:1]:
        series = attempt(lambda path: _read_record(path, site), record)
        notes.extend(series.notes if series else ())
    typed = ()
    if (folder / DAYS_AHEAD).is_file():
        typed = attempt(_read_typed, folder / DAYS_AHEAD) or ()
    forecast = None
    if (folder / FORECAST).is_file():
        forecast = attempt(lambda path: read_table(path, site), folder / FORECAST)
    return Recorded(series, Known(typed=typed, forecast=forecast), tuple(dict.fromkeys(notes)))


def check_weather(folder: Path, site: Site) -> tuple[list[Fault], list[Fault]]:
    """Faults of every weather file in the folder, and what was taken for what; nothing is fetched.

    Of several records the first is used, the others are read too and that is noted.
    """
    faults: list[Fault] = []
    notes: list[Fault] = []
    records = _records(folder)
    tables = [*records, *(path for path in [folder / FORECAST] if path.is_file())]
    for path in tables:
        try:
            found = _read_record(path, site)
        except KeeperError as problem:
            faults += _faults_in(path.name, problem)
            continue
        notes += [Fault(path.name, note) for note in dict.fromkeys(found.notes)]
    notes += [
        Fault(spare.name, say("Not used, since {name} is there.", name=records[0].name))
        for spare in records[1:]
    ]
    if (folder / DAYS_AHEAD).is_file():
        try:
            _read_typed(folder / DAYS_AHEAD)
        except KeeperError as problem:
            faults += _faults_in(DAYS_AHEAD, problem)
    return faults, notes


def _faults_in(name: str, problem: KeeperError) -> list[Fault]:
    """What is wrong with the file called ``name``, without the folder it lies in."""
    if isinstance(problem, FaultList):
        return [Fault(" ".join((name, fault.path)).rstrip(), capital(fault.sentence))
                for fault in problem.faults]  # fmt: skip
    return [Fault(name, capital(sentences(problem.message, problem.fix)))]


def _records(folder: Path) -> list[Path]:
    """The files of recorded weather there are; the first is used."""
    return [folder / name for name in RECORD_NAMES if (folder / name).is_file()]


def _read_record(path: Path, site: Site) -> WeatherSeries:
    if path.suffix == ".epw":
        return read_epw(path).series
    if path.suffix == ".tmy3":
        return read_tmy3(path).series
    return read_table(path, site)


def _read_typed(path: Path):  # type: ignore[no-untyped-def]
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise KeeperError(say("It cannot be read as text."), path.name) from problem
    return parse_typed_days(text.splitlines())
