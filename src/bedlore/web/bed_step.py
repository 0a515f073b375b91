"""A bed at one half day of its outlook: from above, cut along its length, and layer by layer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.account import built_account, limits_account
from bedlore.service.book import Written
from bedlore.service.marks import marks
from bedlore.service.morning import BedMorning
from bedlore.service.phrases import local, short_day
from bedlore.service.shown import Shown
from bedlore.web import pictures
from bedlore.web.bed_drawing import Spot, plan_svg
from bedlore.web.entry_words import material_words, parts_of

Context = dict[str, Any]


@dataclass(frozen=True)
class StepOf:
    """A bed's morning, looked at ``step`` steps ahead (0: now)."""

    told: BedMorning
    farm: Farm
    bed: Bed
    now: dt.datetime
    shown: Shown
    step: int

    @property
    def every_h(self) -> int:
        """Hours in a step."""
        return self.told.cells.every_h if self.told.cells else 24

    @property
    def last(self) -> int:
        """How many steps there are."""
        return last_step(self.told)

    def section(self) -> Context:
        """The cross-section with the temperatures of this step; layers as thick as now."""
        section = asdict(self.told.section)
        if self.step and self.told.cells:
            for zone in section["zones"]:
                temps = self.told.cells.temp_c[zone["zone_id"]][self.step - 1]
                for cell, temp_c in zip(zone["cells"], temps, strict=False):
                    cell["temp_c"] = temp_c
        return section

    def drawn(self) -> Context:
        """The bed as its cut is drawn at this step."""
        return {
            **marks(self.farm)[self.bed.id].account(), "section": self.section(),
            "limits": limits_account(self.farm.limits_of(self.bed)),
            "built": built_account(self.farm, self.bed.id),
        }  # fmt: skip

    def probe_c(self, zone_id: str) -> float:
        """Most likely temperature at the thermometer's depth."""
        outlook = self.told.outlook
        series = outlook.series("temp_probe_c", zone_id)[2]
        place = self.step * self.every_h // outlook.every_h - 1
        return series[min(max(place, 0), len(series) - 1)]


def last_step(told: BedMorning) -> int:
    """How many steps ahead the stored outlook reaches."""
    if told.cells is None:
        outlook = told.outlook
        return len(outlook.series("temp_probe_c")[0]) * outlook.every_h // 24
    return len(next(iter(told.cells.temp_c.values())))


def step_context(at: StepOf, fed: Mapping[str, Written], cut: str) -> Context:
    """What the template of a step needs; ``cut`` is its cross-section, drawn."""
    bed, shown, limits = at.bed, at.shown, at.farm.limits_of(at.bed)
    spots = {zone.id: _spot(at, zone.id, zone.side, fed) for zone in bed.zones}
    plans = [plan_svg(bed, shown, spots, (limits.cold_c, limits.hot_c), px, f"plan{px}")
             for px in (pictures.PHONE_PX, pictures.TABLE_PX)]  # fmt: skip
    return {
        "plan": pictures.both(*plans),
        "cut": cut, "layers": _layers(at.section(), shown), "degree": shown.degree, "step": at.step,
        "when": _when(at, at.step), "steps": _steps(at),
        "extremes": _extremes(at), "has_cells": at.told.cells is not None,
    }  # fmt: skip


def _when(at: StepOf, step: int) -> str:
    here = local(at.now + dt.timedelta(hours=step * at.every_h), at.farm.site.time_zone)
    return f"{short_day(here.date())}, {here:%H:%M}"


def _steps(at: StepOf) -> list[Context]:
    """Buttons to other steps: (key, step or None, words)."""
    day = 24 // at.every_h
    moves = [("day-back", -day, _("Day back")), ("half-back", -1, _("Half day back")),
             ("half-on", 1, _("Half day on")), ("day-on", day, _("Day on"))]  # fmt: skip
    if day == 1:
        moves = [moves[0], moves[-1]]
    found = []
    for key, by, words in moves:
        to = min(max(at.step + by, 0), at.last)
        found.append({"key": key, "to": to if to != at.step else None, "words": words})
    return found


def _extremes(at: StepOf) -> list[Context]:
    """The steps at which some layer is coldest and warmest, to go there at once."""
    if at.told.cells is None:
        return []
    in_use = [zone.zone_id for zone in at.told.section.zones if zone.active and zone.cells]
    steps = range(1, at.last + 1)

    def worst(pick: Any, step: int) -> float:
        cells = at.told.cells
        assert cells is not None
        return float(pick(pick(cells.temp_c[zone][step - 1]) for zone in in_use))

    if not in_use:
        return []
    cold = min(steps, key=lambda step: worst(min, step))
    warm = max(steps, key=lambda step: worst(max, step))
    return [
        {"key": "coldest", "to": cold, "words": _("Coldest layer: %s") % _when(at, cold)},
        {"key": "warmest", "to": warm, "words": _("Warmest layer: %s") % _when(at, warm)},
    ]  # fmt: skip


def _spot(at: StepOf, zone: str, side: str, fed: Mapping[str, Written]) -> Spot:
    """What the plan says of a zone."""
    seen = next((one for one in at.told.section.zones if one.zone_id == zone), None)
    if seen is None or not seen.active:
        return Spot((_("empty"),))
    temp_c = at.probe_c(zone)
    lines = [at.shown.temp(temp_c)]
    last = max((fed[key] for key in (zone, side, "") if key in fed),
               key=lambda one: one.entry.at, default=None)  # fmt: skip
    if last is not None:
        day = short_day(last.entry.at.astimezone(at.farm.site.zone_info()).date())
        lines += [_("fed %(day)s") % {"day": day.partition(" ")[2]}, _meal(last, at)]
    return Spot(tuple(lines), temp_c)


def _meal(fed: Written, at: StepOf) -> str:
    """All of a feed by weight, and the first of what it was."""
    parts = parts_of(fed.entry)
    first = material_words(parts[0].material, at.farm)
    mass = at.shown.mass(sum(part.mass_kg for part in parts))
    return _("%(mass)s %(material)s and more") % {"mass": mass, "material": first} if (
        len(parts) > 1) else f"{mass} {first}"


def _layers(section: Context, shown: Shown) -> Context:
    """The figures behind the cut: rows of (depth of the layer's middle, temperature by zone)."""
    zones = [zone for zone in section["zones"] if zone["active"] and zone["cells"]]
    rows = []
    for place in range(max((len(zone["cells"]) for zone in zones), default=0)):
        row = [str(place + 1)]
        for zone in zones:
            depth = _middle_m(zone["cells"], place)
            row.append(f"{shown.temp(zone['cells'][place]['temp_c'])} ({shown.length(depth)})")
        rows.append(row)
    return {"heads": [zone["name"] for zone in zones], "rows": rows}


def _middle_m(cells: Sequence[Mapping[str, float]], place: int) -> float:
    """Depth of the middle of a layer below the surface [m]."""
    above: Iterable[float] = (cell["thickness_m"] for cell in cells[:place])
    return sum(above) + cells[place]["thickness_m"] / 2
