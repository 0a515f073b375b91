"""Commands that work on a farm folder: demo, check, today, outlook, report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedlore.cli.console import (
    check_place,
    emit_json,
    print_text,
    progress_bar,
    terminal,
    write_bytes,
)
from bedlore.cli.options import (
    asked_of_farm,
    at_option,
    farm_in,
    folder_argument,
    fresh_option,
    json_option,
    moment_of,
    only_bed,
)
from bedlore.errors import FaultList
from bedlore.say import say

if TYPE_CHECKING:
    import datetime as dt

    from bedlore.service.morning import Morning

PAGE, SHEET = "report.html", "report.pdf"


def morning_of(folder: Path, moment: str, *, fresh: bool) -> Morning:
    """This morning of the farm in ``folder``, with a bar while it is worked out."""
    from bedlore.wiring import morning_in

    now = moment_of(moment, farm_in(folder)) if moment else None
    with progress_bar() as step:
        return morning_in(folder, now, fresh=fresh, progress=step)


@click.command()
@folder_argument
@json_option
@click.option("--day", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
              help="Stop its story on the morning of this day; else it runs to its end.")
def demo(folder: Path, as_json: bool, day: dt.datetime | None) -> None:
    """Write the invented farm to DIR, with 18 months of log to try things on.

    DIR is made when it is missing; a folder with a farm in it is left alone.
    """
    from bedlore.demo import write_demo

    files = [str(path) for path in write_demo(folder, day.date() if day else None)]
    if as_json:
        emit_json({"folder": str(folder), "files": files})
        return
    click.echo(say("Wrote the invented farm to {folder}. Next: bedlore today {folder}",
                   folder=str(folder)))  # fmt: skip


@click.command()
@folder_argument
@json_option
def check(folder: Path, as_json: bool) -> None:
    """Read every file of DIR that is yours and say all that is wrong with them at once.

    That is the farm file, the log, the weather record, the days ahead you typed and the last
    forecast that was fetched; nothing is fetched now. Ends with 1 when something is to be mended.
    Lines that cannot be used stay in their file.
    """
    from bedlore.service.checking import check_account
    from bedlore.store.files import FarmFolder
    from bedlore.store.weather_files import check_weather
    from bedlore.wiring import moment_in

    try:
        farm = farm_in(folder)
        log = FarmFolder(folder).read_log(farm, moment_in(folder))
        account = check_account(farm, log, *check_weather(folder, farm.site))
    except FaultList as problem:
        account = check_account(None, None, problem.faults)
    if as_json:
        emit_json(account)
    else:
        from bedlore.cli.check import render_check

        terminal().print(render_check(account))
    if account["faults"]:
        raise click.exceptions.Exit(1)


@click.command()
@asked_of_farm
@click.option("--all", "everything", is_flag=True,
              help="Every reason, what would help, and what a mishap would do.")
def today(
    folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str, everything: bool
) -> None:
    """What to do today in the farm of DIR, bed by bed in order of urgency, and why.

    The odds are for the next 14 days and never a promise. Where a plan of today is kept that still
    fits (bedlore plan), this follows it and says so.
    """
    from bedlore.service.account import today_account

    check_place(out)
    morning = morning_of(folder, moment, fresh=fresh)
    account = only_bed(today_account(morning), bed_id)
    if as_json:
        emit_json(account, out)
        return
    from bedlore.cli.today import render_today
    from bedlore.service.shown import Shown

    shown = Shown(morning.farm.preferences.units)
    print_text(render_today(account, shown, everything=everything), out)


@click.command()
@asked_of_farm
@click.option("--every", "every_h", default=24, show_default=True, metavar="HOURS",
              type=click.IntRange(1, 168), help="Hours in one row.")  # fmt: skip
def outlook(
    folder: Path, as_json: bool, bed_id: str, moment: str, fresh: bool, out: str, every_h: int
) -> None:
    """The next 14 days inside each bed of DIR: temperature, water, food left and herd.

    Of each row's hours the coldest, the warmest or the last one is told.
    """
    from bedlore.service.account import outlook_account

    check_place(out)
    morning = morning_of(folder, moment, fresh=fresh)
    account = only_bed(outlook_account(morning, every_h), bed_id)
    if as_json:
        emit_json(account, out)
        return
    from bedlore.cli.outlook import render_outlook
    from bedlore.service.shown import Shown

    print_text(render_outlook(account, Shown(morning.farm.preferences.units)), out)


@click.command()
@folder_argument
@json_option
@at_option
@fresh_option
@click.option("--out", default="", metavar="FILE",
              help="Write the page here (- is the standard output); DIR/report.html if left out.")
@click.option("--pdf", default="", metavar="FILE",
              help="Write the sheet to print here; DIR/report.pdf if left out.")
@click.option("--no-pdf", is_flag=True, help="Write no sheet to print.")
def report(
    folder: Path, as_json: bool, moment: str, fresh: bool, out: str, pdf: str, no_pdf: bool
) -> None:
    """Write one page with everything about the beds of DIR, and the same as PDF to print.

    The page is a single file that needs no network.
    """
    from bedlore.service.account import report_account

    if out == pdf == "-":
        raise click.UsageError(say("Only one of --out and --pdf can be -."))
    for place in (out, pdf):
        check_place(place)
    morning = morning_of(folder, moment, fresh=fresh)
    account = report_account(morning)
    out = out or str(folder / PAGE)
    pdf = "" if no_pdf else pdf or (str(folder / SHEET) if out != "-" else "")
    with progress_bar() as step:
        from bedlore.sheets.page import page_html

        step(say("Drawing the page"), 0, 2)
        write_bytes(page_html(account).encode("utf-8"), out)
        if pdf:
            from bedlore.sheets.printed import sheet_pdf

            step(say("Setting the sheet"), 1, 2)
            write_bytes(sheet_pdf(account), pdf)
        step(say("Done"), 2, 2)
    to_stderr = "-" in (out, pdf)
    if as_json and not to_stderr:
        emit_json({"page": out, "sheet": pdf or None})
        return
    if out != "-":
        click.echo(say("The page is at {place}", place=out), err=to_stderr)
    if pdf not in ("", "-"):
        click.echo(say("The sheet to print is at {place}", place=pdf), err=to_stderr)
