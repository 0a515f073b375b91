"""Being away: from two dates to what to leave, and the neighbour's sheet to print."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from bedlore.decide.words import odds_short
from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.say import again
from bedlore.service.away import day_of
from bedlore.service.phrases import band_words, day_words, short_day
from bedlore.service.shown import Shown
from bedlore.sheets.away_sheet import away_pdf
from bedlore.store.db.farm_store import farm_of_row
from bedlore.web import absences, wiring
from bedlore.web.views.common import bed_or_404, frame, shown_for, unbroken

Context = dict[str, Any]
USUAL_D = 21
MOST_CALL = 120


def away(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The form, and with two dates the advice; it comes by itself once it is worked out."""
    row = request.farm_row
    described, mine = _bed(request, bed)
    today = wiring.now_of(row).astimezone(described.site.zone_info()).date()
    sent = {key: request.GET.get(key, "")[:20] for key in ("from", "to")}
    context: Context = {
        "bed": mine, "today": today.isoformat(),
        "leave": sent["from"] or today.isoformat(),
        "back": sent["to"] or (today + dt.timedelta(days=USUAL_D)).isoformat(),
    }  # fmt: skip
    if any(sent.values()):
        context |= _answer(request, described, mine, sent)
    page = render(request, "pages/away.html", frame(request, "away", **context),
                  status=422 if context.get("problem") else 200)  # fmt: skip
    return unbroken(page)


@require_POST
def away_sheet(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The neighbour's sheet; whom to call goes on the paper and nowhere else."""
    described, mine = _bed(request, bed)
    sent = {key: request.POST.get(key, "")[:20] for key in ("from", "to")}
    account = _answer(request, described, mine, sent).get("account")
    if account is None:
        address = reverse("away", args=[farm, bed])
        return redirect(f"{address}?from={sent['from']}&to={sent['to']}")
    call = " ".join(request.POST.get("call", "").split())[:MOST_CALL]
    told = {"farm": described.name, "beds": [{**account, "call": call}]}
    pdf = away_pdf(told, shown_for(request, described))
    response = HttpResponse(pdf, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{bed}-away.pdf"'
    return response


def _bed(request: HttpRequest, bed: str) -> tuple[Farm, Bed]:
    described = farm_of_row(request.farm_row)
    return described, bed_or_404(described, bed)


def _answer(request: HttpRequest, farm: Farm, bed: Bed, sent: dict[str, str]) -> Context:
    try:
        leave, back = day_of(sent["from"], "from"), day_of(sent["to"], "to")
        work = absences.found(request.farm_row, farm, bed, leave, back)
    except KeeperError as problem:
        return {"problem": f"{problem.message} {problem.fix}".strip()}
    if work.problem:
        return {"problem": again(work.problem)}
    if work.account is None:
        return {"waiting": True}
    shown = shown_for(request, farm)
    account = again(work.account)
    return {"account": account, "span": (day_words(leave), day_words(back)),
            **_told(account, shown)}  # fmt: skip


def _told(account: Context, shown: Shown) -> Context:
    """The account's sentences in the reader's units, and its ways as rows of a table."""
    def lines(key: str) -> list[str]:
        return [shown.sentence(line) for line in account[key]]

    return {
        "headline": shown.sentence(account["headline"]), "before": lines("leave_with"),
        "visits": [short_day(dt.date.fromisoformat(day)) for day in account["visits"]],
        "cup": lines("cup"), "watch": lines("watch"), "call_if": lines("call_if"),
        "never": lines("never"), "cautions": lines("cautions"),
        "finds": [(shown.sentence(one["words"]), shown.sentence(one["act"]))
                  for one in account["finds"]],
        "ways": [_way(one, shown) for one in account["weighed"]],
    }  # fmt: skip


def _way(way: Context, shown: Shown) -> Context:
    odds = way["odds"]
    risks = [odds_short(odds[key], odds["members"])
             for key in ("odds_cold", "odds_hot", "odds_sour")]  # fmt: skip
    return {
        "words": shown.sentence(way["words"]), "chosen": way["chosen"], "risks": risks,
        "hungry": f"{way['hungry_d'][1]:.0f}",
        "kept": band_words(way["herd_kept"], shown, "share"),
    }  # fmt: skip
