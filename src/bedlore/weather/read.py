"""Any weather file: TMY3, EPW or a plain table, told apart by how it begins."""

from __future__ import annotations

from pathlib import Path

from bedlore.weather.columns import TemperatureUnit
from bedlore.weather.day_tables import LocalPlace
from bedlore.weather.epw import read_epw
from bedlore.weather.files import DEFAULT_YEAR, read_lines
from bedlore.weather.series import WeatherSeries
from bedlore.weather.tables import read_table
from bedlore.weather.tmy3 import read_tmy3


def read_weather(
    path: Path,
    place: LocalPlace,
    assume_unit: TemperatureUnit | None = None,
    year: int = DEFAULT_YEAR,
) -> WeatherSeries:
    """Hourly weather from ``path``.

    ``place`` and ``assume_unit`` matter for plain tables alone, ``year`` for typical years.
    Raises :class:`bedlore.errors.KeeperError` when the file cannot be used.
    """
    lines = read_lines(path)
    if lines[0].startswith("LOCATION,"):
        return read_epw(path, year).series
    if len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY)"):
        return read_tmy3(path, year).series
    return read_table(path, place, assume_unit)
