"""``bedlore what-if``: something changed in a bed today, and both futures side by side."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import check_place, show
from bedlore.cli.options import asked_of_farm, bed_meant, worked_on
from bedlore.say import say
from bedlore.say.language import decimal

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.shown import Shown

Account = dict[str, Any]
_SWITCH = click.Choice(["as it is", "on", "off"])
_STAYS = "as it is"


@click.command("what-if")
@asked_of_farm
@click.option("--feed", default="", metavar="AMOUNT",
              help='Feed so much, such as "4 kg" or "half a bucket".')
@click.option("--material", default="", metavar="NAME",
              help="Of this material; mixed kitchen scraps if left out.")
@click.option("--zone", default="", metavar="ID",
              help="Into this zone or side; where the bed is fed now if left out.")
@click.option("--place", default="spread", show_default=True,
              type=click.Choice(["spread", "lump"]), help="Spread it, or tip it in a lump.")
@click.option("--cover", default=_STAYS, show_default=True, type=_SWITCH,
              help="Take the cover off, or lay another in its place.")
@click.option("--cover-material", "cover_material", default="", metavar="NAME",
              help="Of this material; loose straw if left out.")
@click.option("--cover-thickness", "cover_m", default="", metavar="LENGTH",
              help="So thick; 5 cm if left out.")
@click.option("--lid", default=_STAYS, show_default=True, type=_SWITCH,
              help="Close the lid or take it off.")
@click.option("--foam-walls", "foam_walls_m", default="", metavar="LENGTH",
              help="Add foam board of this thickness round walls and floor.")
@click.option("--foam-lid", "foam_lid_m", default="", metavar="LENGTH",
              help="Add foam board of this thickness on top.")
@click.option("--mat", default=_STAYS, show_default=True, type=_SWITCH,
              help="Switch the heat mat on or off.")
@click.option("--mat-power", "mat_watts", default="", metavar="POWER",
              help="A mat of this power in place of the bed's own.")
@click.option("--mat-setpoint", "mat_setpoint_c", default="", metavar="TEMPERATURE",
              help="Set its thermostat to this.")
def what_if(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str,
            **changes: str) -> None:  # fmt: skip
    """The next 14 days of a bed of DIR as it is, and with something changed today.

    Both futures run in the same weather, so that what differs is the change. Nothing is written
    down.
    """
    from bedlore.service.shown import Shown
    from bedlore.service.what_if import read_change, start_what_if
    from bedlore.service.what_if import what_if as both_futures
    from bedlore.service.what_if_told import what_if_account

    check_place(out)
    with worked_on(folder, moment, bed_id) as asked:
        bed = bed_meant(asked.farm, asked.bed_id)
        change = read_change(changes, asked.farm, bed)
        start = start_what_if(asked.farm, bed, asked.log, asked.recorded, asked.now,
                              asked.keeping, fresh=fresh)  # fmt: skip
        account = what_if_account(both_futures(start, change), asked.farm)
    shown = Shown(asked.farm.preferences.units)
    show(account, as_json, out, lambda told: render_what_if(told, shown))


def render_what_if(account: Account, shown: Shown) -> RenderableType:
    """What would be changed, the differences in words, and both futures in two columns."""
    from rich.console import Group
    from rich.text import Text

    lines = [Text(f"- {shown.sentence(line)}") for line in account["difference_words"]]
    cautions = [Text(f"- {shown.sentence(line)}") for line in account["cautions"]]
    return Group(
        Text(f"{account['name']}: {shown.sentence(account['change_words'])}", style="bold"),
        Text(say("Worked out on the same {members} futures.", members=account["members"]),
             style="dim"),
        Text(""), *lines, Text(""), _table(account, shown),
        *([Text(""), Text(say("Take care"), style="bold"), *cautions] if cautions else []),
    )  # fmt: skip


def _table(account: Account, shown: Shown) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 2), pad_edge=False, header_style="dim")
    for head in ("", say("as it is"), say("with it")):
        table.add_column(Text(head))
    for row in _rows(account, shown):
        table.add_row(*map(Text, row))
    return table


def _rows(account: Account, shown: Shown) -> Iterator[tuple[str, str, str]]:
    from bedlore.service.phrases import band_words, mass_band, odds_rows

    sides = account["as_is"], account["with_it"]
    odds = odds_rows({"effect": sides[1], "without": sides[0]}, account["limits"], shown)
    yield from ((row.words, row.left_words, row.acted_words) for row in odds.rows)
    for words, key, kind in (
        (say("coldest place"), "coldest_c", "temp"), (say("warmest place"), "warmest_c", "temp"),
        (say("water in the end"), "moisture_frac", "share"),
    ):  # fmt: skip
        yield words, band_words(sides[0][key], shown, kind), band_words(sides[1][key], shown, kind)
    yield say("food left in the end"), *(mass_band(side["food_left_kg"], shown) for side in sides)  # type: ignore[misc]
    if any(side["energy_kwh"] for side in sides):
        energy = (decimal(f"{side['energy_kwh']:.1f} kWh") for side in sides)
        yield say("heat mat"), *energy  # type: ignore[misc]
