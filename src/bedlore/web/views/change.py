"""Changing what is described: the place, limits, materials, containers, and beds that stand."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import available_timezones

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.facts import building, feedstocks
from bedlore.farm.bed import Bed
from bedlore.farm.cautions import cautions
from bedlore.farm.model import Farm
from bedlore.service.first_bed import PATTERNS
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import BedVersion, FarmRow, LogEntry
from bedlore.web import pictures, tasks, wiring
from bedlore.web.bed_drawing import side_svg
from bedlore.web.bed_words import differences, drain_words, species_words, stand_words
from bedlore.web.entry_fields import Values, units_of
from bedlore.web.parts.base import Part, flat, rows_of, without
from bedlore.web.parts.bed import LAYERS, bed_part, bed_raw, farm_with_bed
from bedlore.web.parts.place import (
    LIMIT_UNITS,
    LIMITS,
    SITE,
    building_words,
    limit_words,
    taste_words,
)
from bedlore.web.parts.saving import Edit, save_part
from bedlore.web.parts.stock import CONTAINERS, STORE, use_words
from bedlore.web.views.build import pattern_words
from bedlore.web.views.common import bed_or_404, faults_by_field, frame, number_of, shown_for
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
PARTS = {part.key: part for part in (LIMITS, SITE, STORE, CONTAINERS)}
_BLANK_ROWS = 2
_LISTS = {"store": ("store",), "containers": ("container",)}
_MOST_VERSIONS = 30


@dataclass
class Form:
    """A part's form as it is shown: values as typed or as they are, and what is wrong with
    them."""

    part: Part
    shown: Shown
    values: Values
    faults: dict[str, list[str]] = field(default_factory=dict)

    @property
    def loose(self) -> list[str]:
        """Sentences that belong beside no field shown."""
        return [text for name, said in self.faults.items() for text in said
                if name not in self.values and not name.endswith("-row")]  # fmt: skip


def change(request: HttpRequest, farm: str, part: str) -> HttpResponse:
    """Changes one part of the farm's description."""
    if part not in PARTS:
        raise Http404
    row = request.farm_row
    described = farm_of_row(row)
    form = Form(PARTS[part], shown_for(request, described), {})
    if _edited(request, form, described, part):
        return redirect("farm", farm=row.slug)
    context = {"form": form, "values": form.values, "faults": form.faults, "version": row.version,
               "signs": {unit: sign for unit, (sign, _u) in units_of(form.shown).items()},
               **_choices(part, form)}  # fmt: skip
    return render(request, f"pages/change_{part}.html", frame(request, "farm", **context),
                  status=422 if form.faults else 200)  # fmt: skip


def _edited(request: HttpRequest, form: Form, described: Farm, why: str) -> bool:
    """Fills ``form`` in from what was sent; whether it was saved."""
    form.values = form.part.values(described, form.shown)
    saved = False
    if request.method == "POST":
        form.values, act = sent_values(request), request.POST.get("act", "save")
        if act.startswith("preset:"):
            form.values = form.part.preset(form.values, act.partition(":")[2][:40], form.shown)
        elif act == "save":
            saved = _saved(request, form, why)
    for prefix in _LISTS.get(form.part.key, (*LAYERS, "zone") if "bed-" in form.part.key else ()):
        rows = rows_of(form.values, prefix)
        if prefix != "zone":
            rows += [{"name": ""} for _k in range(_BLANK_ROWS)]
        form.values = without(form.values, prefix) | flat(prefix, rows)
    return saved


def _saved(request: HttpRequest, form: Form, why: str) -> bool:
    row = request.farm_row
    edit = Edit(form.part, form.values, number_of(form.values.get("version", "")), form.shown)
    before = {str(one) for one in cautions(farm_of_row(row))}
    try:
        saved = save_part(row, edit, wiring.author(request), why)
    except KeeperError as problem:
        form.faults = faults_by_field(problem)
        row.refresh_from_db()  # the next press is an answer to what is shown now
        return False
    tasks.ask_outlook(row)
    messages.success(request, _("Saved. The outlook is being worked out again."))
    for one in cautions(saved):
        if str(one) not in before:
            messages.warning(request, form.shown.sentence(one.sentence))
    return True


def _choices(part: str, form: Form) -> Context:
    """What a part's form offers to choose from."""
    if part == "limits":
        words = limit_words()
        signs = units_of(form.shown)
        limits = [(name, words[name], signs[unit][0], form.values.get(name, ""))
                  for name, unit in LIMIT_UNITS.items()]  # fmt: skip
        return {"rows": limits, "tastes": taste_words()}
    if part == "site":
        months = [dt.date(2025, month, 1) for month in range(1, 13)]
        table = [(day, f"low-{k}", form.values.get(f"low-{k}", ""), f"high-{k}",
                  form.values.get(f"high-{k}", "")) for k, day in enumerate(months)]  # fmt: skip
        return {"months": table, "buildings": building_words(),
                "time_zones": sorted(name for name in available_timezones() if "/" in name)}
    if part == "store":
        known = feedstocks.load()
        rows = [{**row, "kind_words": known[row["material"]].name} if row.get("material") in known
                else row for row in rows_of(form.values, "store")]  # fmt: skip
        return {"rows": rows, "uses": use_words(), "known": _by_name(known)}
    return {"rows": rows_of(form.values, "container")}


def _by_name(table: Any) -> list[tuple[str, str]]:
    return sorted(((id_, one.name) for id_, one in table.items()), key=lambda p: p[1].lower())


def rebuild(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """Changes a bed that stands: a tray or a side more, other walls, a cover; or takes it down.
    What it was before stays readable."""
    row = request.farm_row
    described = farm_of_row(row)
    there = bed_or_404(described, bed)
    today = wiring.now_of(row).astimezone(described.site.zone_info()).date()
    form = Form(bed_part(bed, today), shown_for(request, described), {})
    act = request.POST.get("act", "")
    if act in ("take-down", "stand-again"):
        if _stands_or_not(request, form, there, act):
            return redirect("farm", farm=row.slug)
    elif _takes_out_what_is_logged(request, there, form):
        pass
    elif _edited(request, form, described, f"bed {bed}"[:200]):
        return redirect("bed", farm=row.slug, bed=bed)
    if not form.values:
        form.values = form.part.values(described, form.shown)
    context = {
        "form": form, "values": form.values, "faults": form.faults, "bed": there,
        "version": row.version, "signs": {u: sign for u, (sign, _r) in
                                          units_of(form.shown).items()},
        "drawing": _drawing(there, form, today), "history": _history(row, there, form.shown),
        "layers": [(_("Walls"), "wall", rows_of(form.values, "wall")),
                   (_("Floor"), "floor", rows_of(form.values, "floor")),
                   (_("Lid"), "lid", rows_of(form.values, "lid"))],
        "zones": rows_of(form.values, "zone"), "walls": _by_name(building.MATERIALS),
        "covers": _by_name({id_: one for id_, one in building.MATERIALS.items()
                            if one.use == "cover"}),
        "strewn": _by_name({id_: one for id_, one in feedstocks.load().items()
                            if id_.startswith("bed_")}),
        "presets": [(p.key, pattern_words()[p.key][0]) for p in PATTERNS
                    if (p.kind == "wedge") == (there.kind == "wedge")],
        "stands": stand_words(), "drains": drain_words(), "species": species_words(),
        "today": today,
    }  # fmt: skip
    return render(request, "pages/rebuild.html", frame(request, "farm", **context),
                  status=422 if form.faults else 200)  # fmt: skip


def _takes_out_what_is_logged(request: HttpRequest, bed: Bed, form: Form) -> bool:
    """Asks once more before a zone goes that the log speaks of."""
    if request.method != "POST" or request.POST.get("act", "save") != "save":
        return False
    sent = sent_values(request)
    for place, row in enumerate(rows_of(sent, "zone")):
        if row.get("gone") != "1" or bed.zone(row.get("key", "")) is None:
            continue
        count = LogEntry.objects.filter(farm=request.farm_row, bed=bed.id, zone=row["key"],
                                        holds=True).count()  # fmt: skip
        if count:
            sent[f"zone-{place}-gone"] = "sure"
            form.faults.setdefault(f"zone-{place}-row", []).append(
                _("%d entries of the log speak of it. They stay in the log, but no outlook can"
                  " use them any more. Save again to take it out all the same.") % count)
    if form.faults:
        form.values = sent
    return bool(form.faults)


def _stands_or_not(request: HttpRequest, form: Form, bed: Bed, act: str) -> bool:
    """Takes the bed down, or lets it stand again; whether that was saved."""
    sent = sent_values(request)
    day = sent.get("ended", "").strip() if act == "take-down" else None

    def changed(farm: Farm, _sent: Values, _shown: Shown) -> Farm:
        now = farm.bed(bed.id)
        assert now is not None
        raw = now.model_dump(mode="json", exclude_none=True, exclude={"ended"})
        try:
            return farm_with_bed(farm, ({**raw, **({"ended": day} if day else {})}, []))
        except FaultList as problem:
            raise FaultList(Fault("ended", fault.sentence) for fault in problem.faults) from None

    if act == "take-down" and not day:
        form.faults = {"ended": [_("Say on which day.")]}
        return False
    form.values = {"version": sent.get("version", "")}
    whole = form.part
    form.part = Part(whole.key, lambda farm, _s: {"ended": str(getattr(
        farm.bed(bed.id), "ended", ""))}, changed)  # fmt: skip
    saved = _saved(request, form, act)
    form.part, form.values = whole, {}
    return saved


def _drawing(bed: Bed, form: Form, today: dt.date) -> Any:
    """The bed as typed, or as it stands while what is typed cannot be drawn."""
    try:
        raw, _faults = bed_raw(bed, form.values, form.shown, today)
        drawn = Bed.model_validate(raw)
    except (KeeperError, ValueError, TypeError):
        drawn = bed
    return pictures.both(side_svg(drawn, form.shown, pictures.PHONE_PX, "re-p"),
                         side_svg(drawn, form.shown, pictures.TABLE_PX, "re-t"))  # fmt: skip


def _history(row: FarmRow, bed: Bed, shown: Shown) -> list[Context]:
    """Each time the bed was built otherwise, newest first."""
    versions = list(BedVersion.objects.filter(bed__farm=row, bed__slug=bed.id)
                    .order_by("-version")[:_MOST_VERSIONS])  # fmt: skip
    beds = [Bed.model_validate_json(one.body) for one in versions]
    found = []
    for place, one in enumerate(versions):
        before = beds[place + 1] if place + 1 < len(beds) else None
        found.append({
            "since": one.since, "by": one.saved_by, "is_first": one.version == 1,
            "changes": differences(before, beds[place], shown) if before else [],
        })  # fmt: skip
    return found
