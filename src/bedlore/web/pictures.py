"""Drawings and charts of a stored morning, one for the phone and one for the table."""

from __future__ import annotations

from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from bedlore.service.shown import Shown
from bedlore.sheets.charts import extremes_chart, outlook_chart
from bedlore.sheets.cross_section import glance_svg, section_svg
from bedlore.sheets.pictures import small_pictures_of

Bed = dict[str, Any]
PHONE_PX, TABLE_PX = 334, 560
_ASIDE_PX = 46  # the ground beside a bed, and the gap to the next
CHART_PHONE_PX, CHART_TABLE_PX = 334, 900


def both(phone: str, table: str, words: str = "") -> SafeString:
    """A picture for the phone and one for the table; the style sheet shows one of them. With
    ``words`` it is one image to those who do not see it."""
    role = format_html(' role="img" aria-label="{}"', words) if words else ""
    return format_html('<div class="phone"{}>{}</div><div class="table"{}>{}</div>',
                       role, mark_safe(phone), role, mark_safe(table))  # fmt: skip


def section_of(bed: Bed, shown: Shown) -> SafeString:
    """The bed cut along its length, to scale."""
    name = f"cut-{bed['mark']}"
    return both(section_svg(bed, shown, PHONE_PX, f"{name}p", 260),
                section_svg(bed, shown, TABLE_PX, f"{name}t", 330))  # fmt: skip


def shelf_of(beds: list[Bed], shown: Shown) -> list[SafeString]:
    """All beds at one scale, as they would stand on one floor side by side."""
    lengths = sum(1000 * (bed["section"]["length_m"] + 2 * bed["section"]["wall_m"])
                  for bed in beds)  # fmt: skip
    tallest = max(1000 * bed["section"]["depth_m"] for bed in beds) + 200
    drawn = []
    for width, high, place in ((PHONE_PX, 110, "p"), (CHART_TABLE_PX, 170, "t")):
        room = max(width - _ASIDE_PX * len(beds), width / 3)
        scale = max(min(room / lengths, high / tallest), 0.03)
        drawn.append([glance_svg(bed, scale, shown, f"row-{bed['mark']}{place}") for bed in beds])
    return [both(phone, table) for phone, table in zip(*drawn, strict=True)]


def outlook_of(bed: Bed, shown: Shown, time_zone: str, words: str) -> SafeString:
    """The fortnight at the thermometer, with bands, limits and readings."""
    return both(outlook_chart(bed, shown, time_zone, CHART_PHONE_PX),
                outlook_chart(bed, shown, time_zone, CHART_TABLE_PX), words)  # fmt: skip


def extremes_of(bed: Bed, shown: Shown, time_zone: str, words: str) -> SafeString:
    """The fortnight at the coldest and warmest places."""
    return both(extremes_chart(bed, shown, time_zone, CHART_PHONE_PX),
                extremes_chart(bed, shown, time_zone, CHART_TABLE_PX), words)  # fmt: skip


def small_of(bed: Bed, shown: Shown, time_zone: str) -> list[Bed]:
    """Water, food left and herd, each with its sentence."""
    return [
        {**one, "svg": format_html('<div role="img" aria-label="{}">{}</div>',
                                   f"{one['title']}: {one['words']}", mark_safe(one["svg"]))}
        for one in small_pictures_of(bed, shown, time_zone)
    ]  # fmt: skip
