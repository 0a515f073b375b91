"""What is printed for a bed: the sheet that hangs in the shed for a month, and its label."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.farm.model import Farm
from bedlore.say import listener, say
from bedlore.say.language import names
from bedlore.service.marks import Marked
from bedlore.service.shed_sheet import LINES, Sheet
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import card_table
from bedlore.sheets.qr import qr_svg
from bedlore.sheets.typeset import Paper, pdf_of, printed_mark

Told = dict[str, Any]


def month_words(month: dt.date) -> str:
    """``February 2026``."""
    called = names(listener().language).months[month.month - 1]
    return say("{month} {year}", month=called, year=month.year)


def shed_sheet_pdf(farm: Farm, marked: Marked, sheet: Sheet, told: Told | None, shown: Shown,
                   address: str = "", paper: Paper | None = None) -> bytes:  # fmt: skip
    """A sheet for a bed and month as PDF. ``told`` is the bed in a report's account (None before
    its first outlook), ``address`` of the page where the sheet is typed in ("" for none)."""
    bed, limits = marked.bed, farm.limits_of(marked.bed)
    card = card_table(told["card"], shown) if told else None
    return pdf_of("shed_sheet.typ", {
        "farm": farm.name, "bed": bed.name, "mark": printed_mark(marked.shape, marked.number),
        "month": month_words(sheet.month), "sheet": say("Sheet {number}", number=sheet.number),
        "lines": LINES, "card": card, "code": str(qr_svg(address)) if address else "",
        "left": [say("none"), say("some"), say("lots")],
        "squeeze": [say("crumbly"), say("damp"), say("drops"), say("runs")],
        "probed": say("Probed [{degree}]", degree=shown.degree),
        "zones": "; ".join(zone.called for zone in bed.zones),
        "measures": ", ".join(_measure(c.name, c.mass_kg, c.volume_l, shown)
                              for c in farm.containers),
        "materials": ", ".join(item.name for item in farm.store if item.name and not item.hold),
        "limits": say("Not colder than {cold}, not hotter than {hot}; water {dry} to {wet}.",
                      cold=shown.limit(limits.cold_c), hot=shown.limit(limits.hot_c),
                      dry=shown.percent(limits.moisture_low),
                      wet=shown.percent(limits.moisture_high)),
        "harm": [shown.sentence(one["words"]) for one in told["harm"]] if told else [],
    }, shown, paper)  # fmt: skip


def _measure(name: str, mass_kg: float | None, volume_l: float | None, shown: Shown) -> str:
    size = shown.mass(mass_kg) if mass_kg else shown.volume(volume_l or 0.0)
    return f"{name} = {size}"


def label_pdf(farm: Farm, marked: list[Marked], addresses: list[str], shown: Shown,
              paper: Paper | None = None) -> bytes:  # fmt: skip
    """Labels to nail on beds as PDF, a page a bed, with a code that opens the bed's log page
    (none for an empty address)."""
    return pdf_of("label.typ", {
        "farm": farm.name,
        "labels": [
            {"bed": one.bed.name, "mark": printed_mark(one.shape, one.number),
             "code": str(qr_svg(address)) if address else "", "address": address}
            for one, address in zip(marked, addresses, strict=True)
        ],
    }, shown, paper)  # fmt: skip
