"""``bedlore sheet`` and ``bedlore label``: what hangs in the shed and on the bed."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedlore.cli.console import check_place, emit_json, progress_bar, write_bytes
from bedlore.cli.options import (
    Decorator,
    bed_named,
    farm_in,
    folder_argument,
    fresh_option,
    json_option,
)
from bedlore.errors import KeeperError
from bedlore.say import say

if TYPE_CHECKING:
    from bedlore.farm.model import Farm
    from bedlore.service.marks import Marked

_PAGES = re.compile(r"(https?://[^/\s]+)/farms/([a-z0-9_-]+)/", re.IGNORECASE)
pages_option: Decorator = click.option(
    "--pages", default="", metavar="URL",
    help="Address of a page of this farm on your bedlore server, as the browser shows it, for the"
    " code to scan; no code when left out.",
)  # fmt: skip
pdf_option: Decorator = click.option(
    "--pdf", default="", metavar="FILE", help="Write it here; into DIR when left out."
)


@click.command()
@folder_argument
@json_option
@click.option("--bed", "bed_id", required=True, metavar="ID", help="For this bed.")
@click.option("--month", default="", metavar="YYYY-MM", help="For this month; the present one"
              " when left out.")  # fmt: skip
@click.option("--number", default=1, show_default=True, type=click.IntRange(1, 9), metavar="N",
              help="Which sheet of the month, when one does not last.")  # fmt: skip
@pages_option
@fresh_option
@pdf_option
def sheet(folder: Path, as_json: bool, bed_id: str, month: str, number: int, pages: str,
          fresh: bool, pdf: str) -> None:  # fmt: skip
    """Print a sheet for a bed of DIR and a month, to be filled in by hand in the shed.

    It carries the if-you-find card of today. The pages take it in again, a row a line.
    """
    from bedlore.service.account import report_account
    from bedlore.service.shed_sheet import Sheet
    from bedlore.service.shown import Shown
    from bedlore.sheets.shed_sheet import shed_sheet_pdf
    from bedlore.wiring import moment_in, morning_in

    check_place(pdf)
    first = _month(month, moment_in(folder).date())
    with progress_bar() as step:
        morning = morning_in(folder, fresh=fresh, progress=step)
    (one,) = _marked(morning.farm, bed_id)
    wanted = Sheet(one.bed.id, first, number)
    beds = [bed for bed in report_account(morning)["beds"] if bed["bed"] == one.bed.id]
    address = _address(pages, f"farms/{{farm}}/beds/{one.bed.id}/sheet/?month={first:%Y-%m}"
                       f"&sheet={number}")  # fmt: skip
    shown = Shown(morning.farm.preferences.units)
    data = shed_sheet_pdf(morning.farm, one, wanted, beds[0] if beds else None, shown, address)
    _write(data, pdf or str(folder / f"sheet-{one.bed.id}-{first:%Y-%m}-{number}.pdf"), as_json)


@click.command()
@folder_argument
@json_option
@click.option("--bed", "bed_id", default="", metavar="ID", help="Only this bed.")
@pages_option
@pdf_option
def label(folder: Path, as_json: bool, bed_id: str, pages: str, pdf: str) -> None:
    """Print labels with the marks of the beds of DIR, to be nailed up."""
    from bedlore.service.shown import Shown
    from bedlore.sheets.shed_sheet import label_pdf

    check_place(pdf)
    farm = farm_in(folder)
    beds = _marked(farm, bed_id)
    addresses = [_address(pages, f"at/{{farm}}/{one.bed.id}/") for one in beds]
    data = label_pdf(farm, beds, addresses, Shown(farm.preferences.units))
    _write(data, pdf or str(folder / "labels.pdf"), as_json)


def _write(data: bytes, out: str, as_json: bool) -> None:
    write_bytes(data, out)
    if out == "-":
        return
    if as_json:
        emit_json({"sheet": out})
    else:
        click.echo(say("It is at {place}", place=out))


def _marked(farm: Farm, bed_id: str) -> list[Marked]:
    """The beds with their marks, or the one called ``bed_id``; raises KeeperError."""
    from bedlore.service.marks import marked_beds

    named = bed_named(farm, bed_id)
    return [one for one in marked_beds(farm) if named in ("", one.bed.id)]


def _month(text: str, today: dt.date) -> dt.date:
    if not text.strip():
        return today.replace(day=1)
    try:
        return dt.datetime.strptime(text.strip(), "%Y-%m").date()
    except ValueError:
        raise KeeperError(say("{text} is not a month.", text=repr(text[:40])), "--month",
                          say("Write it like 2026-02.")) from None  # fmt: skip


def _address(pages: str, path: str) -> str:
    """The address of ``path`` on the server that ``pages`` is on; "" without one."""
    if not pages.strip():
        return ""
    found = _PAGES.match(pages.strip())
    if found is None:
        raise KeeperError(
            say("This is no address of a farm's page."), "--pages",
            say("Copy it from the browser: {example}",
                example="https://mill.local:8021/farms/mill/today/"),
        )
    return f"{found[1]}/{path.format(farm=found[2])}"
