"""Files in: a logger's readings, a log, a farm file; each is looked at before it is taken."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.load import MAX_FARM_BYTES
from bedlore.farm.log import Probe
from bedlore.farm.model import Farm
from bedlore.service.farm_file import import_farm, preview_farm
from bedlore.service.log_file import MAX_IMPORT_BYTES, import_log, preview_log
from bedlore.service.marks import marked_beds
from bedlore.service.readings_file import (
    MAX_BYTES,
    ORDERS,
    Columns,
    LoggerTable,
    ReadingsPreview,
    import_readings,
    look_at_table,
    preview_readings,
)
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.units import parse_quantity
from bedlore.web import tasks, wiring
from bedlore.web.entry_fields import Values, in_unit, units_of, with_unit
from bedlore.web.entry_words import kind_words
from bedlore.web.incoming import Incoming, received
from bedlore.web.views.common import faults_by_field, frame, number_of, shown_for
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
MOST_LISTED = 30
MAX_LOG_BYTES = min(MAX_IMPORT_BYTES, 50_000_000)
_DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_MOST_COLUMNS = 100


def bring_in(request: HttpRequest, farm: str) -> HttpResponse:
    """Which kind of file."""
    return render(request, "pages/bring_in.html", frame(request, "farm"))


@dataclass
class Step:
    """Where one is on the way of a file: what was sent, the file, and what it would bring."""

    sent: Values
    faults: dict[str, list[str]]
    file: Incoming | None = None
    found: Any = None

    def fail(self, problem: KeeperError) -> None:
        """Puts what is wrong beside the fields; what belongs beside none, beside the file."""
        self.faults = faults_by_field(problem)
        if not isinstance(problem, FaultList):
            self.faults = {"file": [" ".join(filter(None, (problem.message, problem.fix)))]}


def bring_log(request: HttpRequest, farm: str) -> HttpResponse:
    """A log file (CSV or JSON Lines): what it would bring, then its entries."""
    row = request.farm_row
    described = farm_of_row(row)
    step = Step(sent_values(request) if request.method == "POST" else {}, {})
    if request.method == "POST":
        try:
            step.file = received(request, "file", MAX_LOG_BYTES)
            given = (wiring.LOG_FILES, described, step.file.data, _named(step.file))
            if step.sent.get("act") == "take":
                told = import_log(DbLog(row), *given, wiring.author(request), wiring.now_of(row))
                return _taken(request, len(told.new))
            step.found = preview_log(DbLog(row), *given, wiring.now_of(row))
        except KeeperError as problem:
            step.fail(problem)
    words = kind_words()
    context = {
        "step": step, "faults": step.faults, "zone": described.site.zone_info(),
        "kinds": [(words.get(kind, kind), count) for kind, count in step.found.by_kind]
        if step.found else (), "most": MOST_LISTED,
        "said": step.found.faults[:MOST_LISTED] if step.found else (),
        "more": _left_out(step.found), "mb": MAX_LOG_BYTES // 1_000_000,
    }  # fmt: skip
    return render(request, "pages/bring_log.html", frame(request, "farm", **context),
                  status=422 if step.faults else 200)  # fmt: skip


def _named(file: Incoming) -> str:
    """The file's name, with an ending that says how it is written."""
    name = file.name.lower()
    if name.endswith((".csv", ".jsonl")):
        return file.name
    return f"{file.name}.jsonl" if file.data.lstrip()[:1] == b"{" else f"{file.name}.csv"


def _left_out(found: Any) -> int:
    """How many sentences are not shown."""
    if found is None:
        return 0
    return max(len(found.faults) - MOST_LISTED, 0) + int(found.faults_left_out)


def _taken(request: HttpRequest, count: int) -> HttpResponse:
    row = request.farm_row
    if count:
        tasks.ask_outlook(row)
        messages.success(request, ngettext("%d entry was taken in.", "%d entries were taken in.",
                                           count) % count)  # fmt: skip
    else:
        messages.info(request, _("Everything in it was in the log already."))
    return redirect("log", farm=row.slug)


def bring_farm(request: HttpRequest, farm: str) -> HttpResponse:
    """A farm file: how it differs from what is described, then in its place."""
    row = request.farm_row
    step = Step(sent_values(request) if request.method == "POST" else {}, {})
    if request.method == "POST":
        try:
            step.file = received(request, "file", MAX_FARM_BYTES)
            if step.sent.get("act") == "take":
                version = number_of(step.sent.get("version", ""))
                import_farm(DbFarmStore(row), step.file.data, wiring.author(request),
                            -1 if version is None else version, step.file.name)  # fmt: skip
                tasks.ask_outlook(row)
                messages.success(request, _("Taken over. What was described before is kept."))
                return redirect("farm", farm=row.slug)
            step.found = preview_farm(step.file.data, step.file.name, farm_of_row(row))
        except FaultList as problem:
            step.faults = {"file": [str(fault) for fault in problem.faults]}
        except KeeperError as problem:
            step.fail(problem)
            row.refresh_from_db()
    context = {"step": step, "faults": step.faults, "version": row.version,
               "mb": MAX_FARM_BYTES // 1_000_000}  # fmt: skip
    return render(request, "pages/bring_farm.html", frame(request, "farm", **context),
                  status=422 if step.faults else 200)  # fmt: skip


def bring_readings(request: HttpRequest, farm: str) -> HttpResponse:
    """A temperature logger's table: which column is what, what that gives, then the readings."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    step = Step(sent_values(request) if request.method == "POST" else {}, {})
    table: LoggerTable | None = None
    if request.method == "POST":
        try:
            step.file = received(request, "file", MAX_BYTES)
            table = look_at_table(step.file.data, step.file.name)
            act = step.sent.get("act", "")
            if act in ("look", "take"):
                step.found = _preview(described, step, table, shown, wiring.now_of(row))
                if act == "take" and step.found.entries:
                    return _taken(request, import_readings(DbLog(row), step.found,
                                                           wiring.author(request),
                                                           wiring.now_of(row)))  # fmt: skip
            else:
                step.sent = {**_guessed(table.guess, shown), "bed": _only_bed(described)}
        except KeeperError as problem:
            step.fail(problem)
    context = {
        "step": step, "faults": step.faults, "table": table, "values": step.sent,
        "beds": [(f"{one.bed.id}|{zone.id}", f"{one.number} {one.bed.name}: {zone.called}")
                 for one in marked_beds(described) for zone in one.bed.zones],
        "columns": [(str(k), name) for k, name in enumerate(table.names[:_MOST_COLUMNS])]
        if table else (), "orders": _orders(), "depth_sign": units_of(shown)["length"][0],
        "delimiters": [("comma", _("comma")), ("semicolon", _("semicolon")), ("tab", _("tab"))],
        "mb": MAX_BYTES // 1_000_000, **_told(step.found, described, shown),
    }  # fmt: skip
    return render(request, "pages/bring_readings.html", frame(request, "farm", **context),
                  status=422 if step.faults else 200)  # fmt: skip


def _orders() -> list[tuple[str, str]]:
    return list(zip(ORDERS, (_("year, month, day"), _("day, month, year"),
                             _("month, day, year")), strict=True))  # fmt: skip


def _only_bed(farm: Farm) -> str:
    return f"{farm.beds[0].id}|{farm.beds[0].zones[0].id}" if len(farm.beds) == 1 else ""


def _guessed(guess: Columns, shown: Shown) -> Values:
    """The form as the file makes one guess."""
    delimiter = next(key for key, mark in _DELIMITERS.items() if mark == guess.delimiter)
    return {
        "time": str(guess.time), "temp": str(guess.temp), "order": guess.order,
        "clock": str(guess.clock) if guess.clock >= 0 else "", "unit": guess.unit,
        "skip": str(guess.skip), "delimiter": delimiter,
        "decimal_comma": "1" if guess.decimal_comma else "",
        "depth": in_unit(guess.depth_m, "length", shown), "device": guess.device,
        "error": "0.5",
    }  # fmt: skip


def _preview(farm: Farm, step: Step, table: LoggerTable, shown: Shown,
             now: dt.datetime) -> ReadingsPreview:  # fmt: skip
    columns = _columns(step.sent, table, shown)
    assert step.file is not None
    return preview_readings(farm, step.file.data, columns, step.file.name, now)


def _columns(sent: Values, table: LoggerTable, shown: Shown) -> Columns:
    """The columns as chosen; raises what cannot be used, beside its field."""
    faults: list[Fault] = []

    def number(name: str, low: int, high: int) -> int:
        found = number_of(sent.get(name, ""))
        if found is None or not low <= found <= high:
            faults.append(Fault(name, _("Choose one of the columns.") if high < 1000 else
                                _("Write a whole number of lines.")))  # fmt: skip
            return 0
        return found

    last = min(len(table.names), _MOST_COLUMNS) - 1
    time, temp, skip = number("time", 0, last), number("temp", 0, last), number("skip", 0, 9999)
    clock = number("clock", 0, last) if sent.get("clock") else -1
    depth_m, error_k = 0.1, 0.5
    try:
        depth_m = parse_quantity(with_unit(sent.get("depth", ""), units_of(shown)["length"][1]),
                                 "length")  # fmt: skip
    except KeeperError as problem:
        faults.append(Fault("depth", str(problem)))
    try:
        error_k = parse_quantity(with_unit(sent.get("error", ""), "K"), "temperature_difference")
    except KeeperError as problem:
        faults.append(Fault("error", str(problem)))
    bed, _bar, zone = sent.get("bed", "").partition("|")
    if not bed:
        faults.append(Fault("bed", _("Choose where it lay.")))
    if not 0 <= depth_m <= 2:
        faults.append(Fault("depth", _("It cannot lie deeper than 2 m, nor above the bed.")))
    if not 0.01 <= error_k <= 10:
        faults.append(Fault("error", _("Between 0.01 and 10 degrees, please.")))
    if faults:
        raise FaultList(faults)
    return replace(
        table.guess, time=time, temp=temp, skip=skip, clock=clock, bed=bed, zone=zone,
        order=sent.get("order", ""), unit=sent.get("unit", ""), depth_m=depth_m, error_k=error_k,
        delimiter=_DELIMITERS.get(sent.get("delimiter", ""), ""),
        decimal_comma=bool(sent.get("decimal_comma")),
        device=sent.get("device", "").strip()[:80] or "logger",
    )  # fmt: skip


def _told(found: ReadingsPreview | None, farm: Farm, shown: Shown) -> Context:
    """What the file would bring, by day."""
    if found is None:
        return {"found": None}
    zone = farm.site.zone_info()
    days: dict[dt.date, list[float]] = {}
    for entry in found.entries:
        if isinstance(entry, Probe):
            days.setdefault(entry.at.astimezone(zone).date(), []).append(entry.temp_c)

    def exact(temp_c: float) -> str:
        return f"{in_unit(temp_c, 'temp', shown)} {shown.degree}"  # a reading, not the model's

    rows = [(day, len(temps), exact(min(temps)), exact(max(temps)))
            for day, temps in sorted(days.items())]  # fmt: skip
    shown_days = rows if len(rows) <= MOST_LISTED else [*rows[:10], *rows[-10:]]
    return {
        "found": found, "count": len(found.entries), "days": shown_days,
        "days_left": len(rows) - len(shown_days), "said": found.faults[:MOST_LISTED],
        "more": _left_out(found),
        "span": [exact(temp_c) for temp_c in found.temps_c] if found.entries else (),
    }  # fmt: skip
