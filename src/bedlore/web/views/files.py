"""Files out and in: farm file, log, archive, calendar."""

from __future__ import annotations

import datetime as dt
import tempfile

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.load import dump_farm
from bedlore.service.archive import export_archive, read_archive
from bedlore.service.calendar_feed import calendar_text
from bedlore.service.log_file import Form, export_log
from bedlore.service.secrets import digest_of
from bedlore.store.db.archive import DbFarmParts
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import CalendarFeed, FarmRow
from bedlore.web import tasks, wiring
from bedlore.web.speech import speaking_to

MAX_ARCHIVE_BYTES = 1_000_000_000
_TYPES = {"csv": "text/csv; charset=utf-8", "jsonl": "application/x-ndjson"}


def _download(response: HttpResponse, name: str) -> HttpResponse:
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def farm_file(request: HttpRequest, farm: str) -> HttpResponse:
    """The farm file (TOML)."""
    text = dump_farm(farm_of_row(request.farm_row))
    return _download(HttpResponse(text, content_type="application/toml"), f"{farm}.toml")


def log_file(request: HttpRequest, farm: str, form: str) -> HttpResponse:
    """The whole log as CSV or JSON Lines."""
    if form not in _TYPES:
        raise Http404
    row = request.farm_row
    kind: Form = "csv" if form == "csv" else "jsonl"
    lines = export_log(DbLog(row), wiring.LOG_FILES, farm_of_row(row), kind)
    response = StreamingHttpResponse((line.encode() for line in lines), content_type=_TYPES[form])
    return _download(response, f"{farm}-log.{form}")


def archive(request: HttpRequest, farm: str) -> HttpResponse:
    """Everything of the farm as one zip."""
    target = tempfile.TemporaryFile(prefix="bedlore-")  # noqa: SIM115 - the response closes it
    parts = DbFarmParts(settings.DATA_FOLDER / "photos", request.farm_row)
    with transaction.atomic():  # one moment of the farm, whatever is written meanwhile
        export_archive(parts.parts(), wiring.clock(), target)
    target.seek(0)
    name = f"{farm}-{wiring.clock():%Y-%m-%d}.zip"
    return FileResponse(target, as_attachment=True, filename=name, content_type="application/zip")


def restore(request: HttpRequest) -> HttpResponse:
    """A new farm from an archive; whoever restores it becomes its keeper."""
    faults: dict[str, list[str]] = {}
    if request.method == "POST":
        try:
            row = _restored(request)
        except KeeperError as problem:
            told = problem.faults if isinstance(problem, FaultList) else (
                Fault("", " ".join(filter(None, (problem.message, problem.fix)))),)
            faults = {"archive": [fault.sentence for fault in told]}
        else:
            messages.success(request, _("%s is back, as it was.") % row.name)
            return redirect("farm", farm=row.slug)
    return render(request, "pages/restore.html", {"faults": faults}, status=422 if faults else 200)


def _restored(request: HttpRequest) -> FarmRow:
    sent = request.FILES.get("archive")
    if sent is None or sent.size is None or sent.size > MAX_ARCHIVE_BYTES:
        raise KeeperError(_("Choose the archive of a farm, a zip of up to 1 GB."))
    now = wiring.clock()
    members = read_archive(sent)
    with transaction.atomic():
        number = DbFarmParts(settings.DATA_FOLDER / "photos").restore(members, now)
        give_role(request.user.pk, number, "keeper", now)
    row: FarmRow = FarmRow.objects.get(pk=number)
    tasks.ask_outlook(row)
    return row


def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar behind a private address."""
    number = wiring.DOORS.farm_of_feed(digest_of(secret), wiring.clock())
    if number is None:
        raise Http404
    row = FarmRow.objects.get(pk=number)
    made_at = row.changed_at
    told = wiring.last_morning(row)
    if told is not None:
        made_at = max(told.worked_at, made_at)
    farm = farm_of_row(row)
    reader = CalendarFeed.objects.select_related("account").get(digest=digest_of(secret)).account
    with speaking_to(reader, farm):
        events = wiring.calendar_events(row)
        text = calendar_text(farm, row.slug, events, made_at.astimezone(dt.UTC))
    return HttpResponse(text, content_type="text/calendar; charset=utf-8")
