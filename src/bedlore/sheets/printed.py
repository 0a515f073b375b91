"""The report as PDF. Words go to typst as data, so that no note can become markup."""

from __future__ import annotations

import json
import re
import tempfile
from importlib import resources
from pathlib import Path
from typing import Any, Literal

import typst

from bedlore.say import listener, say
from bedlore.service.phrases import local, moment_words
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.leaf import leaf_of
from bedlore.sheets.method import METHOD, SOURCES
from bedlore.sheets.pictures import harm_pictures_of, pictures_of, small_pictures_of

Told = dict[str, Any]
PRINTED_PX, TALLEST_PRINTED_PX = 760, 270.0
# The messages that stand in the template itself.
_SAY = re.compile(r'say\("([^"]+)"\)')


def sheet_pdf(account: Told, paper: Literal["a4", "us-letter"] | None = None) -> bytes:
    """The PDF of a report's account; on US Letter for keepers of US units unless told."""
    shown = Shown(account["units"])
    template = resources.files("bedlore.sheets").joinpath("templates", "report.typ")
    source_text = template.read_text("utf-8")
    told = sheet_data(account, shown)
    told["said"] = {words: say(words) for words in _SAY.findall(source_text)}
    told["paper"] = paper or ("us-letter" if shown.units == "us" else "a4")
    with tempfile.TemporaryDirectory() as folder:
        # Its own empty folder: a sheet can read nothing but what is handed to it.
        source = Path(folder) / "report.typ"
        source.write_text(source_text, "utf-8")
        return bytes(typst.compile(str(source), root=folder,
                                   sys_inputs={"told": json.dumps(told)}))


def sheet_data(account: Told, shown: Shown) -> Told:
    """What the template is given: words of every leaf, and its pictures as SVG text."""
    zone = account["time_zone"]
    leaves = []
    for bed in account["beds"]:
        leaf = leaf_of(bed, shown, zone)
        leaf.update(pictures_of(bed, shown, zone,
PRINTED_PX, TALLEST_PRINTED_PX))
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
        "degree": shown.degree, "language": listener().language,
        "cut": say("Cut along its length and drawn to scale; most likely temperature of each layer"
                   " in {degree}. The stand is a sign only.", degree=shown.degree),
        "made_by": say("Made by bedlore {version}.", version=account["version"]),
        "ink": theme.INK, "quiet": theme.QUIET, "line": theme.LINE, "tint": theme.BAND_OUTER,
        "leaf": theme.LEAF, "clay": theme.CLAY,
    }  # fmt: skip
