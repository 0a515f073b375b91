"""The score card: how past outlooks turned out, what was learnt, and what was said when."""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from bedlore.farm.model import Farm
from bedlore.service.belief import NOT_LEARNT
from bedlore.service.learnt_words import rests_words
from bedlore.service.phrases import NOTABLE
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import AdviceGiven, BedOutlookRow, FarmRow, JobRun, OutlookRun
from bedlore.web import tasks, wiring
from bedlore.web.views.common import frame, shown_for

Context = dict[str, Any]
MOST = 60
_BAR_H, _BAR_W = 60, 22  # a bar of the histogram at its tallest [px], and its place


def scores(request: HttpRequest, farm: str) -> HttpResponse:
    """How outlooks turned out, by bed; the outlooks stored and the answers given."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    # Of a morning that was stored anew, when plans took the lead, the last counts.
    anew = OutlookRun.objects.filter(farm=row, made_at=OuterRef("run__made_at"),
                                     pk__gt=OuterRef("run_id"))  # fmt: skip
    rows = list(
        BedOutlookRow.objects.filter(~Exists(anew), run__farm=row).select_related("run")
        .defer("body").order_by("-run__made_at", "-run_id", "pk")[:MOST]
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
        "beds": _cards(row, described, shown), "learning": _learning(row),
    }  # fmt: skip
    return render(request, "pages/scores.html", frame(request, "scores", **context))


@require_POST
def learn(request: HttpRequest, farm: str) -> HttpResponse:
    """Asks for the beds to be learnt from the log now."""
    tasks.ask_learning(request.farm_row)
    return redirect("scores", farm)


def _learning(row: FarmRow) -> Context:
    """How the learning job stands."""
    job = JobRun.objects.filter(farm=row, kind=tasks.LEARN).order_by("-asked_at", "-pk").first()
    if job is None:
        return {"state": "", "sentence": "", "at": None}
    return {"state": job.state, "sentence": job.sentence, "at": job.ended_at or job.asked_at}


def _cards(row: FarmRow, farm: Farm, shown: Shown) -> list[Context]:
    """Each bed's card in words and figures, as it stood with the last morning."""
    kept = {one.bed_id: one for one in wiring.keeping_of(row).scores()}
    zone = farm.site.zone_info()
    return [
        {
            "name": bed.name or bed.id, "rests": rests_words(one.rests or NOT_LEARNT, zone),
            "words": [shown.sentence(line) for line in one.words],
            "groups": [_group(card, shown) for card in one.cards],
            "bars": _bars(one.cards[0]["pit_counts"]) if one.cards else [],
        }
        for bed in farm.beds if (one := kept.get(bed.id)) is not None
    ]  # fmt: skip


def _group(card: Context, shown: Shown) -> Context:
    """A row of the table: all readings, a lead time or a season."""
    low, high = (shown.percent(share) for share in card["coverage_band"])
    skill = {one["reference"]: _skill(one["skill"], shown) for one in card["references"]}
    return {
        "group": _group_words(card["group"]), "count": card["count"],
        "miss": shown.difference(card["crps_k"]),
        "half": shown.percent(card["covered_50"]), "most": shown.percent(card["covered_90"]),
        "chance": _("%(low)s to %(high)s") % {"low": low, "high": high},
        "skills": [skill.get(name, "–")
                   for name in ("persistence", "climatology", "air", "shed_lag")],
    }  # fmt: skip


def _skill(skill: float, shown: Shown) -> str:
    return f"{'+' if skill >= 0 else ''}{shown.percent(skill)}"


def _group_words(group: str) -> str:
    """The name of a group of readings."""
    seasons = {"all": _("all"), "Dec-Feb": _("December to February"),
               "Mar-May": _("March to May"), "Jun-Aug": _("June to August"),
               "Sep-Nov": _("September to November")}  # fmt: skip
    days = group.removesuffix(" d ahead") if group.endswith(" d ahead") else "0"
    said = ngettext("%(days)s day ahead", "%(days)s days ahead", int(days or 0))
    return seasons.get(group) or said % {"days": days}


def _bars(counts: list[int]) -> list[Context]:
    """Bars of the histogram of where readings fell in what was foreseen."""
    most = max([*counts, 1])
    heights = [round(_BAR_H * count / most) for count in counts]
    return [
        {"x": 2 + i * _BAR_W, "y": 2 + _BAR_H - height, "height": height, "count": count}
        for i, (count, height) in enumerate(zip(counts, heights, strict=True))
    ]


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
