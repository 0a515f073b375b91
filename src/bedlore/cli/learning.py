"""Commands that learn from the log: learn, herd, score."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import show
from bedlore.cli.options import (
    asked_of_farm,
    at_option,
    bed_meant,
    bed_option,
    folder_argument,
    json_option,
    moment_asked,
    only_bed,
    out_option,
    worked_on,
)
from bedlore.say import joined, listener, message, say, say_many
from bedlore.say.language import decimal, listen

MOST_LINES = 8  # parameters told in text
_STAGES = (message("adults"), message("juveniles"), message("hatchlings"), message("cocoons"))
_SEASONS = {
    "Dec-Feb": message("December to February"), "Mar-May": message("March to May"),
    "Jun-Aug": message("June to August"), "Sep-Nov": message("September to November"),
}  # fmt: skip

if TYPE_CHECKING:
    from rich.console import RenderableType

    from bedlore.service.learn import Learning


def _learning(folder: Path, moment: str, *, fresh: bool, thorough: bool = False) -> Learning:
    from bedlore.service.learn import learn as learn_farm

    with worked_on(folder, moment, "") as asked:
        return learn_farm(asked.farm, asked.log, asked.recorded, asked.now, asked.keeping,
                          fresh=fresh, thorough=thorough, progress=asked.progress)  # fmt: skip


@click.command()
@asked_of_farm
@click.option(
    "--thorough", is_flag=True,
    help="Allow the long run (minutes) where the quick one cannot be trusted.",
)  # fmt: skip
def learn(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str,
          thorough: bool) -> None:  # fmt: skip
    """Learn what each bed of DIR is really like from its log.

    Says what the log has told, which readings nothing explains, and what the model cannot do.
    """
    from bedlore.service.learn import learn_account

    learning = _learning(folder, moment, fresh=fresh, thorough=thorough)
    account = only_bed(learn_account(learning), bed_id)
    show(account, as_json, out, render_learn)


@click.command()
@asked_of_farm
@click.option("--take", "worms", default="", metavar="MASS",
              help="Live worms to sell or give away, such as 500g: what is left, and when the"
              " herd is back.")
@click.option("--take-share", "share", default="", metavar="PERCENT",
              help="The same as a share of the adults and juveniles, such as 50%.")
@click.option("--stage", type=click.Choice(["adults", "juveniles"]), default=None,
              help="Only these are taken; without it both in proportion.")
@click.option("--split", is_flag=True,
              help="Bedding, hatchlings and cocoons go too, as in a split or a harvest.")
def herd(folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str, worms: str,
         share: str, stage: str | None, split: bool) -> None:  # fmt: skip
    """How many worms live in the beds of DIR, how sure that is, and what counting would add.

    With --take or --take-share also what a harvest, a split or a sale leaves of one bed's herd.
    """
    from bedlore.service.herd_after import herd_after_account, take_asked
    from bedlore.service.learn import herd_account
    from bedlore.service.learn import learn as learn_farm

    asks = bool(worms or share or stage or split)
    take = take_asked(worms, share, stage or "", split=split) if asks else None
    with worked_on(folder, moment, "") as asked:
        bed = bed_meant(asked.farm, bed_id) if take else None
        learning = learn_farm(asked.farm, asked.log, asked.recorded, asked.now, asked.keeping,
                              fresh=fresh, progress=asked.progress)  # fmt: skip
        after = {}
        if take and bed:
            after[bed.id] = herd_after_account(asked.farm, bed, asked.log, asked.recorded,
                                               asked.now, asked.keeping, take)  # fmt: skip
        account = only_bed(herd_account(learning), bed_id)
        for told in account["beds"]:
            told |= {"herd_after": after[told["bed"]]} if told["bed"] in after else {}
    show(account, as_json, out, render_herd)


@click.command()
@folder_argument
@json_option
@bed_option
@at_option
@out_option
def score(folder: Path, as_json: bool, bed_id: str, moment: str, out: str) -> None:
    """How past outlooks for the beds of DIR turned out, against simple guesses."""
    from bedlore.service.score import score_account
    from bedlore.store.files import FarmFolder
    from bedlore.store.learnings import Learnings
    from bedlore.store.weather_files import recorded_weather

    store = FarmFolder(folder)
    farm = store.load_farm()
    listen(farm.preferences.language, farm.preferences.units)
    log = store.read_log(farm, moment_asked(folder, moment, farm))
    account = score_account(
        farm, log.current, recorded_weather(folder, farm.site), Learnings(folder)
    )
    show(only_bed(account, bed_id), as_json, out, render_score)


def register(group: click.Group) -> None:
    """Add the commands to ``group``."""
    for command in (learn, herd, score):
        group.add_command(command)


def _heading(bed: dict[str, Any]) -> RenderableType:
    from rich.text import Text

    return Text(f"\n{bed['name'] or bed['bed']}", style="bold")


def render_learn(account: dict[str, Any]) -> RenderableType:
    """What was learnt, bed by bed."""
    from rich.console import Group
    from rich.padding import Padding
    from rich.text import Text

    from bedlore.service.shown import Shown

    sentence = Shown(listener().units).sentence
    parts: list[RenderableType] = [Text(account["farm"], style="bold")]
    for bed in account["beds"]:
        how = say("How: {method}.", method=bed["method_words"])
        parts += [_heading(bed), Text(bed["words"]), Text(how, "dim")]
        parts += [Text(note) for note in bed["notes"]]
        told = [row["words"] for row in bed["parameters"][:MOST_LINES]]
        told = told or [say("The log has told nothing new yet.")]
        more = len(bed["parameters"]) - MOST_LINES
        told += [say("And {more} more things a little: see --json.", more=more)] if more > 0 else []
        parts += [Padding(Text(line), (0, 0, 0, 2)) for line in told]
        if bed["outliers"]:
            odd = joined([one["words"] for one in bed["outliers"]])
            parts.append(Text(sentence(
                say("Far from anything expected, so it weighs little: {odd}.", odd=odd)
            )))  # fmt: skip
        parts += [Text(sentence(say("Mind: {complaint}", complaint=one["sentence"])))
                  for one in bed["complaints"]]  # fmt: skip
    return Group(*parts, *_faults(account))


def _faults(account: dict[str, Any]) -> list[RenderableType]:
    """A line on what could not be used."""
    from rich.text import Text

    count = len(account["faults"])
    if not count:
        return []
    return [Text("\n" + say_many("{count} thing could not be used: see `bedlore check`.",
                                 "{count} things could not be used: see `bedlore check`.",
                                 count))]  # fmt: skip


def render_herd(account: dict[str, Any]) -> RenderableType:
    """The herd, bed by bed."""
    from rich.console import Group
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    from bedlore.say.amounts import number_words
    from bedlore.service.shown import Shown

    shown = Shown(listener().units)
    mass = shown.mass
    parts: list[RenderableType] = [Text(account["farm"], style="bold")]
    for bed in account["beds"]:
        table = Table.grid(padding=(0, 2))
        rows: list[tuple[str, list[float], Callable[[float], str]]]
        rows = [(say(name), bed[f"{name}_n"], number_words) for name in _STAGES]
        rows += [(say("worms in {zone}", zone=one["zone_name"]), one["worms_kg"], mass)
                 for one in bed["zones"] if one["worms_kg"][-1] > 0.0]  # fmt: skip
        daily = say("food a day at {temp}", temp=shown.temp(20.0))
        rows.append((daily, bed["feed_kg_day"], mass))
        for name, (low, middle, high), said in rows:
            span = say("{low} to {high}", low=said(low), high=said(high))
            table.add_row(Text(name), Text(said(middle)), Text(span))
        parts += [_heading(bed), *(Text(shown.sentence(note), "dim") for note in bed["notes"]),
                  Text(shown.sentence(bed["words"])), Padding(table, (0, 0, 0, 2)),
                  Text(shown.sentence(bed["counting"]["words"]))]  # fmt: skip
        if "herd_after" in bed:
            parts.append(Text(shown.sentence(bed["herd_after"]["words"])))
    return Group(*parts)


def render_score(account: dict[str, Any]) -> RenderableType:
    """The score card in words."""
    from rich.console import Group
    from rich.padding import Padding
    from rich.text import Text

    from bedlore.service.shown import Shown

    sentence = Shown(listener().units).sentence
    parts: list[RenderableType] = [
        Text(account["farm"], style="bold"),
        Text(say_many("{count} outlook on record.", "{count} outlooks on record.",
                      account["outlooks"])),
    ]  # fmt: skip
    for bed in account["beds"]:
        parts.append(_heading(bed))
        parts += [Text(sentence(line)) for line in bed["words"]]
        parts += [Padding(Text(sentence(group_words(card)), "dim"), (0, 0, 0, 2))
                  for card in bed["cards"][1:]]  # fmt: skip
    return Group(*parts)


def group_words(card: dict[str, Any]) -> str:
    """``3 days ahead: 12 readings, off by 0.8 K, 11 inside the 9-in-10 band``."""
    covered = round(card["covered_90"] * card["count"])
    return say_many(
        "{group}: {count} reading, off by {kelvin} K, {covered} inside the 9-in-10 band",
        "{group}: {count} readings, off by {kelvin} K, {covered} inside the 9-in-10 band",
        card["count"], group=_group_name(card["group"]),
        kelvin=decimal(f"{card['crps_k']:.1f}"), covered=covered,
    )  # fmt: skip


def _group_name(group: str) -> str:
    """A season, or how many days ahead."""
    if group in _SEASONS:
        return say(_SEASONS[group])
    days = group.partition(" ")[0]
    return say_many("{count} day ahead", "{count} days ahead", int(days))
