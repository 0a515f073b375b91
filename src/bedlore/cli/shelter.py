"""``bedlore shelter``: what would carry each bed through the coming cold or heat."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import check_place, show
from bedlore.cli.options import (
    at_option,
    bed_option,
    folder_argument,
    json_option,
    out_option,
    worked_on,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.shown import Shown

Account = dict[str, Any]


@click.command()
@folder_argument
@json_option
@bed_option
@at_option
@out_option
def shelter(folder: Path, as_json: bool, bed_id: str, moment: str, out: str) -> None:
    """What would carry the beds of DIR through the coming cold snap or heat.

    Straw, leaves, foam, the mat, a move indoors; shade, ice, water: ranked, in degrees and odds.
    """
    from bedlore.service.shelter import shelter_account, shelter_for
    from bedlore.service.shown import Shown

    check_place(out)
    with worked_on(folder, moment, bed_id) as asked:
        found = shelter_for(asked.farm, asked.log, asked.recorded, asked.now, asked.keeping,
                            bed_id=asked.bed_id, progress=asked.progress)  # fmt: skip
    account = shelter_account(found)
    shown = Shown(found.farm.preferences.units)
    show(account, as_json, out, lambda told: render_shelter(told, shown))


def render_shelter(account: Account, shown: Shown) -> RenderableType:
    """Each bed: what is coming, the ways from the best on, and how long a mishap takes."""
    from rich.console import Group
    from rich.rule import Rule
    from rich.text import Text

    parts: list[RenderableType] = [Text(account["farm"], style="bold")]
    for bed in account["beds"]:
        title = Text(f" {bed['mark']}  {bed['name']} ", style="bold")
        parts += [Text(""), Rule(title, align="left", characters="─", style="dim")]
        parts.append(Text(f"  {shown.sentence(bed['words'])}", style="bold"))
        parts += [
            Text(f"  {place}. {shown.sentence(way['words'])}")
            for place, way in enumerate(bed["ways"], start=1)
        ]
        lines = [bed["mishap"], bed["indoor_herd"]] if bed["ways"] else [bed["mishap"]]
        parts += [Text(f"  {shown.sentence(line)}") for line in lines]
        parts += [Text(f"  {shown.sentence(line)}", style="dim") for line in bed["cautions"]]
    return Group(*parts)
