"""The coming fortnight of each bed as a table of days."""

from __future__ import annotations

from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from bedlore.cli.console import bed_by_bed
from bedlore.say import message, say
from bedlore.service.phrases import days_of, local, moment_words, short_day
from bedlore.service.shown import Shown, whole

Account = dict[str, Any]
LOW, MID, HIGH = 0, 2, 4  # 5, 50 and 95 % among the quantiles
_COLUMNS = (
    ("temp_coldest_c", message("coldest\nplace"), "temp"),
    ("temp_probe_c", message("thermo-\nmeter"), "temp"),
    ("temp_warmest_c", message("warmest\nplace"), "temp"),
    ("moisture_frac", message("water"), "percent"),
    ("food_left_kg", message("food\nleft"), "mass"),
    ("worms_kg", message("worms"), "mass"),
)


def render_outlook(account: Account, shown: Shown) -> RenderableType:
    """Every bed's table, with what the figures are."""
    head = [
        Text(moment_words(local(account["made_at"], account["time_zone"]))),
        Text(shown.sentence(account["weather"]["note"]), style="dim"),
        Text(say("Most likely, and in brackets the range that holds 9 of 10 futures."),
             style="dim"),
    ]
    return bed_by_bed(account, lambda bed: [_table(bed, account["time_zone"], shown)], head)


def _table(bed: Account, time_zone: str, shown: Shown) -> Table:
    table = Table(box=None, padding=(0, 1), pad_edge=False, header_style="dim")
    days = [short_day(day) for day in days_of(bed["times"], time_zone)]
    # Never cut: a narrow terminal folds the ranges, not the days.
    table.add_column(say("until"), no_wrap=True, min_width=max(map(len, days), default=0))
    for _, head, kind in _COLUMNS:
        sign = shown.degree if kind == "temp" else "%" if kind == "percent" else ""
        table.add_column(Text(f"{say(head)} {sign}".strip()), justify="right")
    for place, day in enumerate(days):
        cells = [_cell(bed["whole"][name], place, kind, shown) for name, _, kind in _COLUMNS]
        table.add_row(Text(day), *map(Text, cells))
    return table


def _cell(series: list[list[float]], place: int, kind: str, shown: Shown) -> str:
    low, mid, high = (series[q][place] for q in (LOW, MID, HIGH))
    if kind == "mass":
        return shown.mass(mid)
    write = shown.degrees if kind == "temp" else (lambda share: share * 100)
    return say("{middle} ({low} to {high})", middle=whole(write(mid)), low=whole(write(low)),
               high=whole(write(high)))  # fmt: skip
