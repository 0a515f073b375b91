"""Commands on weather: read a file, look ahead, type days, fetch a forecast."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import Tool, emit_json, read_input, terminal
from bedlore.cli.options import at_option, farm_in, folder_argument, json_option, moment_asked
from bedlore.errors import KeeperError
from bedlore.say import say, say_many

if TYPE_CHECKING:
    from bedlore.farm.site import Site
    from bedlore.service.shown import Shown
    from bedlore.weather.files import StationYear
    from bedlore.weather.series import WeatherSeries

SERVICES = ("met-norway", "us-nws")


@click.group(cls=Tool)
def weather() -> None:
    """Read weather files, look at the coming days, type or fetch them."""


@weather.command()
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@json_option
@click.option("--farm", "folder", metavar="DIR", type=click.Path(path_type=Path),
              help="Take place and time zone from this farm (a CSV file names none).")
@click.option("--units", type=click.Choice(["degC", "degF"]),
              help="Unit of temperatures whose heading names none.")
def read(file: Path, as_json: bool, folder: Path | None, units: str | None) -> None:
    """Summarise a weather FILE: TMY3, EPW, or a daily or hourly CSV table.

    With a whole year it also prints the normals, ready for the farm file.
    """
    from bedlore.service.weather_account import summary_account

    station = _station_in(file, farm_in(folder).site if folder else None, units)
    account = summary_account(station.series, station, station.name)
    if as_json:
        emit_json(account)
        return
    from bedlore.cli.weather import render_summary

    terminal().print(render_summary(account, _shown(folder)))


@weather.command()
@folder_argument
@json_option
@at_option
@click.option("--days", default=14, show_default=True, metavar="N",
              type=click.IntRange(1, 60), help="How many days ahead.")
def ahead(folder: Path, as_json: bool, moment: str, days: int) -> None:
    """Lows and highs of the coming days at the farm of DIR, with their spread.

    They follow what you typed and the last forecast fetched, and beyond that the normals of the
    place.
    """
    from bedlore.service.weather_account import ahead_account
    from bedlore.store.weather_files import recorded_weather

    farm = farm_in(folder)
    recorded = recorded_weather(folder, farm.site)
    now = moment_asked(folder, moment, farm)
    account = ahead_account(farm.site, recorded.known, recorded.notes, now, days)
    if as_json:
        emit_json(account)
        return
    from bedlore.cli.weather import render_ahead

    terminal().print(render_ahead(account, _shown(folder)))


@weather.command("days")
@folder_argument
@click.argument("lines", metavar="DAY...", nargs=-1, required=True)
@json_option
def type_days(folder: Path, lines: tuple[str, ...], as_json: bool) -> None:
    """Type lows and highs of coming days for the farm of DIR.

    \b
    Each DAY is like "2026-01-12: -7 degC to 2 degC"; - or ? stands for a value not known.
    A lone - reads one a line from the standard input.
    A day typed again replaces what was there.
    """
    from bedlore.store.durable import locked, replace_file
    from bedlore.store.weather_files import DAYS_AHEAD
    from bedlore.weather.typed import parse_typed_days

    farm_in(folder)
    given = read_input("-").splitlines() if lines == ("-",) else list(lines)
    new = parse_typed_days(given)
    if not new:
        raise KeeperError(say("No day was given."),
                          fix=say('Write "2026-01-12: -7 degC to 2 degC".'))  # fmt: skip
    path = folder / DAYS_AHEAD
    with locked(folder):
        old = parse_typed_days(read_input(str(path)).splitlines()) if path.exists() else ()
        days = {typed.day: typed for typed in (*old, *new)}
        text = "".join(_typed_line(days[day]) for day in sorted(days))
        replace_file(path, [text.encode("utf-8")])
    if as_json:
        emit_json({
            "file": str(path),
            "days": [{"day": d.isoformat(), "low_c": days[d].low_c, "high_c": days[d].high_c}
                     for d in sorted(days)],
        })  # fmt: skip
        return
    click.echo(say_many("One day noted in {path}; {all} in all.",
                        "{count} days noted in {path}; {all} in all.", len(new),
                        path=str(path), all=len(days)))  # fmt: skip


def _typed_line(typed: Any) -> str:
    low, high = (f"{v:.2f} degC" if v is not None else "?" for v in (typed.low_c, typed.high_c))
    return f"{typed.day.isoformat()}: {low} to {high}\n"


@weather.command()
@folder_argument
@json_option
@click.option("--service", type=click.Choice(SERVICES), default="met-norway", show_default=True,
              help="Who is asked.")
@click.option("--contact", default="", envvar="BEDLORE_CONTACT", metavar="ADDRESS",
              help="Your e-mail or web address: the services want to know who asks.")
@click.option("--url", default="", metavar="URL", help="Ask this address instead.")
def fetch(folder: Path, as_json: bool, service: str, contact: str, url: str) -> None:
    """Fetch a forecast for the farm of DIR and keep it there; never oftener than allowed.

    Without network the last forecast, or the normals of the place, go on serving.
    """
    from bedlore.fetch.client import ForecastClient, HttpSettings
    from bedlore.fetch.forecast import fetch_forecast
    from bedlore.store.durable import locked, replace_file
    from bedlore.store.weather_files import FORECAST

    farm = farm_in(folder)
    if "@" not in contact and "." not in contact:
        raise KeeperError(say("The weather services want to know who asks."), "--contact",
                          say("Give your e-mail or web address, or set BEDLORE_CONTACT."))
    client = ForecastClient(HttpSettings(contact=contact, cache_dir=folder / ".bedlore-cache"))
    result = fetch_forecast(client, service, farm.site, url or None)
    kept = None
    if result.series is not None:
        path = folder / FORECAST
        with locked(folder):
            replace_file(path, [line.encode() for line in _hourly_csv(result.series)])
        kept = str(path)
    if as_json:
        emit_json({"service": service, "file": kept, "sentence": result.sentence})
    else:
        click.echo(result.sentence)
    if kept is None:
        raise click.exceptions.Exit(1)


def _hourly_csv(series: WeatherSeries) -> list[str]:
    rows = ["time,temp_c,rh_frac,wind_m_s,ghi_w_m2\n"]
    columns = (series.temp_c, series.rh_frac, series.wind_m_s, series.ghi_w_m2)
    for place, stamp in enumerate(series.hours()):
        values = ",".join(f"{column[place]:.3f}" for column in columns)
        rows.append(f"{stamp.isoformat()},{values}\n")
    return rows


def _shown(folder: Path | None) -> Shown:
    from bedlore.service.shown import Shown

    return Shown(farm_in(folder).preferences.units) if folder else Shown()


def _station_in(file: Path, site: Site | None, units: Any) -> StationYear:
    """The weather of ``file``, whatever kind it is; raises KeeperError."""
    from bedlore.weather.epw import read_epw
    from bedlore.weather.files import StationYear, read_lines
    from bedlore.weather.tables import read_table
    from bedlore.weather.tmy3 import read_tmy3

    lines = read_lines(file)
    if lines[0].upper().startswith("LOCATION,"):
        return read_epw(file)
    if len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY)"):
        return read_tmy3(file)
    if site is None:
        raise KeeperError(
            say("A CSV table does not say where it was taken."), file.name,
            say("Name the farm it belongs to: --farm DIR."),
        )
    series = read_table(file, site, units)
    return StationYear(series, site.name, site.latitude_deg, site.longitude_deg, site.altitude_m)


