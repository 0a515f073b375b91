"""``bedlore dates``: when a side is ready, when to switch, to add a tray, to split."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import bed_by_bed, check_place, show
from bedlore.cli.options import asked_of_farm, worked_on

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.shown import Shown

Account = dict[str, Any]


@click.command()
@asked_of_farm
@click.option("--by", "wanted", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
              help="A day on which you want castings: what taking a side then would mean."
                   " Without it: the day it is most likely empty.")
@click.option("--worms", default=5.0, show_default=True, metavar="PERCENT",
              type=click.FloatRange(0.5, 50), help="Worms that may be left in what you take.")
@click.option("--cocoons", default=10.0, show_default=True, metavar="PERCENT",
              type=click.FloatRange(0.5, 90), help="Cocoons that may be left in it.")
@click.option("--water", default=60.0, show_default=True, metavar="PERCENT",
              type=click.FloatRange(35, 80), help="Water at which it goes through your mesh.")
def dates(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str,
          wanted: dt.datetime | None, worms: float, cocoons: float,
          water: float) -> None:  # fmt: skip
    """When a resting side of DIR is ready, when to switch sides, add a tray or split a bed.

    Looks five months ahead on the usual weather of the place; every date has odds.
    """
    from bedlore.decide.date_records import Targets
    from bedlore.service.dates import dates_account, dates_of
    from bedlore.service.shown import Shown

    check_place(out)
    targets = Targets(worms / 100.0, cocoons / 100.0, water / 100.0)
    with worked_on(folder, moment, bed_id) as asked:
        found = dates_of(
            asked.farm, asked.log, asked.recorded, asked.now, asked.keeping, bed_id=asked.bed_id,
            by=wanted.date() if wanted else None, targets=targets, fresh=fresh,
            progress=asked.progress,
        )  # fmt: skip
    account = dates_account(found)
    shown = Shown(found.farm.preferences.units)
    show(account, as_json, out, lambda told: render_dates(told, shown))


def render_dates(account: Account, shown: Shown) -> RenderableType:
    """Each bed's dates, then what the keeper's own day would mean, then what they rest on."""
    from rich.text import Text

    def of_bed(bed: Account) -> Iterator[Text]:
        yield from (Text(f"  {shown.sentence(line)}") for line in _lines(bed))
        yield from (Text(f"  {shown.sentence(line)}", style="dim") for line in bed["notes"])

    return bed_by_bed(account, of_bed)


def _lines(bed: Account) -> Iterator[str]:
    from bedlore.decide.date_words import ORDER

    for each in sorted(bed["milestones"], key=lambda m: ORDER.index(m["milestone"])):
        yield each["words"]
    if bed["last_feeds"]:
        yield bed["last_feeds"]["words"]
    for taking in bed["takings"]:
        yield taking["words"]
        yield from (rescue["words"] for rescue in taking["rescues"])
