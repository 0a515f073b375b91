"""The log: a list with filters, one entry with its history, correcting and taking back."""

from __future__ import annotations

import datetime as dt
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.errors import KeeperError
from bedlore.farm.log import ENTRY_KINDS
from bedlore.farm.model import Farm
from bedlore.service.book import LogFilter, Written
from bedlore.service.correct_entry import correct_entry, history_of
from bedlore.service.phrases import clock_words
from bedlore.service.undo import undo
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import tasks, wiring
from bedlore.web.api.telling import place_of, place_text
from bedlore.web.entry_fields import (
    FORM_KINDS,
    Values,
    fields_of,
    raw_of,
    values_of,
    zone_options,
)
from bedlore.web.entry_words import kind_words, parts_of, told_entry
from bedlore.web.views.common import faults_by_field, frame, new_client_id, shown_for
from bedlore.web.views.photos import photos_of
from bedlore.web.views.write import Form, moment_of, sent_values, stepped, when_options

Context = dict[str, Any]
A_PAGE = 40


def log(request: HttpRequest, farm: str) -> HttpResponse:
    """Entries by time, newest first."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    wanted, asked = _filter(request, described)
    book = DbLog(row)
    rows = book.page(wanted, A_PAGE, _behind(request))
    more = f"?{urlencode({**asked, 'behind': place_text(rows[-1])})}" if len(rows) == A_PAGE else ""
    written = book.find(request.GET.get("written", "").replace("\x00", "")[:80])
    words = kind_words()
    context = {
        "days": _by_day(with_photos([told_entry(one, described, shown) for one in rows], row),
                        described),
        "asked": asked, "more": more, "zone": described.site.zone_info(),
        "kinds": [(kind, words[kind]) for kind in FORM_KINDS],
        "written": told_entry(written, described, shown) if written and written.holds else None,
    }  # fmt: skip
    return render(request, "pages/log.html", frame(request, "log", **context))


def with_photos(entries: list[Context], row: Any) -> list[Context]:
    """Entries as told, each with its photographs."""
    photos = photos_of(row).of_entries(one["id"] for one in entries)
    return [{**one, "photos": photos.get(one["id"], ())} for one in entries]


def _behind(request: HttpRequest) -> Any:
    try:
        return place_of(request.GET.get("behind", "")[:60])
    except (KeeperError, ValueError, OverflowError):
        return None


def _filter(request: HttpRequest, farm: Farm) -> tuple[LogFilter, dict[str, str]]:
    """What is asked for, as a filter and as it was asked."""
    given = {key: request.GET.get(key, "").replace("\x00", "")[:80]
             for key in ("bed", "kind", "text", "since", "all")}  # fmt: skip
    bed = given["bed"] if farm.bed(given["bed"]) else ""
    kinds = (given["kind"],) if given["kind"] in ENTRY_KINDS else ()
    since = None
    try:
        day = dt.date.fromisoformat(given["since"])
        if 1950 < day.year < 2200:
            since = dt.datetime.combine(day, dt.time(), farm.site.zone_info())
    except ValueError:
        given["since"] = ""
    wanted = LogFilter(bed=bed, kinds=kinds, since=since, text=given["text"],
                       only_held=given["all"] != "1")  # fmt: skip
    return wanted, {key: value for key, value in given.items() if value}


def _by_day(entries: list[Context], farm: Farm) -> list[tuple[dt.date, list[Context]]]:
    days: dict[dt.date, list[Context]] = {}
    for one in entries:
        here = one["at"].astimezone(farm.site.zone_info())
        days.setdefault(here.date(), []).append({**one, "time": clock_words(here)})
    return list(days.items())


def _found(request: HttpRequest, entry_id: str) -> Written:
    found = DbLog(request.farm_row).find(entry_id.replace("\x00", "")[:80])
    if found is None or found.entry.kind == "void":
        raise Http404
    return found


def log_entry(request: HttpRequest, farm: str, entry_id: str) -> HttpResponse:
    """One entry: what it says, how it came to say so, and the form to correct it."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    found = _found(request, entry_id)
    form = _form(request, found, described)
    if request.method == "POST" and form is not None:
        sent = sent_values(request)
        if "step" in request.POST:
            form = Form(**{**vars(form), "values": stepped(sent, form.fields,
                                                           request.POST["step"])})  # fmt: skip
        else:
            try:
                return _correct(request, found, form, sent)
            except KeeperError as problem:
                form = Form(**{**vars(form), "values": sent, "faults": faults_by_field(problem)})
    steps = [
        {**told_entry(step.written, described, shown),
         "fields": [(name.replace("_", " "), _plain(a), _plain(b)) for name, a, b in step.fields]}
        for step in history_of(DbLog(row), found.entry.id)
    ]  # fmt: skip
    (one,) = with_photos([told_entry(found, described, shown)], row)
    context = {
        "one": one, "steps": steps, "form": form,
        "zone": described.site.zone_info(), "client_id": new_client_id(),
        "zones": zone_options(form.bed) if form else (),
        "whens": [("as-written", _("as written")), *when_options(row)[1:]],
    }  # fmt: skip
    return render(request, "pages/log_entry.html", frame(request, "log", **context),
                  status=422 if form and form.faults else 200)  # fmt: skip


def _form(request: HttpRequest, found: Written, farm: Farm) -> Form | None:
    """The form of the entry, when it can still be corrected here."""
    entry = found.entry
    bed = farm.bed(entry.bed)
    if bed is None or not found.holds or entry.kind not in FORM_KINDS:
        return None
    shown = shown_for(request, farm)
    fields = fields_of(entry.kind, farm, bed, shown, {})
    values = values_of(entry, fields, farm, shown)
    fields = [one for one in fields_of(entry.kind, farm, bed, shown, values)
              if one.name != "squeeze"]  # fmt: skip
    return Form(entry.kind, farm, bed, shown, fields, values, {})


def _correct(request: HttpRequest, found: Written, form: Form, sent: Values) -> HttpResponse:
    row, entry = request.farm_row, found.entry
    same = {**{field.name: field.default for field in form.fields}, **form.values}
    changed = {name: sent.get(name, "") for name in (*same, "zone", "note")
               if sent.get(name, "") != same.get(name, "")}  # fmt: skip
    raw = raw_of(form.kind, form.fields, sent, form.farm, form.shown)
    parts = raw.pop("parts", None)
    changes: dict[str, Any] = {
        name: raw.get(_RAW_NAME.get(name, name)) if name not in ("zone", "note") else
        (sent.get(name) or None)
        for name in changed if name not in _PART_FIELDS
    }  # fmt: skip
    changes = {_RAW_NAME.get(name, name): value for name, value in changes.items()}
    if parts and _PART_FIELDS & set(changed):
        rest = [part.model_dump(exclude_none=True) for part in parts_of(entry)[1:]]
        changes["parts"] = [*parts, *rest]
    if sent.get("when", "as-written") != "as-written":
        changes.update(at=moment_of(sent, row), at_error_h=None)
    if not changes:
        messages.info(request, _("Nothing was changed."))
        return redirect("log-entry", farm=row.slug, entry_id=entry.id)
    got = correct_entry(DbLog(row), form.farm, entry.id, changes, wiring.author(request),
                        wiring.now_of(row), sent.get("client_id", ""))  # fmt: skip
    tasks.ask_outlook(row)
    response = redirect("log", farm=row.slug)
    response["Location"] += f"?written={got.written.entry.id}"
    return response


_PART_FIELDS = frozenset(("material", "other_material", "count", "container", "weighed"))
_RAW_NAME = {"amount": "mass_kg"}


def _plain(value: object) -> str:
    if isinstance(value, (tuple, list)):
        return ", ".join(_plain(one) for one in value)
    if isinstance(value, dict):
        return " ".join(str(one) for key, one in value.items() if key != "mass_error_frac")
    if isinstance(value, dt.datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    return "–" if value in (None, "") else str(value)


@require_POST
def take_back(request: HttpRequest, farm: str, entry_id: str) -> HttpResponse:
    """Takes an entry back; it stays readable, and can be brought back."""
    row = request.farm_row
    found = _found(request, entry_id)
    try:
        undo(DbLog(row), found.entry.id, wiring.author(request), wiring.now_of(row))
    except KeeperError as problem:
        messages.error(request, str(problem))
    else:
        tasks.ask_outlook(row)
        messages.success(request, _("Taken back. It stays in the history."))
    return redirect("log", farm=row.slug)
