"""A bed on paper: its sheet for a month out as PDF and typed in again, and its label."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bedlore.errors import KeeperError
from bedlore.facts import feedstocks
from bedlore.farm.model import Farm
from bedlore.service.account import report_account
from bedlore.service.marks import Marked, marks
from bedlore.service.rights import may
from bedlore.service.shed_sheet import (
    LINES,
    MOST_SHEETS,
    Sheet,
    Typed,
    is_blank,
    month_of,
    write_sheet,
)
from bedlore.service.shown import Shown
from bedlore.sheets.shed_sheet import label_pdf, month_words, shed_sheet_pdf
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import tasks, wiring
from bedlore.web.entry_fields import Values, units_of, with_unit, zone_options
from bedlore.web.entry_words import told_entry
from bedlore.web.views.common import (
    bed_or_404,
    faults_by_field,
    frame,
    number_of,
    outside,
    shown_for,
)
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
_COLUMNS = ("day", "what", "much", "where", "left", "temp", "squeeze", "note")


def _marked(farm: Farm, bed: str) -> Marked:
    return marks(farm)[bed_or_404(farm, bed).id]


def _sheet(request: HttpRequest, farm: Farm, bed: str) -> Sheet:
    """Which sheet the address asks for; this month's first one when it does not say."""
    today = wiring.now_of(request.farm_row).astimezone(farm.site.zone_info()).date()
    number = number_of(request.GET.get("sheet", "1")) or 1
    return Sheet(bed, month_of(request.GET.get("month", "")[:10], today),
                 min(number, MOST_SHEETS))  # fmt: skip


def _asked(sheet: Sheet) -> str:
    return f"?month={sheet.month:%Y-%m}&sheet={sheet.number}"


def sheet(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The sheet on the screen: one row for each of its lines, all written down at once."""
    row = request.farm_row
    described = farm_of_row(row)
    marked, asked = _marked(described, bed), _sheet(request, described, bed)
    shown = shown_for(request, described)
    lines: list[Values] = [{} for _k in range(LINES)]
    faults: dict[str, list[str]] = {}
    if request.method == "POST":
        lines = _typed(request)
        read = [_with_units(line, shown) for line in lines]
        try:
            told = write_sheet(DbLog(row), described, asked, read, wiring.author(request),
                               wiring.now_of(row))  # fmt: skip
        except KeeperError as problem:
            faults = faults_by_field(problem)
        else:
            return _written(request, told)
    context = {
        "bed": marked.bed, "sheet": asked, "month": month_words(asked.month), "faults": faults,
        "rows": _rows(lines, _written_before(request, described, asked, shown), faults),
        "zones": zone_options(marked.bed), "degree": shown.degree, "lefts": _lefts(),
        "squeezes": _squeezes(), "what": _materials(described),
        "measures": [one.name for one in described.containers],
        "pdf": reverse("sheet-pdf", args=[row.slug, bed]) + _asked(asked),
        "others": _others(asked), "only_here": outside(request).only_here,
    }  # fmt: skip
    return render(request, "pages/sheet.html", frame(request, "write", **context),
                  status=422 if faults else 200)  # fmt: skip


def _typed(request: HttpRequest) -> list[Values]:
    """What was typed, a line each; lines without a field stay blank."""
    sent = sent_values(request)
    return [{name: sent.get(f"line-{place}-{name}", "") for name in _COLUMNS}
            for place in range(LINES)]  # fmt: skip


def _with_units(line: Values, shown: Shown) -> Values:
    """Bare figures as what the sheet's columns mean."""
    if is_blank(line):
        return {}
    signs = units_of(shown)
    read = {**line, "day": line["day"].strip().rstrip(".")}
    for name, unit in (("temp", "temp"), ("much", "mass")):
        if text := read[name].strip():
            read[name] = with_unit(text, signs[unit][1])
    return read


def _written(request: HttpRequest, told: Typed) -> HttpResponse:
    row = request.farm_row
    if told.new:
        tasks.ask_outlook(row)
    said = ngettext("%d entry was written down.", "%d entries were written down.",
                    told.new) % told.new  # fmt: skip
    if told.repeated:
        said += " " + ngettext("%d was in the log already.", "%d were in the log already.",
                               told.repeated) % told.repeated  # fmt: skip
    messages.success(request, said)
    return redirect("log", farm=row.slug)


def _rows(lines: list[Values], before: dict[int, list[Context]],
          faults: dict[str, list[str]]) -> list[Context]:  # fmt: skip
    return [
        {"place": place, "number": place + 1, "before": before.get(place + 1, ()), **line,
         "wrong": any(name.startswith(f"line-{place}-") for name in faults)}
        for place, line in enumerate(lines)
    ]  # fmt: skip


def _written_before(request: HttpRequest, farm: Farm, asked: Sheet,
                    shown: Shown) -> dict[int, list[Context]]:  # fmt: skip
    """What stands in the log from each line of this sheet already."""
    stem = asked.line_name(0, "").removesuffix("00-")
    found: dict[int, list[Context]] = {}
    for written in DbLog(request.farm_row).sent_under(stem):
        line = number_of(written.client_id.removeprefix(stem)[:2])
        if line is not None:
            found.setdefault(line, []).append(told_entry(written, farm, shown))
    return found


def _others(asked: Sheet) -> list[tuple[str, str]]:
    """(address, words) of the months and sheets beside this one."""
    before = (asked.month - dt.timedelta(days=1)).replace(day=1)
    after = (asked.month + dt.timedelta(days=32)).replace(day=1)
    found = [(_asked(Sheet(asked.bed_id, before)), month_words(before)),
             (_asked(Sheet(asked.bed_id, after)), month_words(after))]  # fmt: skip
    if asked.number > 1:
        first = Sheet(asked.bed_id, asked.month, asked.number - 1)
        found.append((_asked(first), _("Sheet %d") % first.number))
    if asked.number < MOST_SHEETS:
        more = Sheet(asked.bed_id, asked.month, asked.number + 1)
        found.append((_asked(more), _("Sheet %d") % more.number))
    return found


def _lefts() -> list[tuple[str, str]]:
    return [("", "–"), ("none", _("none")), ("some", _("some")), ("lots", _("lots"))]


def _squeezes() -> list[tuple[str, str]]:
    return [("", "–"), ("crumbly", _("crumbly")), ("damp", _("damp")),
            ("drops", _("a drop or two")), ("runs", _("it runs"))]  # fmt: skip


def _materials(farm: Farm) -> list[str]:
    own = [item.name for item in farm.store if item.name]
    return [*own, *sorted((one.name for one in feedstocks.load().values()), key=str.lower)]


def sheet_pdf(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The sheet to print."""
    row = request.farm_row
    described = farm_of_row(row)
    marked, asked = _marked(described, bed), _sheet(request, described, bed)
    told = wiring.last_morning(row, (bed,))
    beds = report_account(told.morning)["beds"] if told is not None else []
    known = outside(request)
    address = "" if known.only_here else known.page("sheet", row.slug, bed) + _asked(asked)
    data = shed_sheet_pdf(described, marked, asked, beds[0] if beds else None,
                          shown_for(request, described), address)  # fmt: skip
    return _pdf(data, f"{farm}-{bed}-{asked.month:%Y-%m}-{asked.number}.pdf")


def label(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The bed's label to print, with a code that opens its log page."""
    described = farm_of_row(request.farm_row)
    marked = _marked(described, bed)
    address = outside(request).page("at-bed", farm, bed)
    data = label_pdf(described, [marked], [address], shown_for(request, described))
    return _pdf(data, f"{farm}-{bed}-label.pdf")


def _pdf(data: bytes, name: str) -> HttpResponse:
    response = HttpResponse(data, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return response


def at_bed(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """Where a label's code leads: to writing down for this bed, or to its log."""
    bed_or_404(farm_of_row(request.farm_row), bed)
    page = "write" if may(request.role, "log", None) else "log"
    response = redirect(page, farm=farm)
    response["Location"] += f"?bed={bed}"
    return response

