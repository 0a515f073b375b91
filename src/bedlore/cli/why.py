"""The command that tells the reasons behind today's advice in full."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import check_place, emit_json
from bedlore.cli.options import asked_of_farm, only_bed
from bedlore.say import message, say

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.shown import Shown

Account = dict[str, Any]
_KINDS = {
    "probe": message("thermometer"), "air": message("air"), "squeeze": message("squeeze test"),
    "look": message("look"), "core": message("core counted"),
    "moisture": message("water by weight"), "depth": message("depth of bedding"),
    "dig": message("dug for worms"),
}  # fmt: skip


@click.command()
@asked_of_farm
def why(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str) -> None:
    """Why today's advice for the beds of DIR is what it is: the whole of it.

    What was read, what the log has taught of each bed, every reason, what else was tried and what
    it lost by, and what would change the advice.
    """
    from bedlore.cli.farm_commands import morning_of
    from bedlore.service.why import why_account
    from bedlore.store.files import FarmFolder
    from bedlore.store.learnings import Learnings

    check_place(out)
    morning = morning_of(folder, moment, fresh=fresh)
    entries = FarmFolder(folder).read_log(morning.farm, morning.now).current
    account = only_bed(why_account(morning, entries, Learnings(folder)), bed_id)
    if as_json:
        emit_json(account, out)
        return
    from bedlore.cli.console import print_text
    from bedlore.service.shown import Shown

    print_text(render_why(account, Shown(morning.farm.preferences.units)), out)


def render_why(account: Account, shown: Shown) -> RenderableType:
    """The reasons, bed by bed."""
    from rich.console import Group
    from rich.text import Text

    parts: list[RenderableType] = [
        Text(account["farm"], style="bold"),
        Text(shown.sentence(account["weather"]["note"]), style="dim"),
    ]
    for bed in account["beds"]:
        parts += [Text(f"\n{bed['name'] or bed['bed']}", style="bold"),
                  Text(shown.sentence(bed["headline"]), style="bold")]  # fmt: skip
        for title, lines in _sections(bed):
            if lines:
                parts.append(_section(title, [shown.sentence(line) for line in lines]))
    return Group(*parts)


def _section(title: str, lines: list[str]) -> RenderableType:
    """A title in the margin with its lines beside it."""
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True, style="dim", min_width=15)
    table.add_column(ratio=1)
    for place, line in enumerate(lines):
        table.add_row(Text(title if place == 0 else ""), Text(line))
    return Padding(table, (0, 0, 0, 2))


def _sections(bed: Account) -> Iterator[tuple[str, list[str]]]:
    from bedlore.cli.today import rests_line
    from bedlore.service.phrases import fact_words, short_day

    data: list[str] = [
        say("{kind}: {count}, the last on {day}", kind=say(_KINDS[one["kind"]]),
            count=one["count"], day=short_day(dt.datetime.fromisoformat(one["at"]).date()))
        for one in bed["data"]
    ]
    yield say("Which advice"), [bed["lead_words"]] if bed["lead_words"] else []
    yield say("Rests on"), [rests_line(bed)]
    yield say("Last 6 weeks"), data or [say("No reading in the log.")]
    yield say("Learnt"), [row["words"] for row in bed["parameters"]]
    yield say("Why"), [fact_words(reason) for reason in bed["reasons"]]
    yield say("Changed"), [bed["cause_of_change"]] if bed["cause_of_change"] else []
    yield say("Also tried"), [f"{one['action']['words']} {one['words']}." .replace("..", ".")
                         for one in bed["rivals"]]  # fmt: skip
    yield say("If you leave it"), [bed["cost_of_ignoring"]] if bed["cost_of_ignoring"] else []
    yield say("Would change it"), bed["would_change"]
    yield say("What if"), bed["would_help"]
    yield say("Ahead"), [bed["ahead_words"]] if bed["ahead_words"] else []
