"""Commands for trouble and for being away: aid, away."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import check_place, show, write_bytes
from bedlore.cli.options import (
    at_option,
    bed_meant,
    bed_named,
    bed_option,
    farm_in,
    folder_argument,
    json_option,
    moment_asked,
    out_option,
)
from bedlore.errors import KeeperError
from bedlore.say import joined, say, sentences

if TYPE_CHECKING:
    import datetime as dt

    from rich.console import RenderableType
    from rich.text import Text

    from bedlore.decide.case import Case
    from bedlore.farm.bed import Bed
    from bedlore.farm.model import Farm
    from bedlore.farm.reading import LogReading

Account = dict[str, Any]


@click.command()
@folder_argument
@json_option
@bed_option
@at_option
@click.option("--symptom", "symptoms", multiple=True, metavar="WORDS",
              help='What is seen or smelt, such as "smells sour"; may be given several times.')
@click.option("--absent", multiple=True, metavar="WORDS",
              help="What was looked for and is not there; may be given several times.")
@click.option("--skip", multiple=True, metavar="WORDS",
              help="What cannot be looked at now; may be given several times.")
@out_option
def aid(folder: Path, as_json: bool, bed_id: str, moment: str, symptoms: tuple[str, ...],
        absent: tuple[str, ...], skip: tuple[str, ...], out: str) -> None:  # fmt: skip
    """First aid: from what is seen at a bed of DIR to likely causes, and what to do.

    Without a symptom it lists them, with what is careful to do whatever it is. Each answer names
    the check that would tell the most; give its answer as --symptom or --absent.
    """
    from bedlore.service.first_aid import aid_account, careful_account, finding_called

    farm = farm_in(folder)
    answered = {finding_called(words): True for words in symptoms}
    answered |= {finding_called(words): False for words in absent}
    if not answered:
        account = {"farm": farm.name, **careful_account()}
        show(account, as_json, out, render_careful)
        return
    now, bed = moment_asked(folder, moment, farm), bed_meant(farm, bed_id)
    outlook, entries = _seen(folder, farm, bed, now)
    skipped = frozenset(finding_called(words) for words in skip)
    told = aid_account(farm, bed, outlook, entries, now, answered, skipped)
    show({"farm": farm.name, "beds": [told]}, as_json, out, render_aid)


@click.command()
@folder_argument
@json_option
@bed_option
@at_option
@click.option("--from", "leave", required=True, metavar="DATE", help="The day you leave.")
@click.option("--to", "back", required=True, metavar="DATE", help="The day you are back.")
@click.option("--call", default="", metavar="WORDS",
              help="Whom the neighbour is to call, with the number; a line to fill in without it.")
@click.option("--pdf", default="", metavar="FILE",
              help="Write the neighbour's sheet here, a page a bed.")
@out_option
def away(folder: Path, as_json: bool, bed_id: str, moment: str, leave: str, back: str, call: str,
         pdf: str, out: str) -> None:  # fmt: skip
    """What to leave at the beds of DIR for an absence, and what a neighbour should do, when.

    Weighs feeding before, a neighbour once a week, both or neither, over all its odds. Dates are
    written like 2026-08-03.
    """
    from bedlore.service.away import away_account, day_of, days_of

    check_place(pdf)
    farm = farm_in(folder)
    now = moment_asked(folder, moment, farm)
    gone, returned = day_of(leave, "--from"), day_of(back, "--to")
    today = now.astimezone(farm.site.zone_info()).date()
    days_of(gone, returned, today)  # or it raises
    named = bed_named(farm, bed_id)
    told = []
    for bed in [farm.bed(named)] if named else farm.standing(today):
        if bed is not None:
            case = _case(folder, farm, bed, now)
            told.append(away_account(farm, bed, case, gone, returned, call))
    account = {"farm": farm.name, "beds": told}
    if pdf:
        from bedlore.service.shown import Shown
        from bedlore.sheets.away_sheet import away_pdf

        write_bytes(away_pdf(account, Shown(farm.preferences.units)), pdf)
    show(account, as_json, out, lambda account: render_away(account, farm.preferences.units))


def _seen(folder: Path, farm: Farm, bed: Bed, now: dt.datetime) -> tuple[Any, Any]:
    """The bed as it is (None before it began) and the log."""
    from bedlore.service.beds_now import outlook_now

    log = _log(folder, farm, now)
    try:
        return outlook_now(_case(folder, farm, bed, now)), log.current
    except KeeperError:
        return None, log.current


def _log(folder: Path, farm: Farm, now: dt.datetime) -> LogReading:
    from bedlore.store.files import FarmFolder

    return FarmFolder(folder).read_log(farm, now)


def _case(folder: Path, farm: Farm, bed: Bed, now: dt.datetime) -> Case:
    """The bed now, in few members; raises KeeperError before it began."""
    from bedlore.service.beds_now import BedsNow
    from bedlore.store.keepsakes import Keepsakes
    from bedlore.store.weather_files import recorded_weather

    work = BedsNow(farm, [bed], _log(folder, farm, now), recorded_weather(folder, farm.site), now,
                   Keepsakes(folder))  # fmt: skip
    return work.few_case(bed)


def render_careful(account: Account) -> RenderableType:
    """The list of symptoms and the careful defaults."""
    from rich.console import Group
    from rich.text import Text

    names = [Text(f"  {one['words']}") for one in account["symptoms"]]
    return Group(
        Text(account["farm"], style="bold"), _below(say("Careful whatever it is:")),
        *_bullets(account["careful"]), _below(say("Take care of yourself:")),
        *_bullets(account["cautions"]),
        _below(say('What do you see? Give it as --symptom "...":')), *names,
    )  # fmt: skip


def render_aid(account: Account) -> RenderableType:
    """Causes with odds, check and act; then what to ask next."""
    from rich.console import Group
    from rich.text import Text

    parts: list[RenderableType] = []
    for bed in account["beds"]:
        parts.append(Text(say("{bed}: first aid", bed=bed["name"] or bed["bed"]), style="bold"))
        if bed["from_log"]:
            found = joined([one["words"] for one in bed["from_log"]], "; ")
            parts.append(Text(say("From your log: {found}", found=found)))
        if bed["unsure"]:
            parts.append(_below(say("Not clear yet. Careful whatever it is:")))
            parts += _bullets(bed["careful"])
        for one in bed["suspects"]:
            name = one["words"][:1].upper() + one["words"][1:]
            parts.append(Text(f"\n{name} – {one['odds_words']}", style="bold"))
            if one["speaks_for"]:
                spoken = ", ".join(one["speaks_for"]).lower()
                parts.append(_within(say("speaks for it: {found}", found=spoken)))
            parts.append(_within(say("do: {act} {later}", act=one["act"], later=one["later"])))
            if one["check"]:
                question = say("would tell: {question}", question=one["check"]["question"])
                parts.append(_within(question, "dim"))
            parts.append(Text("  " + "; ".join(one["sources"]), style="dim"))
        usual = bed["usual"]
        parts.append(_below(say("Or {usual} – {odds}.", usual=usual["words"],
                                odds=usual["odds_words"])))  # fmt: skip
        parts.append(_below(say("Take care:")))
        parts += [*_bullets(bed["cautions"]), _next(bed["ask"])]
    return Group(*parts)


def _next(ask: Account | None) -> RenderableType:
    from rich.text import Text

    if ask is None:
        return _below(say("Nothing more to ask that would tell much."))
    question = sentences(ask["question"], ask["how"])
    most = say("Would tell the most: {question}", question=question)
    answer = say("Answer with --symptom {finding} or --absent {finding} (or --skip {finding}).",
                 finding=ask["finding"])  # fmt: skip
    return Text(f"\n{most}\n{answer}")


def _below(line: str) -> Text:
    """A line after an empty one."""
    from rich.text import Text

    return Text(f"\n{line}")


def _within(line: str, style: str = "") -> Text:
    """A line that belongs to the one above."""
    from rich.text import Text

    return Text(f"  {line}", style=style)


def _bullets(lines: list[str]) -> list[Any]:
    from rich.padding import Padding
    from rich.text import Text

    return [Padding(Text(f"- {line}"), (0, 0, 0, 2)) for line in lines]


def render_away(account: Account, units: Any) -> RenderableType:
    """What to leave, what the neighbour does, and the ways that were weighed."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    from bedlore.decide.words import odds_short
    from bedlore.service.shown import Shown

    shown = Shown(units)
    parts: list[RenderableType] = [Text(account["farm"], style="bold")]
    for bed in account["beds"]:
        when = say("{first} to {last}", first=bed["leave"], last=bed["return"])
        parts += [Text(f"\n{bed['name'] or bed['bed']}, {when}", style="bold"),
                  Text(shown.sentence(bed["headline"])), _below(say("Before you leave:")),
                  *_bullets([shown.sentence(line) for line in bed["leave_with"]])]  # fmt: skip
        if bed["visits"]:
            parts.append(_below(say("A neighbour looks on {days}.",
                                    days=", ".join(bed["visits"]))))  # fmt: skip
            cup = " + ".join(map(shown.sentence, bed["cup"]))
            parts.append(Text(say("One cup is {parts}.", parts=cup)))
            rows = [f"{one['words']}: {one['act']}" for one in bed["finds"]]
            parts += _bullets([shown.sentence(row) for row in rows])
        call = say("Call {whom} if {reasons}.", whom=bed["call"] or say("(whom: --call)"),
                   reasons=joined(bed["call_if"], "; "))  # fmt: skip
        parts += [_below(say("Weather:")), *_bullets([shown.sentence(w) for w in bed["watch"]]),
                  _below(say("Never:")), *_bullets(bed["never"]), _below(call),
                  _below(say("Take care:")), *_bullets(bed["cautions"]), Text("")]  # fmt: skip
        table = Table.grid(padding=(0, 2))
        heads = (say("what was weighed"), say("cold"), say("heat"), say("sour"),
                 say("hungry days"), say("worms kept"))  # fmt: skip
        table.add_row(*(Text(head, style="dim") for head in heads))
        for way in bed["weighed"]:
            odds = way["odds"]
            risks = [odds_short(odds[key], odds["members"])
                     for key in ("odds_cold", "odds_hot", "odds_sour")]  # fmt: skip
            low, middle, high = (f"{share:.0%}" for share in way["herd_kept"])
            kept = say("{middle} ({low} to {high})", middle=middle, low=low, high=high)
            name = f"{'> ' if way['chosen'] else '  '}{shown.sentence(way['words'])}"
            table.add_row(Text(name, style="bold" if way["chosen"] else ""), *map(Text, risks),
                          Text(f"{way['hungry_d'][1]:.0f}"), Text(kept))
        parts.append(table)
    return Group(*parts)
