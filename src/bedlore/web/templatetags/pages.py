"""Tags of the pages: marks of beds, odds in dots, numbers and moments as the reader wants them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from bedlore.service.phrases import clock_words, date_words, day_words, month_words, short_day
from bedlore.sheets.page import dots_svg, mark_svg
from bedlore.web import phone

register = template.Library()


@register.simple_tag
def mark(shape: str, number: int) -> SafeString:
    """The mark of a bed."""
    return mark_safe(str(mark_svg(shape, number)))


@register.simple_tag
def account_mark(user: object) -> str:
    """What tells the accounts of one phone apart."""
    return phone.account_mark(user)


@register.simple_tag
def dots(filled: float) -> SafeString:
    """Ten dots."""
    return mark_safe(str(dots_svg(filled)))


@register.filter
def clock(moment: dt.datetime, zone: dt.tzinfo) -> str:
    """``12 Jan, 07:30`` by the farm's clock."""
    here = moment.astimezone(zone)
    return f"{short_day(here.date())}, {clock_words(here)}"


@register.filter
def on_day(day: dt.date) -> str:
    """``12 January 2026``."""
    return date_words(day)


@register.filter
def weekday(day: dt.date) -> str:
    """``Monday 12 January 2026``."""
    return day_words(day, year=True)


@register.filter
def month(day: dt.date) -> str:
    """``January``."""
    return month_words(day)


@register.filter
def at(found: dict[str, object], key: str) -> object:
    """The value under ``key``, or nothing."""
    return found.get(key, "")


@register.filter
def nth(items: list[object], place: int) -> object:
    """The item at ``place``, or nothing."""
    return items[place] if 0 <= place < len(items) else ""


@register.simple_tag
def options(choices: Iterable[tuple[str, str]], chosen: object = "") -> SafeString:
    """The options of a list; long ones are quicker so than by a loop of the template."""
    picked = str(chosen or "")
    return format_html_join("", '<option value="{}"{}>{}</option>', (
        (value, mark_safe(" selected") if value == picked else "", words)
        for value, words in choices))  # fmt: skip


@register.inclusion_tag("pages/fault.html")
def beside(faults: dict[str, list[str]], *names: object) -> dict[str, object]:
    """The sentences on the field whose name is ``names`` joined with hyphens."""
    return {"lines": faults.get("-".join(str(name) for name in names), ())}
