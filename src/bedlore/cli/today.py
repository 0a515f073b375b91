"""Today's advice as text: each bed in order of urgency, at a glance first, reasons below."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from bedlore.say import message, say, sentences
from bedlore.service.phrases import (
    OddsRows,
    band_words,
    fact_words,
    local,
    mass_band,
    moment_words,
    odds_rows,
)
from bedlore.service.shown import Shown

Account = dict[str, Any]
_DOTS = 10
_BANDS = {"cold": message("bed cold"), "mild": message("bed mild"), "warm": message("bed warm")}
_URGENCY = {"due": message("due"), "can wait": message("can wait")}
_EVENTS = {"power cut": message("Power cut"), "door open": message("Door open")}
MOST_REASONS = 3
_HEAD, _QUIET, _ACT = "bold", "dim", "bold"


def render_today(account: Account, shown: Shown, *, everything: bool = False) -> RenderableType:
    """The whole of ``bedlore today``; ``everything`` leaves nothing out."""
    when = local(account["made_at"], account["time_zone"])
    parts: list[RenderableType] = [
        Text(account["farm"], style=_HEAD),
        Text(moment_words(when)),
        Text(shown.sentence(account["weather"]["note"]), style=_QUIET),
    ]
    parts += [Text(""), _at_a_glance(account["beds"], shown)]
    for bed in account["beds"]:
        parts.append(Text(""))
        parts.extend(_bed(bed, shown, everything))
    parts.extend(_kept_aside(account["kept_aside"], shown))
    return Group(*parts)


def _at_a_glance(beds: list[Account], shown: Shown) -> RenderableType:
    """One line a bed: its mark, its name, what to do."""
    table = Table.grid(padding=(0, 2))
    for style in (_ACT, _ACT, ""):
        table.add_column(style=style, no_wrap=style == _ACT)
    for bed in beds:
        table.add_row(Text(str(bed["mark"])), Text(bed["name"]),
                      Text(shown.sentence(bed["advice"]["headline"])))  # fmt: skip
    return table


def _bed(bed: Account, shown: Shown, everything: bool) -> Iterator[RenderableType]:
    advice = bed["advice"]
    urgency = bed["urgency"]
    yield _rule(f"{bed['mark']}  {bed['name']} – {say(_URGENCY[urgency])}")
    yield Padding(Text(shown.sentence(advice["headline"]), style=_ACT), (0, 0, 0, 2))
    yield _facts(_today_facts(bed, shown, everything), shown)
    odds = odds_rows(advice, bed["limits"], shown)
    yield Padding(_odds(odds, bool(advice["action"]["kind"] != "nothing")), (0, 0, 0, 2))
    yield _facts(_later_facts(bed, shown, everything), shown)
    yield Padding(_card(bed["card"], shown), (0, 0, 0, 2))


def _rule(words: str) -> Rule:
    return Rule(Text(f" {words} ", style=_HEAD), align="left", characters="─", style=_QUIET)


def _today_facts(bed: Account, shown: Shown, everything: bool) -> Iterator[tuple[str, str]]:
    advice, now = bed["advice"], bed["now"]
    yield say("Now"), say("{temps} at the thermometer; {moisture} water",
                          temps=band_words(now["temp_probe_c"], shown, "temp"),
                          moisture=band_words(now["moisture_frac"], shown, "share"))  # fmt: skip
    yield say("Rests on"), rests_line(bed)
    yield say("Which advice"), advice["lead_words"]
    signs = [f"{one['words']} {one['act']}" for one in bed["early"]]
    chance = [one["by_chance"] for one in bed["early"][:1]]
    yield from _listed(say("Early signs"), [*signs, *chance])
    reasons = advice["reasons"] if everything else advice["reasons"][:MOST_REASONS]
    for place, reason in enumerate(reasons):
        yield say("Why") if place == 0 else "", fact_words(reason)
    if advice["cause_of_change"]:
        yield say("Changed"), advice["cause_of_change"]


def _later_facts(bed: Account, shown: Shown, everything: bool) -> Iterator[tuple[str, str]]:
    advice, pantry, boat = bed["advice"], bed["pantry"], bed["lifeboat"]
    yield say("When you dig"), advice["expect"]
    yield say("If you leave it"), advice["cost_of_ignoring"]
    yield say("Would change it"), " ".join(advice["would_change"][: None if everything else 1])
    yield say("Ahead"), advice["ahead_words"]
    yield say("Pantry"), pantry["words"] or mass_band(bed["now"]["food_left_kg"], shown)
    if boat["event"]:
        yield say("Lifeboat"), boat["words"]
    yield from _listed(say("Dates"), bed["dates_ahead"])
    yield from _listed(say("What if"), advice["would_help"][: None if everything else 3])
    if everything:
        told = ((_EVENTS[one["event"]], one["words"]) for one in bed["harm"])
        yield from ((say(event), words) for event, words in told)
    yield from _listed(say("Take care"), advice["cautions"])
    yield from _listed(say("Notes"), bed["notes"] if everything else bed["notes"][:1])


def _listed(name: str, lines: list[str]) -> Iterator[tuple[str, str]]:
    """The name beside the first line only."""
    return (((name if place == 0 else ""), line) for place, line in enumerate(lines))


def _facts(rows: Iterator[tuple[str, str]], shown: Shown) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True, style=_QUIET, min_width=15)
    table.add_column(ratio=1)
    for name, text in rows:
        if text:
            table.add_row(Text(name), Text(shown.sentence(text)))
    return Padding(table, (0, 0, 0, 2))


def dots(share: float) -> str:
    """Ten dots, as many filled as there are tenths; a real chance fills at least half of one."""
    full = round(share * _DOTS)
    if full == 0 and share > 0:
        return "◐" + "○" * (_DOTS - 1)
    return "●" * full + "○" * (_DOTS - full)


def _odds(odds: OddsRows, acting: bool) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    table.add_column(min_width=24)
    idle = say("if you do nothing")
    sides = (say("if you do this"), idle) if acting else (idle,)
    for _ in sides:
        table.add_column(no_wrap=True)
    if odds.rows:
        table.add_row(*(Text(head, style=_QUIET) for head in (say("Odds, next 14 days"), *sides)))
    for row in odds.rows:
        with_it = [f"{dots(row.acted)} {row.acted_words}"] if acting else []
        cells = (*with_it, f"{dots(row.left)} {row.left_words}")
        table.add_row(Text(row.words), *(Text(cell) for cell in cells))
    return Group(table, Text(odds.rest)) if odds.rest else table


def _card(card: Account, shown: Shown) -> RenderableType:
    bands = list(dict.fromkeys(row["band"] for row in card["rows"]))
    table = Table(box=_plain_box(), show_header=True, header_style=_QUIET, pad_edge=False,
                  title=Text(say("If you find ... food left"), style=_QUIET), title_justify="left")
    table.add_column("")
    for band in bands:
        table.add_column(Text(say(_BANDS[band])), ratio=1)
    by_left: dict[str, dict[str, str]] = {}
    for row in card["rows"]:
        by_left.setdefault(row["food_left"], {})[row["band"]] = row["act"]
    for left, acts in by_left.items():
        told = (shown.sentence(acts.get(band, "")) for band in bands)
        table.add_row(Text(say(left)), *map(Text, told))
    until = say("Good until {day}.", day=card["good_until"])
    note = Text(shown.sentence(sentences(card["note"], until)), style=_QUIET)
    return Group(table, note)


def _plain_box() -> Any:
    from rich import box

    return box.SIMPLE_HEAD


def _kept_aside(faults: list[Account], shown: Shown) -> Iterator[RenderableType]:
    if not faults:
        return
    yield Text("")
    yield _rule(say("Kept aside, nothing lost"))
    for fault in faults[:MOST_FAULTS]:
        yield Padding(Text(f"{fault['path']}: {shown.sentence(fault['sentence'])}"), (0, 0, 0, 2))
    if len(faults) > MOST_FAULTS:
        yield Padding(Text(say("and {count} more: see `bedlore check`",
                               count=len(faults) - MOST_FAULTS)),
                      (0, 0, 0, 2))


MOST_FAULTS = 8


def rests_line(bed: Account) -> str:
    """What a bed's figures rest on, and what to run where that could be better."""
    rests = bed["rests"]
    return sentences(rests["words"], say("Run `bedlore learn`.") if rests["wants_learning"] else "")
