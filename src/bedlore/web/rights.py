"""Who may use which address: one table, looked up before any page runs.

An address that is not in the table is refused, so that a new page cannot be forgotten; a test
walks all addresses, methods and roles.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Literal

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.shortcuts import render
from ninja.utils import check_csrf

from bedlore.say import say
from bedlore.service.rights import SCOPES, Right, may
from bedlore.service.secrets import digest_of
from bedlore.service.throttle import TooMany, check_tries, note_failure
from bedlore.store.db.doors import role_of
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from bedlore.web.phone import is_from_phone
from bedlore.web.speech import speak_for

# open: anybody. account: anybody signed in. view, log, keep: that right on the address's farm.
Need = Literal["open", "account", "view", "log", "keep"]
Needs = Mapping[str, Need]
READ: Callable[[Need], dict[str, Need]] = lambda need: {"GET": need, "HEAD": need}  # noqa: E731
FORM: Callable[[Need], dict[str, Need]] = lambda need: {**READ(need), "POST": need}  # noqa: E731

POLICY: dict[str, Needs] = {
    "up": READ("open"),
    "manifest": READ("open"),
    "worker": READ("open"),
    "no-signal": READ("open"),
    "phone": READ("open"),
    "home": READ("account"),
    "first": FORM("open"),
    "sign-in": FORM("open"),
    "sign-out": {"POST": "open"},
    "passcode": FORM("open"),
    "join": FORM("open"),
    "trust": READ("open"),
    "root-certificate": READ("open"),
    "password": FORM("account"),
    "reading": FORM("account"),
    "feed": READ("open"),  # the address itself is the secret
    "farm-file": READ("view"),
    "log-file": READ("view"),
    "archive": READ("keep"),
    "restore": FORM("account"),
    "start": FORM("account"),
    "mine": {"POST": "account"},
    "account": FORM("account"),
    "today": READ("view"),
    "answer": {"POST": "log"},
    "found": {"POST": "log"},
    "carried": READ("view"),
    "aid": READ("view"),
    "aid-bed": READ("view"),
    "away": READ("view"),
    "away-sheet": {"POST": "view"},
    "bed": READ("view"),
    "what-if": READ("view"),
    "build": FORM("keep"),
    "bring-in": READ("log"),
    "bring-readings": FORM("log"),
    "bring-log": FORM("log"),
    "bring-farm": FORM("keep"),
    "rebuild": FORM("keep"),
    "sheet": FORM("log"),
    "sheet-pdf": READ("view"),
    "label": READ("view"),
    "at-bed": READ("view"),
    "change": FORM("keep"),
    "write": READ("log"),
    "entry": FORM("log"),
    "log": READ("view"),
    "log-entry": {**READ("view"), "POST": "log"},
    "take-back": {"POST": "log"},
    "add-photos": {"POST": "log"},
    "photo": READ("view"),
    "photo-small": READ("view"),
    "take-photo-away": {"POST": "log"},
    "farm": READ("view"),
    "alerts": FORM("view"),  # each for themselves
    "jobs": READ("view"),
    "people": FORM("keep"),
    "scores": READ("view"),
    "learn": {"POST": "keep"},
    "api:openapi-json": {"GET": "open"},
    "api:api-root": {"GET": "open"},
    "api:me": {"GET": "account"},
    "api:farms": {"GET": "account", "POST": "account"},
    "api:farm": {"GET": "view", "PUT": "keep"},
    "api:log": {"GET": "view", "POST": "log"},
    "api:log-many": {"POST": "log"},
    "api:entry": {"GET": "view"},
    "api:corrections": {"POST": "log"},
    "api:undo": {"POST": "log"},
    "api:today": {"GET": "view"},
    "api:outlook": {"GET": "view"},
    "api:jobs": {"GET": "view", "POST": "log"},
    "api:days-ahead": {"POST": "log"},
}
# What a token must allow where no farm is concerned.
_ACCOUNT_SCOPES: dict[str, Right] = {"GET": "view", "HEAD": "view"}


class RightsMiddleware:
    """Refuses what :data:`POLICY` does not give; puts ``farm_row`` and ``role`` on the rest."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer."""
        return self._get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        """A refusal, or None to let the page run."""
        name = request.resolver_match.view_name
        needs = POLICY.get(name)
        if needs is None:
            return refuse(request, 403, say("This address is not open to anybody."))
        need = needs.get(request.method or "")
        if need is None:
            return HttpResponseNotAllowed(sorted(needs))
        refusal = identify(request)
        if refusal is not None or need == "open":
            return refusal
        if not request.user.is_authenticated:
            return ask_to_sign_in(request)
        return check_account(request) if need == "account" else check_farm(request, need, kwargs)


def is_api(request: HttpRequest) -> bool:
    """Whether the API is asked."""
    return request.path.startswith("/api/")


def wants_json(request: HttpRequest) -> bool:
    """Whether the answer is for a program, or for a page's script that sends what waited."""
    return is_api(request) or is_from_phone(request)


def identify(request: HttpRequest) -> HttpResponse | None:
    """Puts the account of an API token on the request; a request without one needs the form's
    secret when it changes something."""
    request.scopes = None
    if not is_api(request):
        return None
    header = request.headers.get("Authorization", "")
    if header:
        return _identify_by_token(request, header)
    changes = request.method not in ("GET", "HEAD", "OPTIONS")
    if changes and request.user.is_authenticated and check_csrf(request) is not None:
        return refuse(request, 403, say("The form's secret is missing or stale. Load the page"
                                        " again."))
    return None


def _identify_by_token(request: HttpRequest, header: str) -> HttpResponse | None:
    kind, _, secret = header.partition(" ")
    address = request.META.get("REMOTE_ADDR", "")
    now = wiring.clock()
    holder = None
    if kind.lower() == "bearer":
        holder = wiring.DOORS.holder_of_token(digest_of(secret.strip()), now)
    if holder is None:
        try:
            check_tries(wiring.TRIES, "token", address, now)
        except TooMany as problem:
            return refuse(request, 429, str(problem))
        note_failure(wiring.TRIES, "token", address, now)
        return refuse(request, 401, say("The token is not known, was taken back, or has ended."))
    request.user = Account.objects.get(pk=holder.account_id)
    request.scopes = holder.scopes
    request.token_farm_id = holder.farm_id
    return None


def check_account(request: HttpRequest) -> HttpResponse | None:
    """A refusal when the token is for less than the account."""
    if request.scopes is None:
        return None
    right = _ACCOUNT_SCOPES.get(request.method or "", "keep")
    allowed = any(right in SCOPES[scope] for scope in request.scopes if scope in SCOPES)
    if allowed and (right == "view" or request.token_farm_id is None):
        return None
    return refuse(request, 403, say("The token does not allow this."))


def check_farm(request: HttpRequest, right: Right, kwargs: dict[str, Any]) -> HttpResponse | None:
    """A refusal when the account has not this right on the address's farm. A farm that somebody
    is no member of looks as if it were not there."""
    row = FarmRow.objects.filter(slug=kwargs.get("farm", "")).first()
    role = role_of(request.user.pk, row.pk) if row is not None else None
    other = request.scopes is not None and request.token_farm_id not in (None, row and row.pk)
    if role is None or other:
        if is_api(request):
            return refuse(request, 404, say("There is no such farm."))
        raise Http404
    if not may(role, right, request.scopes):
        return refuse(request, 403, say("Your part on this farm ({role}) does not allow this.",
                                        role=say(role)))
    request.farm_row, request.role = row, role
    speak_for(request, row)
    return None


def ask_to_sign_in(request: HttpRequest) -> HttpResponse:
    """To the sign-in page and back again; programs get a sentence."""
    if wants_json(request) or getattr(request, "htmx", False):
        return refuse(request, 401, say("Sign in first, or send a token."))
    return redirect_to_login(request.get_full_path())


def refuse(request: HttpRequest, status: int, sentence: str) -> HttpResponse:
    """A refusal with a sentence, as page or as JSON."""
    if wants_json(request):
        return JsonResponse({"problem": sentence, "faults": []}, status=status)
    return render(request, "trouble.html", {"status": status, "sentence": sentence}, status=status)
