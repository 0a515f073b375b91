"""The neighbour's sheet while the keeper is away: one page a bed, big letters, no pictures."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.say import say
from bedlore.service.phrases import short_day
from bedlore.service.shown import Shown
from bedlore.sheets.typeset import Paper, pdf_of, printed_mark

Told = dict[str, Any]


def away_pdf(account: Told, shown: Shown, paper: Paper | None = None) -> bytes:
    """The PDF of what :func:`bedlore.service.away.away_account` gives, a page for each bed."""
    beds = [_page(bed, shown) for bed in account["beds"]]
    return pdf_of("away.typ", {"farm": account["farm"], "beds": beds}, shown, paper)


def _page(bed: Told, shown: Shown) -> Told:
    def day(text: str) -> str:
        return short_day(dt.date.fromisoformat(text))

    def told(lines: list[str]) -> list[str]:
        return [shown.sentence(line) for line in lines]

    return {
        "bed": bed["name"] or bed["bed"], "mark": printed_mark(bed["mark_shape"], bed["mark"]),
        "span": say("{first} to {last}", first=day(bed["leave"]), last=day(bed["return"])),
        "visits": [day(one) for one in bed["visits"]],
        "cup": told(bed["cup"]),
        "finds": [[shown.sentence(one["words"]), shown.sentence(one["act"])]
                  for one in bed["finds"]],
        "watch": told(bed["watch"]), "call_if": told(bed["call_if"]), "call": bed["call"],
        "never": told(bed["never"]), "cautions": told(bed["cautions"]),
    }  # fmt: skip
