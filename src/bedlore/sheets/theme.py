"""Colours and letters of pages and sheets: calm, earthy, and never colour alone.

Temperature runs from blue over a grey middle to orange, so that it can be told apart without
red and green; cold and hot also carry a pattern and every class its word. The fills are light
enough for dark figures on them at 7:1 (WCAG 2.2, success criterion 1.4.6).
"""

from __future__ import annotations

import itertools

from bedlore.service.phrases import temp_word

PAPER, SHEET, INK, QUIET, LINE = "#F7F2E8", "#FFFDF8", "#262019", "#4E4538", "#8C806E"
MOSS, CLAY, SKY = "#38522A", "#7A320F", "#1F4F7A"  # act, heat, cold; all 7:1 on paper
LEAF = "#DDE6CC"  # behind what is due today
BAND_OUTER, BAND_INNER = "#E4D8C3", "#C9B491"
COLD_BAND, WARM_BAND = "#BFD6EA", "#F2CFA8"
WOOD, WOOD_EDGE, FOAM, COVER, GRAVEL, FLOOR = (
    "#D9C19A", "#6F5734", "#EDE6F2", "#E6DDB8", "#CFC9BF", "#B9A67F",
)  # fmt: skip
# Fill at these places between the keeper's limits; see temp_fill.
_STOPS = ((0.0, "#86B4E0"), (0.16, "#BCD6EE"), (0.42, "#E3E0DA"), (0.68, "#EEDFC8"),
          (0.86, "#F4C58D"), (1.0, "#EB9A4E"))  # fmt: skip
WORDS = ("cold", "cool", "mild", "warm", "hot")
FONT = "Noto Sans, Liberation Sans, DejaVu Sans, Helvetica, sans-serif"


def temp_fill(temp_c: float, cold_c: float, hot_c: float) -> str:
    """The fill of a cell at ``temp_c``, blue at the cold limit and orange at the heat limit."""
    place = min(max((temp_c - cold_c) / max(hot_c - cold_c, 1e-6), 0.0), 1.0)
    for (a, low), (b, high) in itertools.pairwise(_STOPS):
        if place <= b:
            return _between(low, high, (place - a) / (b - a))
    return _STOPS[-1][1]


def temp_pattern(temp_c: float, cold_c: float, hot_c: float) -> str:
    """The pattern over a cell: past a limit it is hatched, so that it shows without colour."""
    word = temp_word(temp_c, cold_c, hot_c)
    return word if word in ("cold", "hot") else ""


def _between(low: str, high: str, share: float) -> str:
    mixed = (round(a + (b - a) * share) for a, b in zip(_rgb(low), _rgb(high), strict=True))
    return "#" + "".join(f"{channel:02X}" for channel in mixed)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance of ``#RRGGBB`` (WCAG 2.2). White 1, black 0."""

    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(channel) for channel in _rgb(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2). Black on white 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
