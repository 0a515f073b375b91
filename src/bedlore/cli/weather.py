"""Weather summaries and coming days as text."""

from __future__ import annotations

import datetime as dt
from typing import Any

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from bedlore.say import message, say
from bedlore.say.language import decimal
from bedlore.service.phrases import day_words, short_day
from bedlore.service.shown import Shown, whole


def render_summary(account: dict[str, Any], shown: Shown) -> RenderableType:
    """A weather file: where, when, how warm; its normals ready for the farm file."""
    start, end = (dt.datetime.fromisoformat(account[key]) for key in ("start", "end"))
    last = end - dt.timedelta(hours=1)
    months = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="dim")
    heads = ("", say("days"), say("mean low {degree}", degree=shown.degree),
             say("mean high {degree}", degree=shown.degree))  # fmt: skip
    for head in heads:
        months.add_column(Text(head), justify="left" if not head else "right")
    for month in account["months"]:
        months.add_row(
            Text(say(month["month"])), Text(str(month["days"])),
            Text(shown.temp(month["daily_low_c"], unit=False)),
            Text(shown.temp(month["daily_high_c"], unit=False)),
        )  # fmt: skip
    parts: list[RenderableType] = [
        Text(f"{account['name'] or say('Weather')}, {_place(account)}", style="bold"),
        Text(say("{hours} hours, {first} to {last}", hours=account["hours"],
                 first=day_words(start.date(), year=True),
                 last=day_words(last.date(), year=True))),
        Text(say("Mean {mean}, from {low} to {high}; humidity {humidity}; wind {wind} m/s",
                 mean=shown.temp(account["temp_mean_c"]), low=shown.temp(account["temp_low_c"]),
                 high=shown.temp(account["temp_high_c"]),
                 humidity=shown.percent(account["rh_mean_frac"]),
                 wind=f"{account['wind_mean_m_s']:.0f}")),
        months,
        *(Text(note, style="dim") for note in account["notes"]),
    ]
    if account["normals"]:
        parts += [Text(""), Text(say("For the farm file:"), style="dim"), Text("[site.normals]")]
        parts += [Text(f"{name} = {values}") for name, values in account["normals"].items()]
    return Group(*parts)


_BOUNDS = (message("low {degree}"), message("high {degree}"))


def render_ahead(account: dict[str, Any], shown: Shown) -> RenderableType:
    """The coming days, most likely and the range that holds 9 of 10 futures."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="dim")
    low, high = (say(head, degree=shown.degree) for head in _BOUNDS)
    for head in ("", low, high):
        table.add_column(Text(head), justify="left" if not head else "right")
    for day in account["days"]:
        table.add_row(
            Text(short_day(dt.date.fromisoformat(day["day"]))),
            *(Text(_range(day[key], shown)) for key in ("low_c", "high_c")),
        )
    return Group(
        Text(account["source"]),
        Text(say("Most likely, and in brackets the range that holds 9 of 10 futures."),
             style="dim"),
        table,
        *(Text(note, style="dim") for note in account["notes"]),
    )


def _place(account: dict[str, Any]) -> str:
    north, east = account["latitude_deg"], account["longitude_deg"]
    return say(
        "{north}° {north_or_south}, {east}° {east_or_west}, {altitude} m",
        north=decimal(f"{abs(north):.2f}"), east=decimal(f"{abs(east):.2f}"),
        north_or_south=say("north") if north >= 0 else say("south"),
        east_or_west=say("east") if east >= 0 else say("west"),
        altitude=f"{account['altitude_m']:.0f}",
    )  # fmt: skip


def _range(band: list[float], shown: Shown) -> str:
    low, mid, high = (whole(shown.degrees(value)) for value in band)
    return say("{middle} ({low} to {high})", middle=mid, low=low, high=high)
