"""An SVG drawing to scale: one unit is one millimetre, letters are given in screen pixels."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree as Xml

from bedlore.sheets.theme import FONT, INK

GLYPH_EM = 0.56  # mean width of a letter; only to keep labels apart


@dataclass
class Canvas:
    """Draws in millimetres; ``px_per_mm`` is the scale on the screen, ``text_px`` the size of
    letters there. Text is always escaped."""

    px_per_mm: float
    text_px: float = 15.0
    root: Xml.Element = field(default_factory=lambda: Xml.Element("svg"))
    left: float = 0.0
    top: float = 0.0
    right: float = 0.0
    bottom: float = 0.0

    def mm(self, pixels: float) -> float:
        """``pixels`` on the screen in millimetres of the drawing."""
        return pixels / self.px_per_mm

    def text_width(self, text: str) -> float:
        """About how wide ``text`` is [mm]."""
        return self.mm(len(text) * GLYPH_EM * self.text_px)

    def rect(self, x: float, y: float, width: float, height: float, **style: str) -> Xml.Element:
        """A rectangle [mm]; underscores in names of ``style`` become hyphens."""
        self._reach(x, y, x + width, y + height)
        named = {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height)}
        return Xml.SubElement(self.root, "rect", {**named, **_named(style)})

    def line(self, x1: float, y1: float, x2: float, y2: float, **style: str) -> None:
        """A line [mm], one pixel wide unless ``style`` says otherwise."""
        self._reach(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
        named = {"x1": _n(x1), "y1": _n(y1), "x2": _n(x2), "y2": _n(y2), "stroke": INK,
                 "stroke-width": _n(self.mm(1.2))}
        Xml.SubElement(self.root, "line", {**named, **_named(style)})

    def along(self, points: Sequence[tuple[float, float]], *, closed: bool = False,
              **style: str) -> None:  # fmt: skip
        """A line through ``points`` [mm], or the area that they go round when ``closed``."""
        across, down = zip(*points, strict=True)
        self._reach(min(across), min(down), max(across), max(down))
        named = {"points": joined(value for point in points for value in point)}
        named |= {} if closed else {"fill": "none", "stroke": INK}
        tag = "polygon" if closed else "polyline"
        Xml.SubElement(self.root, tag, {**named, **_named(style)})

    def text(self, x: float, y: float, words: str, *, anchor: str = "middle",
             turned: bool = False, **style: str) -> None:  # fmt: skip
        """``words`` with their baseline at ``y`` [mm]; ``turned`` reads upwards."""
        width = self.text_width(words)
        shift = {"start": 0.0, "middle": -0.5, "end": -1.0}[anchor] * width
        if turned:
            self._reach(x - self.mm(self.text_px), y + shift, x, y + shift + width)
        else:
            self._reach(x + shift, y - self.mm(self.text_px), x + shift + width, y + self.mm(4))
        named = {"x": _n(x), "y": _n(y), "text-anchor": anchor, "fill": INK,
                 "font-size": _n(self.mm(self.text_px))}
        if turned:
            named["transform"] = f"rotate(-90 {_n(x)} {_n(y)})"
        Xml.SubElement(self.root, "text", {**named, **_named(style)}).text = _printable(words)

    def dimension(self, start: float, end: float, at: float, words: str, *,
                  upright: bool = False) -> None:  # fmt: skip
        """A dimension line from ``start`` to ``end`` [mm] with ticks and its size in words."""
        tick = self.mm(5)
        if upright:
            self.line(at, start, at, end)
            for y in (start, end):
                self.line(at - tick, y, at + tick, y)
            self.text(at - self.mm(7), (start + end) / 2, words, turned=True)
            return
        self.line(start, at, end, at)
        for x in (start, end):
            self.line(x, at - tick, x, at + tick)
        self.text((start + end) / 2, at - self.mm(6), words)

    def pattern(self, name: str, degrees: int, stroke: str) -> None:
        """Defines a hatch called ``name`` that other shapes may be filled with."""
        size = _n(self.mm(7))
        pattern = Xml.SubElement(self.root, "pattern", {
            "id": name, "width": size, "height": size, "patternUnits": "userSpaceOnUse",
            "patternTransform": f"rotate({degrees})",
        })  # fmt: skip
        Xml.SubElement(pattern, "line", {"x1": "0", "y1": "0", "x2": "0", "y2": size,
                                         "stroke": stroke, "stroke-width": _n(self.mm(1.6))})

    def finished(self, title: str, description: str, name: str) -> str:
        """The whole SVG, cut to what was drawn, with its title and description for readers who
        do not see it; ``name`` keeps ids apart on a page."""
        pad = self.mm(6)
        x, y = self.left - pad, self.top - pad
        width, height = self.right - self.left + 2 * pad, self.bottom - self.top + 2 * pad
        self.root.attrib.update({
            "xmlns": "http://www.w3.org/2000/svg", "role": "img",
            "aria-labelledby": f"{name}-t {name}-d", "font-family": FONT,
            "viewBox": " ".join(_n(v) for v in (x, y, width, height)),
            "width": _n(width * self.px_per_mm), "height": _n(height * self.px_per_mm),
        })  # fmt: skip
        for place, (tag, words) in enumerate((("title", title), ("desc", description))):
            element = Xml.Element(tag, {"id": f"{name}-{tag[0]}"})
            element.text = _printable(words)
            self.root.insert(place, element)
        return Xml.tostring(self.root, encoding="unicode")

    def _reach(self, left: float, top: float, right: float, bottom: float) -> None:
        self.left, self.top = min(self.left, left), min(self.top, top)
        self.right, self.bottom = max(self.right, right), max(self.bottom, bottom)


def wrapped(words: str, letters: int, lines: int) -> list[str]:
    """``words`` in at most ``lines`` lines of about ``letters`` letters; what does not fit ends
    in an ellipsis."""
    found: list[str] = []
    for word in words.split():
        if found and len(found[-1]) + 1 + len(word) <= letters:
            found[-1] += f" {word}"
        else:
            found.append(word)
    if len(found) > lines:
        found = [*found[: lines - 1], f"{found[lines - 1]}…"]
    return [line if len(line) <= letters else f"{line[: max(letters - 1, 1)]}…" for line in found]


def joined(numbers: Iterable[float]) -> str:
    """Numbers as SVG wants them."""
    return " ".join(_n(number) for number in numbers)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _named(style: dict[str, str]) -> dict[str, str]:
    return {name.rstrip("_").replace("_", "-"): value for name, value in style.items()}


def _printable(words: str) -> str:
    """Without control characters, which XML does not allow at all."""
    return "".join(c for c in words if c.isprintable() or c == " ")
