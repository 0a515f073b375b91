"""Weather summaries and coming days as text."""

from __future__ import annotations

import datetime as dt
from typing import Any

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from bedlore.service.phrases import day_words, short_day
from bedlore.service.shown import Shown, whole


def render_summary(account: dict[str, Any], shown: Shown) -> RenderableType:
    """A weather file: where, when, how warm; its normals ready for the farm file."""
    start, end = (dt.datetime.fromisoformat(account[key]) for key in ("start", "end"))
    last = end - dt.timedelta(hours=1)
    months = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="dim")
    for head in ("", "days", f"mean low {shown.degree}", f"mean high {shown.degree}"):
        months.add_column(Text(head), justify="left" if not head else "right")
    for month in account["months"]:
        months.add_row(
            Text(month["month"]), Text(str(month["days"])),
            Text(shown.temp(month["daily_low_c"], unit=False)),
            Text(shown.temp(month["daily_high_c"], unit=False)),
        )  # fmt: skip
    parts: list[RenderableType] = [
        Text(f"{account['name'] or 'Weather'}, {_place(account)}", style="bold"),
        Text(f"{account['hours']} hours, {day_words(start.date(), year=True)} to"
             f" {day_words(last.date(), year=True)}"),
        Text(f"Mean {shown.temp(account['temp_mean_c'])}, from {shown.temp(account['temp_low_c'])}"
             f" to {shown.temp(account['temp_high_c'])}; humidity"
             f" {shown.percent(account['rh_mean_frac'])}; wind"
             f" {account['wind_mean_m_s']:.0f} m/s"),
        months,
        *(Text(note, style="dim") for note in account["notes"]),
    ]
    if account["normals"]:
        parts += [Text(""), Text("For the farm file:", style="dim"), Text("[site.normals]")]
        parts += [Text(f"{name} = {values}") for name, values in account["normals"].items()]
    return Group(*parts)


def render_ahead(account: dict[str, Any], shown: Shown) -> RenderableType:
    """The coming days, most likely and the range that holds 9 of 10 futures."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="dim")
    for head in ("", f"low {shown.degree}", f"high {shown.degree}"):
        table.add_column(Text(head), justify="left" if not head else "right")
    for day in account["days"]:
        table.add_row(
            Text(short_day(dt.date.fromisoformat(day["day"]))),
            *(Text(_range(day[key], shown)) for key in ("low_c", "high_c")),
        )
    return Group(
        Text(account["source"]),
        Text("Most likely, and in brackets the range that holds 9 of 10 futures.", style="dim"),
        table,
        *(Text(note, style="dim") for note in account["notes"]),
    )


def _place(account: dict[str, Any]) -> str:
    north, east = account["latitude_deg"], account["longitude_deg"]
    return (
        f"{abs(north):.2f}° {'north' if north >= 0 else 'south'},"
        f" {abs(east):.2f}° {'east' if east >= 0 else 'west'}, {account['altitude_m']:.0f} m"
    )


def _range(band: list[float], shown: Shown) -> str:
    low, mid, high = (whole(shown.degrees(value)) for value in band)
    return f"{mid} ({low} to {high})"
