"""``bedlore plan``: the coming fortnight of each bed as a few dated acts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import bed_by_bed, check_place, show
from bedlore.cli.options import asked_of_farm, worked_on
from bedlore.say import say

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.shown import Shown

Account = dict[str, Any]


@click.command()
@asked_of_farm
def plan(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool,
         out: str) -> None:  # fmt: skip
    """What to do with the beds of DIR in the coming fortnight: what, how much, where and when.

    Some hundred plans are tried; the best is judged on futures that had no part in the choice.

    It is kept: today, why and report follow it for the day, until something is written down.
    """
    from bedlore.service.plan import plan_account, plans_of
    from bedlore.service.shown import Shown

    check_place(out)
    with worked_on(folder, moment, bed_id) as asked:
        found = plans_of(asked.farm, asked.log, asked.recorded, asked.now, asked.keeping,
                         bed_id=asked.bed_id, fresh=fresh, progress=asked.progress)  # fmt: skip
    account = plan_account(found)
    shown = Shown(found.farm.preferences.units)
    show(account, as_json, out, lambda told: render_plan(told, shown))


def render_plan(account: Account, shown: Shown) -> RenderableType:
    """Each bed: its dated acts, how sure, what each is worth, what a reading is worth."""
    from rich.text import Text

    def of_bed(bed: Account) -> Iterator[Text]:
        steps = (shown.sentence(step["words"]) for step in bed["steps"])
        yield from (Text(f"  {line}", style="bold") for line in steps)
        yield from (Text(f"  {shown.sentence(line)}") for line in _lines(bed, account["currency"]))
        yield from (Text(f"  {shown.sentence(line)}", style="dim") for line in bed["cautions"])

    return bed_by_bed(account, of_bed)


def _lines(bed: Account, currency: str) -> Iterator[str]:
    yield from bed["notes"]
    if bed["needs"]:
        yield bed["needs"]
    if bed["energy_cost"] is not None and bed["effect"]["energy_kwh"] >= 0.05:
        yield say("The mat takes about {kwh} kWh, {cost} {currency}.",
                  kwh=round(bed["effect"]["energy_kwh"], 1), cost=round(bed["energy_cost"], 2),
                  currency=currency)  # fmt: skip
    elif bed["effect"]["energy_kwh"] >= 0.05:
        yield say("The mat takes about {kwh} kWh.", kwh=round(bed["effect"]["energy_kwh"], 1))
    if bed["worth"]:
        yield say("What each part is worth, on the futures that the plan was chosen by:")
    yield from (worth["words"] for worth in bed["worth"])
    yield from (worth["words"] for worth in bed["readings_worth"])
