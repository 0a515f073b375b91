"""First aid: what is careful whatever it is, and from what is seen to causes, tap by tap."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from bedlore.decide.aid.findings import FINDINGS
from bedlore.facts.symptoms import kind_of
from bedlore.service.book import LogFilter
from bedlore.service.first_aid import aid_account, careful_account
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import wiring
from bedlore.web.views.common import age_words, bed_or_404, frame, in_units, shown_for, unbroken

Context = dict[str, Any]
_LOOK_BACK = dt.timedelta(days=120)
MOST_ENTRIES = 600
MOST_ANSWERS = 40


def aid(request: HttpRequest, farm: str) -> HttpResponse:
    """What is careful at any bed; asks for nothing, so a phone can keep it for the shed."""
    shown = shown_for(request, farm_of_row(request.farm_row))
    context = {"bed": None, **in_units(careful_account(), shown)}
    return unbroken(render(request, "pages/aid.html", frame(request, "aid", **context)))


def aid_bed(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """First aid for one bed: the symptoms to tap, then causes, acts and the next check."""
    row = request.farm_row
    described = farm_of_row(row)
    mine = bed_or_404(described, bed)
    shown, now = shown_for(request, described), wiring.now_of(row)
    given = request.GET
    answered = dict.fromkeys(_known(given, "yes"), True) | dict.fromkeys(_known(given, "no"), False)
    told = wiring.last_morning(row, (bed,))
    context: Context = {"bed": mine, **in_units(careful_account(), shown), **age_words(told)}
    if any(answered.values()):
        seen = told.morning.beds[0].outlook if told and told.morning.beds else None
        wanted = LogFilter(bed=bed, since=now - _LOOK_BACK)
        entries = [one.entry for one in DbLog(row).page(wanted, MOST_ENTRIES)]
        skipped = frozenset(_known(given, "skip"))
        account = aid_account(described, mine, seen, entries, now, answered, skipped)
        context.update(in_units(account, shown))
        given_so_far = in_units(_answers(given, answered), shown)
        context.update(bed=mine, found=given_so_far, **_next(given, account))
    else:
        context["symptoms"] = [
            {**one, "address": _address(given, "yes", one["finding"])}
            for one in context["symptoms"]
        ]
    return unbroken(render(request, "pages/aid.html", frame(request, "aid", **context)))


def _known(given: QueryDict, key: str) -> list[str]:
    """Findings of the address that can be answered; anything else is passed over."""
    return [f for f in given.getlist(key)[:MOST_ANSWERS] if f in FINDINGS and kind_of(f) != "log"]


def _address(given: QueryDict, key: str, finding: str) -> str:
    """This page with one answer more."""
    more = given.copy()
    more.appendlist(key, finding)
    return f"?{more.urlencode()}#causes"


def _answers(given: QueryDict, answered: dict[str, bool]) -> list[Context]:
    """What was tapped so far, each with the address that takes it back."""
    found = []
    for finding, there in answered.items():
        less = given.copy()
        key = "yes" if there else "no"
        less.setlist(key, [one for one in given.getlist(key) if one != finding])
        words = FINDINGS[finding].name if there else FINDINGS[finding].question
        found.append({"words": words, "there": there, "address": f"?{less.urlencode()}"})
    return found


def _next(given: QueryDict, account: Context) -> Context:
    """Addresses of the three answers to what is asked next."""
    if account["ask"] is None:
        return {"answers": None}
    finding = account["ask"]["finding"]
    return {"answers": {key: _address(given, key, finding) for key in ("yes", "no", "skip")}}
