"""Photographs of the log: shown to those who may look, added and taken away by those who write."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.errors import Fault, FaultList
from bedlore.say import say
from bedlore.service.photographs import MAX_BYTES, MOST_AT_ONCE, Photograph, photograph
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from bedlore.store.db.photos import DbPhotos
from bedlore.web import wiring
from bedlore.web.uploads import OTHER_BYTES, too_long_bytes

_YEAR_S = 365 * 24 * 3600
# Whatever a file is taken for: it runs nothing, loads nothing and is in no frame.
_ALONE = "default-src 'none'; sandbox"


def photos_of(row: FarmRow) -> DbPhotos:
    """The photographs of a farm."""
    return DbPhotos(row, settings.DATA_FOLDER / "photos")


def taken_in(request: HttpRequest) -> list[Photograph]:
    """The photographs that a form sent, made anew; raises :class:`FaultList` beside ``photo``."""
    if sent_bytes := too_long_bytes(request):
        raise FaultList([Fault("photo", say(
            "What was sent has {size} MB; at most {most} MB are taken at once, and {one} MB of one"
            " photograph. Choose fewer or smaller ones; more can be added to the entry later.",
            size=round(sent_bytes / 1e6), most=OTHER_BYTES // 1_000_000,
            one=MAX_BYTES // 1_000_000))])  # fmt: skip
    sent = [one for one in request.FILES.getlist("photo") if one.size]
    if len(sent) > MOST_AT_ONCE:
        raise FaultList([Fault("photo", say("At most {most} photographs go with an entry at once.",
                                            most=MOST_AT_ONCE))])  # fmt: skip
    return [photograph(one.file, one.size) for one in sent]


def photo(request: HttpRequest, farm: str, digest: str, form: str) -> HttpResponse:
    """One photograph; it never changes under its name."""
    content = photos_of(request.farm_row).content(digest, small_one=form == "small")
    if content is None:
        raise Http404
    response = HttpResponse(content, content_type="image/jpeg")
    response.headers["Content-Disposition"] = f'inline; filename="bedlore-{digest[:12]}.jpg"'
    response.headers["Content-Security-Policy"] = _ALONE
    response.headers["Cache-Control"] = f"private, max-age={_YEAR_S}, immutable"
    return response


@require_POST
def add_photos(request: HttpRequest, farm: str, entry_id: str) -> HttpResponse:
    """Keeps photographs with an entry that was written before."""
    row = request.farm_row
    found = DbLog(row).find(entry_id.replace("\x00", "")[:80])
    if found is None or found.entry.kind == "void":
        raise Http404
    try:
        taken = taken_in(request)
    except FaultList as problem:
        for fault in problem.faults:
            messages.error(request, fault.sentence)
    else:
        if taken:
            photos_of(row).add(found.entry.id, taken, wiring.author(request), wiring.clock())
        else:
            messages.error(request, _("Choose a photograph first."))
    return redirect("log-entry", farm=farm, entry_id=found.entry.id)


@require_POST
def take_photo_away(request: HttpRequest, farm: str, digest: str) -> HttpResponse:
    """Takes a photograph away for good."""
    if not photos_of(request.farm_row).take_away(digest, wiring.clock()):
        raise Http404
    messages.success(request, _("The photograph is gone."))
    entry_id = request.POST.get("entry", "").replace("\x00", "")[:80]
    found = DbLog(request.farm_row).find(entry_id) if entry_id else None
    if found is None:
        return redirect("log", farm=farm)
    return redirect("log-entry", farm=farm, entry_id=found.entry.id)
