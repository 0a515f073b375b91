"""The people of a farm: their roles, invitations, and the household's passcode."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.service.doors import INVITATION_DAYS, invite, set_passcode
from bedlore.service.rights import ROLES, Role
from bedlore.sheets.qr import qr_svg
from bedlore.store.db.doors import revoke, set_role
from bedlore.store.db.models import Invitation, Membership, Passcode
from bedlore.web import wiring
from bedlore.web.entry_fields import Values
from bedlore.web.views.common import (
    faults_by_field,
    frame,
    number_of,
    outside,
    role_words,
)
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
# A household is many people behind one word; what a keeper does should carry a name.
HOUSEHOLD_ROLES = ROLES[1:]


def people(request: HttpRequest, farm: str) -> HttpResponse:
    """Who belongs to the farm, and the doors through which others come in."""
    shown_once: Context = {}
    faults: dict[str, list[str]] = {}
    sent = sent_values(request) if request.method == "POST" else {}
    if request.method == "POST":
        try:
            told = _act_of(sent)(request, sent)
        except KeeperError as problem:
            faults = faults_by_field(problem)
        else:
            if told is None:
                return redirect("people", farm=farm) if _still_keeps(request) else redirect("home")
            shown_once = told
    context = {
        "members": _members(request), "invitations": _invitations(request),
        "passcode": Passcode.objects.filter(farm=request.farm_row).first(),
        "household": _household(request), "roles": _roles(ROLES),
        "household_roles": _roles(HOUSEHOLD_ROLES), "faults": faults, "sent": sent,
        "days": INVITATION_DAYS, **shown_once,
    }  # fmt: skip
    response = render(request, "pages/people.html", frame(request, "farm", **context),
                      status=422 if faults else 200)  # fmt: skip
    if shown_once:
        response.headers["Cache-Control"] = "no-store"
    return response


def _still_keeps(request: HttpRequest) -> bool:
    """Whether the reader may look at this page again: one can give one's own role away."""
    mine = Membership.objects.filter(farm=request.farm_row, account=request.user)
    return mine.filter(role="keeper").exists()


def _act_of(sent: Values) -> Callable[[HttpRequest, Values], Context | None]:
    acts = {"role": _role, "remove": _remove, "invite": _invite, "revoke": _revoke,
            "passcode": _passcode, "close": _close}  # fmt: skip
    act = acts.get(sent.get("act", ""))
    if act is None:
        raise KeeperError(_("It is not clear what to change. Load the page again."))
    return act


def _roles(roles: tuple[Role, ...]) -> list[tuple[str, str]]:
    words = role_words()
    return [(role, words[role]) for role in roles]


def _members(request: HttpRequest) -> list[Context]:
    rows = Membership.objects.filter(farm=request.farm_row, account__is_household=False)
    return [
        {"number": row.account_id, "key": f"member-{row.account_id}",
         "name": row.account.shown_name, "sign_in": row.account.username, "role": row.role,
         "since": row.since, "is_me": row.account_id == request.user.pk}
        for row in rows.select_related("account").order_by("since", "pk")
    ]  # fmt: skip


def _household(request: HttpRequest) -> str:
    rows = Membership.objects.filter(farm=request.farm_row, account__is_household=True)
    return rows.values_list("role", flat=True).first() or ""


def _invitations(request: HttpRequest) -> list[Context]:
    rows = Invitation.objects.filter(farm=request.farm_row, used_at=None, revoked_at=None,
                                     ends_at__gt=wiring.clock())  # fmt: skip
    words = role_words()
    return [
        {"number": row.pk, "role_words": words.get(row.role, row.role), "ends_at": row.ends_at,
         "made_at": row.made_at, "by": row.made_by.shown_name}
        for row in rows.select_related("made_by").order_by("-made_at")
    ]  # fmt: skip


def _member(request: HttpRequest, sent: Values) -> tuple[int, str]:
    """Number and name of the member that the form speaks of."""
    number = number_of(sent.get("member", ""))
    rows = Membership.objects.filter(farm=request.farm_row, account_id=number,
                                     account__is_household=False)  # fmt: skip
    row = rows.select_related("account").first() if number is not None else None
    if row is None:
        raise KeeperError(_("This person no longer belongs to the farm."))
    return int(row.account_id), str(row.account.shown_name)


def _set(request: HttpRequest, number: int, role: Role | None) -> None:
    try:
        set_role(request.farm_row.pk, number, role)
    except KeeperError as problem:
        raise FaultList([Fault(f"member-{number}", str(problem))]) from None


def _role(request: HttpRequest, sent: Values) -> None:
    number, name = _member(request, sent)
    role = next((one for one in ROLES if one == sent.get("role")), None)
    if role is None:
        raise FaultList([Fault(f"member-{number}", _("Choose keeper, helper or viewer."))])
    _set(request, number, role)
    messages.success(request, _("%(name)s: %(role)s.")
                     % {"name": name, "role": role_words()[role]})  # fmt: skip


def _remove(request: HttpRequest, sent: Values) -> None:
    number, name = _member(request, sent)
    _set(request, number, None)
    messages.success(request, _("%(name)s no longer belongs to the farm. What %(name)s wrote"
                                " stays.") % {"name": name})  # fmt: skip


def _invite(request: HttpRequest, sent: Values) -> Context:
    role: Any = sent.get("role", "")
    _number, secret = invite(wiring.DOORS, request.farm_row.pk, role, request.user.pk,
                             wiring.clock())  # fmt: skip
    known = outside(request)
    address = known.page("join", secret.text)
    return {"address": address, "code": qr_svg(address, _("The address as a code to scan")),
            "address_role": role_words()[role], "only_here": known.only_here}  # fmt: skip


def _revoke(request: HttpRequest, sent: Values) -> None:
    number = number_of(sent.get("invitation", ""))
    now = wiring.clock()
    if number is None or not revoke(Invitation, number, now, farm_id=request.farm_row.pk):
        raise KeeperError(_("This invitation is no longer open."))
    messages.success(request, _("Taken back. The address no longer opens anything."))


def _passcode(request: HttpRequest, sent: Values) -> None:
    role: Any = sent.get("role", "")
    if role not in HOUSEHOLD_ROLES:
        raise FaultList([Fault("household", _("Choose what the household may do."))])
    set_passcode(wiring.DOORS, request.farm_row.pk, sent.get("passcode", ""), role,
                 wiring.clock())  # fmt: skip
    messages.success(request, _("The household comes in with this passcode from now on. Devices"
                                " that used another one are signed out."))  # fmt: skip


def _close(request: HttpRequest, _sent: Values) -> None:
    wiring.DOORS.set_passcode(request.farm_row.pk, None, "viewer", wiring.clock())
    messages.success(request, _("The passcode is gone; devices that used it are signed out."))
