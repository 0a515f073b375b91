"""Two futures of a bed side by side on one scale: as it is, and with something changed.

Drawn by hand rather than by Vega-Lite: a what-if is answered while somebody waits.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from bedlore.say import on_day, say
from bedlore.service.phrases import local
from bedlore.service.shown import figures
from bedlore.sheets import theme
from bedlore.sheets.canvas import Canvas

Told = dict[str, Any]
LOW, LOWER, MID, UPPER, HIGH = range(5)  # 5, 25, 50, 75 and 95 % among the quantiles
_HEIGHT = 150.0
_GAP = 16.0
_TICKS = 5


@dataclass(frozen=True)
class Shape:
    """What a picture of two futures is of: an output, its title with unit, what makes of SI the
    figure shown, and limits (where, words) that are drawn where they lie near."""

    name: str
    title: str
    convert: Callable[[float], float]
    limits: Sequence[tuple[float, str]] = ()


def futures_svg(account: Told, shape: Shape, width_px: float, key: str) -> str:
    """Both futures of a what-if's account, ``width_px`` wide; ``key`` keeps ids apart.

    Bands hold half and 9 of 10 of all futures; the line is the most likely. The future as it is
    runs through the other panel as a dashed line.
    """
    both = [
        [[shape.convert(value) for value in row] for row in account[side]["whole"][shape.name]]
        for side in ("as_is", "with_it")
    ]
    low = min(min(rows[LOW]) for rows in both)
    high = max(max(rows[HIGH]) for rows in both)
    near = [one for one in shape.limits if low - (high - low) <= one[0] <= high + (high - low)]
    low, high = min([low, *(at for at, _ in near)]), max([high, *(at for at, _ in near)])
    pad = max((high - low) * 0.08, 0.5 if high > 2.0 else 0.005)
    scale = Scale(low - pad, high + pad)
    canvas = Canvas(1.0, 13.0)
    canvas.text(0, -28, shape.title, anchor="start")
    left = max(canvas.text_width(words) for _, words in scale.ticks()) + 8
    wide = (width_px - left - _GAP - 12) / 2
    times = [local(account["as_is"]["times"][place], account["time_zone"]) for place in (0, -1)]
    heads = (say("as it is"), say("with it"))
    for place, head in enumerate(heads):
        panel = Panel(canvas, scale, left + place * (wide + _GAP), wide)
        panel.frame(head, times, figured=place == 0)
        panel.future(both[place], None if place == 0 else both[0][MID])
        panel.limits(near)
    words = "; ".join(
        f"{head}: {figures(rows[MID][0])} – {figures(rows[MID][-1])}"
        for head, rows in zip(heads, both, strict=True)
    )
    return canvas.finished(shape.title, words, key)


@dataclass(frozen=True)
class Scale:
    """The upright axis, from ``low`` at the bottom to ``high`` at the top."""

    low: float
    high: float

    def y(self, value: float) -> float:
        """Where a value lies, 0 at the top."""
        return _HEIGHT * (self.high - value) / (self.high - self.low)

    def ticks(self) -> list[tuple[float, str]]:
        """A few round values with their words."""
        step = _round_step((self.high - self.low) / _TICKS)
        first = math.ceil(self.low / step)
        count = math.floor(self.high / step) - first + 1
        places = max(0, -math.floor(math.log10(step) + 1e-9))
        values = [(first + k) * step for k in range(count)]
        return [(v, f"{v + 0.0:.{places}f}".replace("-", "−")) for v in values]


def _round_step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= rough * 0.999)


@dataclass(frozen=True)
class Panel:
    """One of the two pictures, from ``left`` and ``wide`` [px]."""

    canvas: Canvas
    scale: Scale
    left: float
    wide: float

    def frame(self, head: str, times: Sequence[dt.datetime], *, figured: bool) -> None:
        """Head, lines at round values (with figures where ``figured``), first and last day."""
        canvas = self.canvas
        canvas.text(self.left + self.wide / 2, -7, head, font_weight="bold")
        for value, words in self.scale.ticks():
            y = self.scale.y(value)
            canvas.line(self.left, y, self.left + self.wide, y, stroke="#E2D9C8")
            if figured:
                canvas.text(self.left - 6, y + 4.5, words, anchor="end")
        canvas.line(self.left, _HEIGHT, self.left + self.wide, _HEIGHT, stroke=theme.LINE)
        for when, anchor, x in zip(times, ("start", "end"), (0.0, self.wide), strict=True):
            canvas.text(self.left + x, _HEIGHT + 18, on_day(when.date()), anchor=anchor)

    def future(self, rows: Sequence[Sequence[float]], other: Sequence[float] | None) -> None:
        """Bands and the most likely line, and the other future's line for comparing."""
        count = len(rows[MID])
        across = [self.left + self.wide * k / max(count - 1, 1) for k in range(count)]

        def line(values: Sequence[float]) -> list[tuple[float, float]]:
            return [(x, self.scale.y(v)) for x, v in zip(across, values, strict=True)]

        for a, b, fill in ((LOW, HIGH, theme.BAND_OUTER), (LOWER, UPPER, theme.BAND_INNER)):
            ring = [*line(rows[a]), *reversed(line(rows[b]))]
            self.canvas.along(ring, closed=True, fill=fill)
        if other is not None:
            self.canvas.along(line(other), stroke=theme.SKY, stroke_width="2",
                              stroke_dasharray="5 4")  # fmt: skip
        self.canvas.along(line(rows[MID]), stroke_width="2.5")

    def limits(self, near: Sequence[tuple[float, str]]) -> None:
        """The keeper's limits, named where there is room."""
        for at, words in near:
            y = self.scale.y(at)
            self.canvas.line(self.left, y, self.left + self.wide, y, stroke=theme.CLAY,
                             stroke_dasharray="6 4")  # fmt: skip
            if self.canvas.text_width(words) < self.wide:
                below = y + 16 < _HEIGHT
                self.canvas.text(self.left + 4, y + (14 if below else -5), words, anchor="start",
                                 fill=theme.CLAY)  # fmt: skip
