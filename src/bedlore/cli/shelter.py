"""``bedlore shelter``: what would carry each bed through the coming cold or heat."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import bed_by_bed, check_place, show
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
    from rich.text import Text

    def of_bed(bed: Account) -> Iterator[Text]:
        yield Text(f"  {shown.sentence(bed['words'])}", style="bold")
        for place, way in enumerate(bed["ways"], start=1):
            yield Text(f"  {place}. {shown.sentence(way['words'])}")
        lines = [bed["mishap"], bed["indoor_herd"]] if bed["ways"] else [bed["mishap"]]
        yield from (Text(f"  {shown.sentence(line)}") for line in lines if line)
        yield from (Text(f"  {shown.sentence(line)}", style="dim") for line in bed["cautions"])

    return bed_by_bed(account, of_bed)
