"""The page's face: each bed to scale, what to do in order of urgency, and one-tap answers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.errors import KeeperError
from bedlore.service.account import report_account, today_account
from bedlore.service.answer_advice import ANSWERS, answer_advice
from bedlore.service.learnt_words import rests_words
from bedlore.service.morning import Morning
from bedlore.service.phrases import day_words, days_of, local, range_word, short_weekday, temp_word
from bedlore.service.record_entry import record_entry
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import pictures, tasks, wiring
from bedlore.web.phone import first_said, is_from_phone, may_wait, written_at
from bedlore.web.views.common import (
    age_words,
    frame,
    new_client_id,
    part_of,
    shown_for,
    unbroken,
)

Context = dict[str, Any]
WEEK_D = 7
BEDS_A_PAGE = 8  # drawings and all; more would weigh too much for a weak signal
FOOD_LEFT = ("none", "some", "lots")


def today(request: HttpRequest, farm: str) -> HttpResponse:
    """What to do today, bed by bed, the most urgent first."""
    row = request.farm_row
    told = wiring.last_morning(row)
    described = farm_of_row(row)
    shown = shown_for(request, described)
    context: Context = {"told": told, **age_words(told), "client_id": new_client_id()}
    if told is not None:
        chores = chores_of(told, row.version, shown)
        part = part_of(request, len(chores), BEDS_A_PAGE)
        leaves = pictures.kept(told, row.version, f"today-{part.place}-{shown.units}",
                               lambda: _leaves(told.of_beds(part.of(chores)), shown))  # fmt: skip
        answers = DbAdvice(row).of_run(told.run_id)
        context.update(
            day=day_words(local(told.morning.now, described.site.time_zone).date()),
            leaves=[{**leaf, "given": answers.get(leaf["id"])} for leaf in leaves],
            chores=[{**chore, "given": answers.get(chore["id"]), "part": place // BEDS_A_PAGE}
                    for place, chore in enumerate(chores)], part=part,
            week=_week(leaves), weather=shown.sentence(told.morning.weather_note),
            rests=_rests(told.morning),
            kept_aside=[shown.sentence(f"{f.path}: {f.sentence}") for f in told.morning.faults],
            units=shown,
        )  # fmt: skip
    return unbroken(render(request, "pages/today.html", frame(request, "today", **context)))


def chores_of(told: wiring.Told, version: int, shown: Shown) -> list[Context]:
    """What to do at every bed, most urgent first."""
    return pictures.kept(told, version, f"chores-{shown.units}", lambda: _chores(told, shown))  # type: ignore[no-any-return]


def _chores(told: wiring.Told, shown: Shown) -> list[Context]:
    return [
        {"id": bed["bed"], "name": bed["name"], "mark": bed["mark"], "shape": bed["mark_shape"],
         "due": bed["urgency"] == "due",
         "headline": shown.sentence(bed["advice"]["headline"])}
        for bed in today_account(told.morning)["beds"]
    ]  # fmt: skip


def _leaves(told: wiring.Told, shown: Shown) -> list[Context]:
    """Each bed in words, with its drawing and its coming week."""
    account = report_account(told.morning)
    zone = account["time_zone"]
    found = []
    row = pictures.shelf_of(account["beds"], shown) if account["beds"] else []
    for bed, glance in zip(account["beds"], row, strict=True):
        leaf = leaf_of(bed, shown, zone)
        kind = bed["advice"]["action"]["kind"]
        leaf.update(kind=kind, glance=glance, section=pictures.section_of(bed, shown),
                    card=with_spans(leaf["card"]), week=_days(bed, shown, zone),
                    write_as=_WRITE_AS.get(kind, "look"))
        found.append(leaf)
    return found


def with_spans(card: Context) -> Context:
    """The card with one cell where all bands say the same."""
    rows = []
    for row in card["rows"]:
        cells = [{**cell, "band": band, "span": 1}
                 for cell, band in zip(row["cells"], card["bands"], strict=True)]  # fmt: skip
        if len({(cell["act"], cell["why"]) for cell in row["cells"]}) == 1:
            cells = [{**cells[0], "span": len(cells)}]
        rows.append({**row, "told": cells})
    return {**card, "rows": rows}


# The kind of entry in which somebody says what was done instead.
_WRITE_AS = {"feed": "feed", "water": "water", "bedding": "bedding", "cover": "cover",
             "uncover": "cover", "insulate": "cover", "mat": "mat"}  # fmt: skip


def _days(bed: Context, shown: Shown, zone: str) -> list[Context]:
    """The coming week: the most likely coldest and warmest of each day where worms live."""
    whole, limits = bed["days"]["whole"], bed["limits"]
    days = []
    for k, day in enumerate(days_of(bed["days"]["times"], zone)[:WEEK_D]):
        low, high = whole["temp_coldest_c"][2][k], whole["temp_warmest_c"][2][k]
        words = dict.fromkeys(temp_word(t, limits["cold_c"], limits["hot_c"]) for t in (low, high))
        days.append({
            "day": short_weekday(day),
            "range": f"{shown.temp(low, unit=False)} – {shown.temp(high, unit=False)}",
            "word": " – ".join(map(range_word, words)),
            "class": temp_word(low, limits["cold_c"], limits["hot_c"]),
        })  # fmt: skip
    return days


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
        receipt = answer_advice(
            DbAdvice(row), book, farm_of_row(row), int(number), word,  # type: ignore[arg-type]
            wiring.author(request), wiring.now_of(row), said, client_id,
        )  # fmt: skip
    except KeeperError as problem:
        if is_from_phone(request):
            raise
        messages.error(request, str(problem))
        return redirect("today", farm=row.slug)
    if receipt is not None:
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
    told = wiring.last_morning(request.farm_row, bed_id)
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


def _rests(morning: Morning) -> list[str]:
    """What the beds' figures rest on: one line for all when it is the same."""
    zone = morning.farm.site.zone_info()
    words = {bed.bed_id: rests_words(bed.rests, zone) for bed in morning.beds}
    if len(set(words.values())) == 1:
        return list(words.values())[:1]
    named = {bed.id: bed.name or bed.id for bed in morning.farm.beds}
    return [f"{named[bed]}: {line}" for bed, line in words.items()]
