"""The page's face: each bed to scale, what to do in order of urgency, and one-tap answers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.errors import KeeperError
from bedlore.service.answer_advice import ANSWERS, answer_advice
from bedlore.service.phrases import day_words, local
from bedlore.service.record_entry import record_entry
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import tasks, wiring
from bedlore.web.leaves.today import BEDS_A_PAGE, today_leaves
from bedlore.web.phone import first_said, is_from_phone, may_wait, written_at
from bedlore.web.views.common import (
    age_words,
    beds_page,
    frame,
    new_client_id,
    shown_for,
    unbroken,
)

Context = dict[str, Any]
FOOD_LEFT = ("none", "some", "lots")


def today(request: HttpRequest, farm: str) -> HttpResponse:
    """What to do today, bed by bed, the most urgent first."""
    row = request.farm_row
    told = wiring.last_morning(row, ())
    described = farm_of_row(row)
    shown = shown_for(request, described)
    chores, part, page = beds_page(request, told, shown, BEDS_A_PAGE, today_leaves)
    context: Context = {"client_id": new_client_id(), "told": page and told,
                        **age_words(told if page else None)}  # fmt: skip
    if told and page:
        answers = DbAdvice(row).of_run(told.run_id)
        leaves = [{**leaf, "given": answers.get(leaf["id"])} for leaf in page["leaves"]]
        context.update(
            day=day_words(local(told.morning.now, described.site.time_zone).date()),
            leaves=leaves, part=part,
            chores=[{**chore, "given": answers.get(chore["id"]), "part": place // BEDS_A_PAGE}
                    for place, chore in enumerate(chores)],
            week=_week(leaves), weather=shown.sentence(told.morning.weather_note),
            rests=page["rests"],
            kept_aside=[shown.sentence(f"{f.path}: {f.sentence}") for f in told.morning.faults],
            units=shown,
        )  # fmt: skip
    return unbroken(render(request, "pages/today.html", frame(request, "today", **context)))


def _week(leaves: list[Context]) -> Context:
    """All beds side by side over the coming week."""
    if not leaves:
        return {}
    return {"days": [day["day"] for day in leaves[0]["week"]], "beds": leaves}


@require_POST
@may_wait
def answer(request: HttpRequest, farm: str) -> HttpResponse:
    """One tap on advice: done or skipped (done otherwise is written on a page of its own)."""
    row, number = request.farm_row, request.POST.get("advice", "")
    word = request.POST.get("answer", "")
    if not number.isdecimal() or word not in ANSWERS or len(number) > 15:
        messages.error(request, _("That answer was not understood. Load the page again."))
        return redirect("today", farm=row.slug)
    client_id, book = f"advice-{number}-{word}", DbLog(row)
    said = {"at": first_said(book, client_id, written_at(request))}
    try:
        written = answer_advice(
            DbAdvice(row), book, farm_of_row(row), int(number), word,  # type: ignore[arg-type]
            wiring.author(request), wiring.now_of(row), said, client_id,
        )  # fmt: skip
    except KeeperError as problem:
        if is_from_phone(request):
            raise
        messages.error(request, str(problem))
        return redirect("today", farm=row.slug)
    if written:
        tasks.ask_outlook(row)
    messages.success(request, _("Skipped; noted.") if word == "skipped" else _("Written down."))
    return redirect("today", farm=row.slug)


@require_POST
@may_wait
def found(request: HttpRequest, farm: str) -> HttpResponse:
    """One tap on the if-you-find card: writes the look, and says what the card says to do."""
    row = request.farm_row
    bed_id, left = request.POST.get("bed", "")[:80], request.POST.get("food_left", "")
    book, client_id = DbLog(row), request.POST.get("client_id", "")[:80]
    at = first_said(book, client_id, written_at(request))
    raw = {"kind": "look", "bed": bed_id, "at": at, "food_left": left}
    try:
        record_entry(book, farm_of_row(row), raw, wiring.author(request), wiring.now_of(row),
                     client_id)  # fmt: skip
    except KeeperError as problem:
        if is_from_phone(request):
            raise
        messages.error(request, str(problem))
        return redirect("today", farm=row.slug)
    tasks.ask_outlook(row)
    messages.success(request, _card_says(request, bed_id, left))
    return redirect("today", farm=row.slug)


def _card_says(request: HttpRequest, bed_id: str, left: str) -> str:
    """What the card tells to do for what was found."""
    told = wiring.last_morning(request.farm_row, (bed_id,))
    shown = shown_for(request, farm_of_row(request.farm_row))
    bands = {"cold": _("bed cold"), "mild": _("bed mild"), "warm": _("bed warm")}
    acts = {
        bands[row.band]: shown.sentence(row.act)
        for bed in (told.morning.beds if told else ())
        for row in bed.card.rows if row.food_left == left
    }  # fmt: skip
    said = _("Written down.")
    if len(set(acts.values())) == 1:
        return f"{said} {_('The card says:')} {next(iter(acts.values()))}"
    told_acts = " ".join(f"{band[:1].upper()}{band[1:]}: {act}" for band, act in acts.items())
    return f"{said} {_('The card says:')} {told_acts}" if acts else said
