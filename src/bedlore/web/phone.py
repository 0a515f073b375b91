"""Pages on a phone: whose they are, which may be kept there, and forms that waited there.

A page's script sends a form with :data:`OWNER` and :data:`WAITED`; it is answered in JSON then:
200 ``{"next", "said"}``, or a refusal ``{"problem", "faults"}`` with the sentences by field.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from bedlore.errors import KeeperError
from bedlore.service.book import LogBook
from bedlore.web import wiring
from bedlore.web.views.common import faults_by_field

View = Callable[..., HttpResponse]
OWNER = "X-Bedlore-Phone"  # the mark of the account that wrote what is sent
WAITED = "X-Bedlore-Waited"  # seconds between writing and sending, by the phone's own clock
NOBODY = "-"
# Pages that may stay on a phone: none of them ever shows a secret.
KEPT = frozenset(("today", "bed", "write", "entry", "log", "log-entry", "farm", "scores",
                  "carried", "aid", "aid-bed"))  # fmt: skip
_ON_THE_SPOT_S = 10  # sent as written: the next page says what there is to say


def account_mark(user: Any) -> str:
    """What tells the accounts of one phone apart; nothing can be read from it."""
    if not user.is_authenticated:
        return NOBODY
    return salted_hmac("bedlore.phone", str(user.pk)).hexdigest()[:20]


def may_be_kept(request: HttpRequest) -> bool:
    """Whether this page may stay on the phone; not when it says something that is said once."""
    match = request.resolver_match
    said = getattr(request, "_messages", None)
    return bool(match and match.view_name in KEPT and not (said is not None and said.used))


def is_from_phone(request: HttpRequest) -> bool:
    """Whether a page's script sends this, so that it wants JSON."""
    return OWNER in request.headers


def _waited_s(request: HttpRequest) -> int:
    text = request.headers.get(WAITED, "") if is_from_phone(request) else ""
    return int(text) if text.isdecimal() and len(text) < 9 else 0


def written_at(request: HttpRequest) -> dt.datetime:
    """When what the request says was written down: now, less the time it waited on a phone."""
    return wiring.now_of(request.farm_row) - dt.timedelta(seconds=_waited_s(request))


def first_said(book: LogBook, client_id: str, moment: dt.datetime) -> dt.datetime:
    """``moment``, or the one under which ``client_id`` was written first: a repeat says the
    same."""
    before = book.find(client_id.replace("\x00", "")) if client_id else None
    return before.entry.at if before is not None else moment


def may_wait(view: View) -> View:
    """A form that may wait on a phone. It raises :class:`KeeperError` there instead of showing
    its page again."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not is_from_phone(request):
            return view(request, *args, **kwargs)
        if request.headers[OWNER] != account_mark(request.user):
            return refusal(409, _("Somebody else wrote this. It waits until they sign in."))
        try:
            response = view(request, *args, **kwargs)
        except KeeperError as problem:
            return refusal(422, str(problem), faults_by_field(problem))
        said = get_messages(request)
        lines = [str(message) for message in said]
        said.used = _waited_s(request) >= _ON_THE_SPOT_S
        return JsonResponse({"next": response.headers.get("Location", ""), "said": lines})

    return answer


def refusal(status: int, problem: str, faults: dict[str, list[str]] | None = None) -> JsonResponse:
    """A refusal that the page's script can read."""
    return JsonResponse({"problem": problem, "faults": faults or {}}, status=status)
