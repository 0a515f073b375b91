"""What a shed without a signal needs of each bed: its card and its cooling curves."""

from __future__ import annotations

from typing import Any

from django.utils.html import format_html
from django.utils.safestring import mark_safe

from bedlore.service.account import report_account
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.sheets.pictures import harm_pictures_of
from bedlore.web.leaves.card import with_spans
from bedlore.web.leaves.kept import kept_of_beds
from bedlore.web.leaves.part import Part
from bedlore.web.wiring import Told

Context = dict[str, Any]
BEDS_A_PAGE = 16


def carried_leaves(told: Told, part: Part, chores: list[Context],
                   shown: Shown) -> list[Context] | None:  # fmt: skip
    """The beds of one page; None when they can no longer be read."""
    found: list[Context] | None = kept_of_beds(
        told, part.of(chores), f"carried-{part.place}-{shown.units}",
        lambda mine: _leaves(mine, shown),
    )  # fmt: skip
    return found


def _leaves(told: Told, shown: Shown) -> list[Context]:
    """Each bed's card and curves, all worked out with the stored morning."""
    account = report_account(told.morning)
    leaves = []
    for bed in account["beds"]:
        leaf = leaf_of(bed, shown, account["time_zone"])
        curves = [
            {**words, "svg": format_html('<div role="img" aria-label="{}">{}</div>',
                                         words["words"], mark_safe(svg)),
             "rows": _hours(harm, shown)}
            for words, harm, svg in zip(
                leaf["harm"], bed["harm"], harm_pictures_of(bed, shown), strict=False)
        ]  # fmt: skip
        leaves.append({**leaf, "card": with_spans(leaf["card"]), "curves": curves})
    return leaves


def _hours(harm: Context, shown: Shown) -> list[tuple[str, str, str]]:
    """The figures behind a curve: hour, most likely, and the range of 9 in 10 cases."""
    rows = []
    for point in harm["curve"]:
        low, middle, high = (shown.temp(temp_c, unit=False) for temp_c in point["temp_c"])
        rows.append((f"{point['hour']:.0f}", middle, f"{low} – {high}"))
    return rows
