"""The report as PDF. Words go to typst as data, so that no note can become markup."""

from __future__ import annotations

from typing import Any

from bedlore.say import say
from bedlore.service.phrases import local, moment_words
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.sheets.method import METHOD, SOURCES
from bedlore.sheets.pictures import harm_pictures_of, pictures_of, small_pictures_of
from bedlore.sheets.typeset import Paper, pdf_of, printed_mark

Told = dict[str, Any]
PRINTED_PX, TALLEST_PRINTED_PX = 760, 270.0


def sheet_pdf(account: Told, paper: Paper | None = None) -> bytes:
    """The PDF of a report's account; on US Letter for keepers of US units unless told."""
    shown = Shown(account["units"])
    return pdf_of("report.typ", sheet_data(account, shown), shown, paper)


def sheet_data(account: Told, shown: Shown) -> Told:
    """What the template is given: words of every leaf, and its pictures as SVG text."""
    zone = account["time_zone"]
    leaves = []
    for bed in account["beds"]:
        leaf = leaf_of(bed, shown, zone)
        leaf.update(pictures_of(bed, shown, zone, PRINTED_PX, TALLEST_PRINTED_PX))
        leaf["mark_svg"] = printed_mark(leaf["shape"], leaf["mark"])
        leaf["small"] = small_pictures_of(bed, shown, zone)
        curves = harm_pictures_of(bed, shown)
        for place, one in enumerate(leaf["harm"]):
            one["svg"] = curves[place] if place < len(curves) else ""
        leaves.append(leaf)
    return {
        "farm": account["farm"],
        "moment": moment_words(local(account["made_at"], zone)),
        "weather": shown.sentence(account["weather"]["note"]),
        "version": account["version"],
        "leaves": leaves,
        "kept_aside": [{**f, "sentence": shown.sentence(f["sentence"])}
                       for f in account["kept_aside"]],
        "method": [say(line) for line in METHOD], "sources": [say(line) for line in SOURCES],
        "cut": say("Cut along its length and drawn to scale; most likely temperature of each layer"
                   " in {degree}. The stand is a sign only.", degree=shown.degree),
        "made_by": say("Made by bedlore {version}.", version=account["version"]),
    }  # fmt: skip
