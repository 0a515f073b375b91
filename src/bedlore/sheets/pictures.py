"""The pictures of one bed as SVG text, by name; the page has wide and narrow ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from bedlore.say import say
from bedlore.say.amounts import number_words
from bedlore.service.shown import Shown
from bedlore.sheets.charts import (
    extremes_chart,
    harm_chart,
    herd_chart,
    number_rows,
    outlook_chart,
    small_chart,
)
from bedlore.sheets.cross_section import TALLEST_PX, section_svg
from bedlore.units import POUND_KG

Told = dict[str, Any]
WIDE_PX, NARROW_PX = 1000, 340


def pictures_of(bed: Told, shown: Shown, time_zone: str, width_px: int,
                tallest_px: float = TALLEST_PX) -> dict[str, str]:  # fmt: skip
    """The large pictures at ``width_px``: cross-section (the bed in it at most ``tallest_px``
    high), thermometer, extremes."""
    name = f"cut-{bed['mark']}-{width_px}"
    return {
        "section": section_svg(bed, shown, width_px, name, tallest_px),
        "outlook": outlook_chart(bed, shown, time_zone, width_px),
        "extremes": extremes_chart(bed, shown, time_zone, width_px),
    }


def small_pictures_of(bed: Told, shown: Shown, time_zone: str) -> list[Told]:
    """The small multiples: title, sentence and SVG of water, food left and herd."""
    now, limits = bed["now"], bed["limits"]
    per_kg = 1 / POUND_KG if shown.units == "us" else 1.0
    unit = "lb" if shown.units == "us" else "kg"
    food_end = bed["days"]["whole"]["food_left_kg"]
    wet_end = bed["days"]["whole"]["moisture_frac"]
    wet = (limits["moisture_low"] * 100, limits["moisture_high"] * 100)
    return [
        {
            "title": say("Water"),
            "words": say("About {now} now, {then} in a fortnight.",
                         now=shown.percent(now["moisture_frac"][1]),
                         then=_at_end(wet_end, shown.percent)),
            "svg": small_chart(bed, "moisture_frac", say("Water [% of the wet mass]"), time_zone,
                               100, wet),
        },
        {
            "title": say("Food left"),
            "words": say("About {now} now, {then} in a fortnight, if nothing is fed.",
                         now=shown.mass(now["food_left_kg"][1]),
                         then=_at_end(food_end, shown.mass)),
            "svg": small_chart(bed, "food_left_kg", say("Food left [{unit}]", unit=unit), time_zone,
                               per_kg),
        },
        {
            "title": say("The herd"),
            "words": _herd_words(bed, shown, time_zone),
            "svg": herd_chart(bed, time_zone),
        },
    ]  # fmt: skip


def _at_end(quantiles: Sequence[Sequence[float]], words: Callable[[float], str]) -> str:
    """What it comes to on the last day, with the range that holds 9 of 10 futures."""
    low, middle, high = (words(quantiles[n][-1]) for n in (0, 2, 4))
    return _ranged(low, middle, high)


def _ranged(low: str, middle: str, high: str) -> str:
    return say("{middle} ({low} to {high})", middle=middle, low=low, high=high)


def _herd_words(bed: Told, shown: Shown, time_zone: str) -> str:
    """The herd now and in a fortnight, with the ranges that its picture draws."""
    low, middle, high = (shown.mass(kg) for kg in bed["now"]["worms_kg"])

    def then(*outputs: str) -> str:
        last = number_rows(bed["ahead"], outputs, time_zone)[-1]
        return _ranged(*(number_words(last[q]) for q in ("q05", "q50", "q95")))

    return say(
        "About {mass} of worms now ({low} to {high}). In a fortnight: adults {adults}, young"
        " {young}, cocoons {cocoons}. Brackets and bars: 9 of 10 futures.",
        mass=middle, low=low, high=high, adults=then("adults_n"),
        young=then("juveniles_n", "hatchlings_n"), cocoons=then("cocoons_n"),
    )  # fmt: skip


def harm_pictures_of(bed: Told, shown: Shown) -> list[str]:
    """One curve for each mishap, in the order of the account."""
    limit = {"cold": bed["limits"]["cold_c"], "heat": bed["limits"]["hot_c"]}
    return [harm_chart(one, limit[one["limit"]], shown) for one in bed["harm"] if one["curve"]]
