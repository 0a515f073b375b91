"""The reader's own account: name, tokens of the API, calendar addresses, farms."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.service.doors import issue_token, open_calendar
from bedlore.service.rights import SCOPES
from bedlore.store.db.doors import revoke, set_role
from bedlore.store.db.models import ApiToken, CalendarFeed, Membership
from bedlore.web import wiring
from bedlore.web.entry_fields import Values
from bedlore.web.views.common import faults_by_field, number_of, outside, role_words
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
MAX_NAME = 80


def account(request: HttpRequest) -> HttpResponse:
    """Everything of one's own that opens a door. A household's word opens no further ones: they
    would stay open when the word changes."""
    shown_once: Context = {}
    faults: dict[str, list[str]] = {}
    sent = sent_values(request) if request.method == "POST" else {}
    if request.method == "POST":
        try:
            told = _act_of(request, sent)(request, sent)
        except KeeperError as problem:
            faults = faults_by_field(problem)
        else:
            if told is None:
                return redirect("account")
            shown_once = told
    mine = Membership.objects.filter(account=request.user).select_related("farm")
    context = {
        "memberships": [(one, role_words()[one.role]) for one in mine.order_by("farm__name")],
        "tokens": _tokens(request), "feeds": _feeds(request), "scopes": _scope_words(),
        "faults": faults, "sent": sent, "only_here": outside(request).only_here, **shown_once,
    }  # fmt: skip
    response = render(request, "pages/account.html", context, status=422 if faults else 200)
    if shown_once:
        response.headers["Cache-Control"] = "no-store"
    return response


def _act_of(request: HttpRequest, sent: Values) -> Callable[[HttpRequest, Values], Context | None]:
    acts = {"name": _name, "token": _token, "token-back": _token_back, "calendar": _calendar,
            "calendar-back": _calendar_back, "leave": _leave}  # fmt: skip
    act = acts.get(sent.get("act", ""))
    if act is None or request.user.is_household:
        raise KeeperError(_("It is not clear what to change. Load the page again."))
    return act


def _scope_words() -> list[tuple[str, str]]:
    words = {"read": _("look"), "log": _("look and write the log"), "keep": _("everything I may")}
    return [(scope, words[scope]) for scope in SCOPES]


def _tokens(request: HttpRequest) -> list[Context]:
    words = dict(_scope_words())
    rows = ApiToken.objects.filter(account=request.user, revoked_at=None).select_related("farm")
    now = wiring.clock()
    return [
        {"row": row, "may": ", ".join(words.get(scope, scope) for scope in row.scopes.split()),
         "has_ended": row.ends_at is not None and row.ends_at <= now}
        for row in rows.order_by("-made_at")
    ]  # fmt: skip


def _feeds(request: HttpRequest) -> Any:
    rows = CalendarFeed.objects.filter(account=request.user, revoked_at=None)
    return rows.select_related("farm").order_by("-made_at")


def _my_farm(request: HttpRequest, sent: Values, beside: str) -> int:
    """The farm that the form names; a fault ``beside`` its field when one is no member of it."""
    rows = Membership.objects.filter(account=request.user, farm__slug=sent.get("farm", ""))
    number = rows.values_list("farm_id", flat=True).first()
    if number is None:
        raise FaultList([Fault(beside, _("Choose one of your farms."))])
    return int(number)


def _name(request: HttpRequest, sent: Values) -> None:
    name = " ".join(sent.get("shown_name", "").split())
    if not 1 <= len(name) <= MAX_NAME:
        raise FaultList([Fault("shown_name", _("Write a name of up to 80 letters."))])
    request.user.first_name, request.user.last_name = name, ""
    request.user.save(update_fields=["first_name", "last_name"])
    messages.success(request, _("Noted. What you wrote before keeps the name it had."))


def _token(request: HttpRequest, sent: Values) -> Context:
    farm_id = _my_farm(request, sent, "farm") if sent.get("farm") else None
    text = sent.get("days", "").strip()
    days = number_of(text) if text else None
    if text and days is None:
        raise FaultList([Fault("days", _("Write a number of days, or leave it empty."))])
    _number, secret = issue_token(wiring.DOORS, request.user.pk, farm_id, sent.get("name", ""),
                                  [sent.get("scope", "")], wiring.clock(), days)  # fmt: skip
    return {"secret": secret.text, "api": f"{outside(request).origin}/api/v1/"}


def _token_back(request: HttpRequest, sent: Values) -> None:
    _take_back(request, ApiToken, sent, _("The token no longer opens anything."))


def _calendar(request: HttpRequest, sent: Values) -> Context:
    farm_id = _my_farm(request, sent, "calendar-farm")
    _number, secret = open_calendar(wiring.DOORS, farm_id, request.user.pk, wiring.clock())
    return {"calendar": outside(request).page("feed", secret.text)}


def _calendar_back(request: HttpRequest, sent: Values) -> None:
    _take_back(request, CalendarFeed, sent, _("The calendar's address no longer opens anything."))


def _take_back(request: HttpRequest, kind: type[ApiToken | CalendarFeed], sent: Values,
               said: str) -> None:  # fmt: skip
    number = number_of(sent.get("number", ""))
    if number is None or not revoke(kind, number, wiring.clock(), account_id=request.user.pk):
        raise KeeperError(_("It was taken back before."))
    messages.success(request, said)


def _leave(request: HttpRequest, sent: Values) -> None:
    farm_id = _my_farm(request, sent, "leave")
    try:
        set_role(farm_id, request.user.pk, None)
    except KeeperError as problem:
        raise FaultList([Fault("leave-mine", str(problem))]) from None
    messages.success(request, _("You no longer belong to that farm. What you wrote stays."))
