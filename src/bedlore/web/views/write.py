"""Writing down: a bed, a kind, chips and steppers with the last values; three taps at most."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.when import comes_twice
from bedlore.say.language import decimal
from bedlore.service.answer_advice import answer_advice
from bedlore.service.book import LogFilter, Receipt
from bedlore.service.fillings import fillings_of
from bedlore.service.record_entry import record_entry
from bedlore.service.shown import Shown, figures
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import tasks, wiring
from bedlore.web.entry_fields import (
    FORM_KINDS,
    Field,
    Values,
    fields_of,
    raw_of,
    units_of,
    values_of,
    zone_options,
)
from bedlore.web.entry_words import kind_words
from bedlore.web.measures import all_learnt
from bedlore.web.phone import first_said, is_from_phone, may_wait, written_at
from bedlore.web.views.common import faults_by_field, frame, new_client_id, shown_for
from bedlore.web.views.photos import photos_of, taken_in

Context = dict[str, Any]


@dataclass(frozen=True)
class Form:
    """A form of one kind for one bed, as it is shown."""

    kind: str
    farm: Farm
    bed: Bed
    shown: Shown
    fields: list[Field]
    values: Values
    faults: Mapping[str, list[str]]

    @property
    def rows(self) -> list[Context]:
        """Each field with its value, unit and faults."""
        signs = units_of(self.shown)
        rows = []
        for field in self.fields:
            said = [s for name in (field.name, *field.by) for s in self.faults.get(name, ())]
            rows.append({"field": field, "value": self.values.get(field.name, field.default),
                         "sign": signs[field.unit][0], "faults": said,
                         "steps": _steps(field), "half": len(_steps(field)) // 2})  # fmt: skip
        return rows

    @property
    def loose(self) -> list[str]:
        """Faults that belong beside no field shown."""
        beside = {name for field in self.fields for name in (field.name, *field.by)}
        beside |= {"at", "which", "zone", "note", "photo"}
        return [s for name, said in self.faults.items() if name not in beside for s in said]


def _steps(field: Field) -> list[tuple[str, str]]:
    """Buttons of a stepper: (what is sent, what is written on it)."""
    sizes = [size for size in (field.big_step, field.step) if size]
    down = [(f"{field.name}:{-size:g}", f"−{figures(size)}") for size in sizes]
    up = [(f"{field.name}:{size:g}", f"+{figures(size)}") for size in reversed(sizes)]
    return [*down, *up]


def write(request: HttpRequest, farm: str) -> HttpResponse:
    """Which bed and which kind."""
    described = farm_of_row(request.farm_row)
    words = kind_words()
    main = [(kind, words[kind]) for kind in FORM_KINDS[:3]]
    more = [(kind, words[kind]) for kind in FORM_KINDS[3:]]
    bed = _bed_of(request, described)
    return render(request, "pages/write.html",
                  frame(request, "write", main=main, more=more, bed=bed))  # fmt: skip


@may_wait
def entry(request: HttpRequest, farm: str, kind: str) -> HttpResponse:
    """The form of one kind of entry."""
    if kind not in FORM_KINDS:
        raise Http404
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    bed = _bed_of(request, described)
    last = _last_values(DbLog(row), kind, described, bed, shown)
    fields = fields_of(kind, described, bed, shown, last)
    form = Form(kind, described, bed, shown, fields, last, {})
    if request.method == "POST":
        sent = sent_values(request)
        if "step" in request.POST:
            form = replace(form, values=stepped(sent, fields, request.POST["step"]))
        else:
            try:
                taken = taken_in(request)
                receipt = _write(request, form, sent)
                if taken:
                    photos_of(row).add(receipt.written.entry.id, taken, wiring.author(request),
                                       wiring.clock())  # fmt: skip
            except KeeperError as problem:
                if is_from_phone(request):
                    raise
                form = replace(form, values=sent, faults=faults_by_field(problem))
            else:
                return _after(request, receipt)
    learnt: list[str] = []
    if any(field.name == "container" for field in fields):
        weighed = fillings_of(DbLog(row), described, wiring.now_of(row))
        learnt = all_learnt(described, weighed, shown)
    context = {
        "form": form, "bed": bed, "kind": kind, "kind_words": kind_words()[kind],
        "learnt": learnt,
        "zones": zone_options(bed), "whens": when_options(request.farm_row),
        "client_id": request.POST.get("client_id") or new_client_id(),
        "advice": _advice_of(request), "answer": request.POST.get("answer")
        or request.GET.get("answer", ""),
    }  # fmt: skip
    status = 422 if form.faults else 200
    return render(request, "pages/entry.html", frame(request, "write", **context), status=status)


def _bed_of(request: HttpRequest, farm: Farm) -> Bed:
    name = request.POST.get("bed") or request.GET.get("bed", "")
    day = wiring.now_of(request.farm_row).astimezone(farm.site.zone_info()).date()
    return farm.bed(name) or (*farm.standing(day), *farm.beds)[0]


def _advice_of(request: HttpRequest) -> str:
    number = request.POST.get("advice") or request.GET.get("advice", "")
    return number if number.isdecimal() and len(number) < 16 else ""


def sent_values(request: HttpRequest) -> Values:
    """What the form sent, without what no database keeps."""
    return {key: str(value).replace("\x00", "")[:4000] for key, value in request.POST.items()}


def stepped(sent: Values, fields: list[Field], step: str) -> Values:
    """``sent`` with one number moved by a step; a stepper works without a script too."""
    name, _colon, size = step.partition(":")
    field = next((one for one in fields if one.name == name), None)
    try:
        number = float((sent.get(name, "") or field.default or "0").replace(",", "."))  # type: ignore[union-attr]
        moved = number + float(size)
    except (ValueError, AttributeError):
        return sent
    if abs(moved) > 1e6 or moved != moved:
        return sent
    return {**sent, name: decimal(f"{moved:.6g}")}


# What one looks at, counts or weighs: yesterday's answer must not stand in for today's.
_SEEN_ANEW = frozenset((
    "note", "food_left", "smell", "adults", "juveniles", "hatchlings", "cocoons", "worms",
    "weighed", "what", "worms_left_share",
))  # fmt: skip


def _last_values(log: DbLog, kind: str, farm: Farm, bed: Bed, shown: Shown) -> Values:
    """Values of the last entry of this kind in the bed, without what is seen anew each time."""
    rows = log.page(LogFilter(bed=bed.id, kinds=(kind,)), 1)
    if not rows:
        return {}
    fields = fields_of(kind, farm, bed, shown, {})
    values = values_of(rows[0].entry, fields, farm, shown)
    return {key: value for key, value in values.items() if key not in _SEEN_ANEW}


def when_options(row: Any) -> list[tuple[str, str]]:
    """Chips for when it happened; those that lie ahead are left out."""
    here = wiring.now_of(row).astimezone(farm_of_row(row).site.zone_info())
    options = [("now", _("now"))]
    if here.hour >= 11:
        options.append(("morning", _("this morning")))
    if here.hour >= 21:
        options.append(("evening", _("this evening")))
    return [*options, ("last-evening", _("yesterday evening")), ("yesterday", _("yesterday")),
            ("day-before", _("2 days ago")), ("other", _("another time"))]  # fmt: skip


def moment_of(sent: Values, row: Any, written: dt.datetime | None = None) -> Any:
    """When it happened, as the log reads it; "yesterday" is the day before ``written`` (now, when
    left out)."""
    now = written or wiring.now_of(row)
    day = now.astimezone(farm_of_row(row).site.zone_info()).date()
    before = day - dt.timedelta(days=1)
    if sent.get("when") == "other":
        return _clock_time(sent, farm_of_row(row).site.zone_info())
    return {
        "morning": f"{day} morning", "evening": f"{day} evening",
        "last-evening": f"{before} evening", "yesterday": f"{before}",
        "day-before": f"{before - dt.timedelta(days=1)}",
    }.get(sent.get("when", "now"), now)


def _clock_time(sent: Values, zone: ZoneInfo) -> str:
    """The time typed; which of the two is asked for in the hour that comes twice."""
    text = sent.get("at", "").replace("T", " ")
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        return text  # what reads the log has a sentence on it
    if moment.tzinfo is not None or not comes_twice(moment, zone):
        return text
    if sent.get("which") not in ("first", "second"):
        raise FaultList([Fault("which", _("This time came twice, as the clocks went back."
                                          " Choose one of the two."))])  # fmt: skip
    fold = 1 if sent["which"] == "second" else 0
    return moment.replace(tzinfo=zone, fold=fold).isoformat()


def _write(request: HttpRequest, form: Form, sent: Values) -> Receipt:
    row, said = request.farm_row, written_at(request)
    raw = {
        **raw_of(form.kind, form.fields, sent, form.farm, form.shown), "bed": form.bed.id,
        "zone": sent.get("zone", ""), "note": sent.get("note", ""),
        "at": moment_of(sent, row, said),
    }  # fmt: skip
    book, by, now = DbLog(row), wiring.author(request), wiring.now_of(row)
    client_id = sent.get("client_id", "")
    number = _advice_of(request)
    if sent.get("when", "now") == "now":
        raw["at"] = first_said(book, client_id, said)
    if number and sent.get("answer") != "done":
        (receipt,) = answer_advice(DbAdvice(row), book, form.farm, int(number), "changed", by, now,
                                   raw, client_id)  # fmt: skip
    else:
        receipt = record_entry(book, form.farm, raw, by, now, client_id)
        if number:
            DbAdvice(row).note_answer(int(number), "done", [receipt.written.entry.id], by, now)
    if form.kind == "look" and sent.get("squeeze"):
        squeezed = {"kind": "squeeze", "word": sent["squeeze"], "bed": form.bed.id,
                    "zone": sent.get("zone", ""), "at": raw["at"]}  # fmt: skip
        record_entry(book, form.farm, squeezed, by, now, f"{client_id}-s" if client_id else "")
    return receipt


def _after(request: HttpRequest, receipt: Receipt) -> HttpResponse:
    """Back to the log, which says what was written and offers to take it back."""
    row = request.farm_row
    if not receipt.repeated:
        tasks.ask_outlook(row)
    for _path, sentence in receipt.remarks:
        messages.info(request, sentence)
    response = redirect("log", farm=row.slug)
    response["Location"] += f"?written={receipt.written.entry.id}"
    return response
