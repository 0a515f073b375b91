"""The score card's ground: every outlook as it was given, and what the keeper made of it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from bedlore.service.phrases import NOTABLE
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import AdviceGiven, BedOutlookRow
from bedlore.web.views.common import frame, shown_for

Context = dict[str, Any]
MOST = 60


def scores(request: HttpRequest, farm: str) -> HttpResponse:
    """Outlooks stored and answers given; nothing is scored that has not been measured."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    rows = list(
        BedOutlookRow.objects.filter(run__farm=row).select_related("run").defer("body")
        .order_by("-run__made_at", "-run_id", "pk")[:MOST]
    )  # fmt: skip
    runs = {one.run_id for one in rows}
    given = {
        (one.run_id, one.bed): one
        for one in AdviceGiven.objects.filter(farm=row, run_id__in=runs).defer("body")
    }
    answered = AdviceGiven.objects.filter(farm=row).exclude(answer="")
    words = {"done": _("done"), "changed": _("done otherwise"), "skipped": _("skipped")}
    counts = [(label, answered.filter(answer=key).count()) for key, label in words.items()]
    context = {
        "rows": [_line(one, given.get((one.run_id, one.bed)), described, shown, words)
                 for one in rows],
        "counts": counts, "zone": described.site.zone_info(),
        "stored": BedOutlookRow.objects.filter(run__farm=row).count(),
    }  # fmt: skip
    return render(request, "pages/scores.html", frame(request, "scores", **context))


def _odds(share: float, shown: Shown) -> str:
    """Odds as a share; an ensemble that never got there does not mean that it cannot be."""
    return shown.percent(share) if share >= NOTABLE else _("under 2 %")


def _line(one: Any, advice: Any, farm: Any, shown: Shown, words: dict[str, str]) -> Context:
    bed = farm.bed(one.bed)
    return {
        "made_at": one.run.made_at, "bed": bed.name if bed else one.bed,
        "cold": _odds(one.odds_cold, shown), "hot": _odds(one.odds_hot, shown),
        "sour": _odds(one.odds_sour, shown),
        "headline": shown.sentence(advice.headline) if advice else "",
        "answer": words.get(advice.answer, "") if advice else "",
        "by": advice.answered_by if advice else "",
    }  # fmt: skip
