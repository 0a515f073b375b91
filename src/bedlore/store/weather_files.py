"""Weather kept as files in the farm folder: a record, days typed ahead, a fetched forecast."""

from __future__ import annotations

from pathlib import Path

from bedlore.errors import KeeperError
from bedlore.farm.site import Site
from bedlore.say import say
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
                             problem=str(problem)))  # fmt: skip
            return None

    record = next((folder / n for n in RECORD_NAMES if (folder / n).is_file()), None)
    series: WeatherSeries | None = None
    if record is not None:
        series = attempt(lambda path: _read_record(path, site), record)
        notes.extend(series.notes if series else ())
    typed = ()
    if (folder / DAYS_AHEAD).is_file():
        typed = attempt(_read_typed, folder / DAYS_AHEAD) or ()
    forecast = None
    if (folder / FORECAST).is_file():
        forecast = attempt(lambda path: read_table(path, site), folder / FORECAST)
    return Recorded(series, Known(typed=typed, forecast=forecast), tuple(notes))


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
