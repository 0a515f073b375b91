"""Sheets set by typst. Words go in as data, so that no note of a keeper can become markup."""

from __future__ import annotations

import json
import re
import tempfile
from importlib import resources
from pathlib import Path
from typing import Any, Literal

import typst

from bedlore.say import listener, say
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.page import mark_svg

Told = dict[str, Any]
Paper = Literal["a4", "us-letter"]
# The messages that stand in a template itself.
_SAY = re.compile(r'say\("([^"]+)"\)')


def pdf_of(template: str, told: Told, shown: Shown, paper: Paper | None = None) -> bytes:
    """The PDF of a template with what it is ``told``; on US Letter for keepers of US units
    unless told."""
    found = resources.files("bedlore.sheets").joinpath("templates", template)
    text = found.read_text("utf-8")
    whole = {
        **told, "said": {words: say(words) for words in _SAY.findall(text)},
        "paper": paper or ("us-letter" if shown.units == "us" else "a4"),
        "language": listener().language, "degree": shown.degree,
        "ink": theme.INK, "quiet": theme.QUIET, "line": theme.LINE, "tint": theme.BAND_OUTER,
        "leaf": theme.LEAF, "clay": theme.CLAY,
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        # Its own empty folder: a sheet can read nothing but what is handed to it.
        source = Path(folder) / template
        source.write_text(text, "utf-8")
        return bytes(typst.compile(str(source), root=folder,
                                   sys_inputs={"told": json.dumps(whole)}))


def printed_mark(shape: str, number: int) -> str:
    """A bed's mark as a picture of its own, without a style sheet."""
    style = (f'xmlns="http://www.w3.org/2000/svg" fill="#FFFFFF" stroke="{theme.INK}"'
             ' stroke-width="3"')  # fmt: skip
    letters = (f'stroke="none" fill="{theme.INK}" font-size="32" font-weight="700"'
               f' font-family="{theme.FONT}" ')  # fmt: skip
    drawn = str(mark_svg(shape, number)).replace('class="mark" ', f"{style} ")
    return drawn.replace("<text ", f"<text {letters}")
