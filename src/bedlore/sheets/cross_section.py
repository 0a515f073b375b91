"""A bed cut along its length, to scale, coloured by temperature.

Everything is drawn in millimetres at its true size: walls, floor, lid, drain, cover, and each
cell of the model by its present thickness. Only the stand is a sign of what is underneath.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from bedlore.say import say
from bedlore.service.phrases import range_word, temp_word
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.canvas import GLYPH_EM, Canvas, wrapped

Told = dict[str, Any]
STAND_MM = 90.0
TALLEST_PX = 430.0
SIDE_PX = 66.0  # for the dimension line on the left and a margin on the right
_LETTERS_LEAST = 9


@dataclass(frozen=True)
class Column:
    """A zone at its place in the drawing [mm]: ``base`` is the lower edge of its material, ``y``
    counts downwards; ``room`` is the height of the tray or box it lies in."""

    zone: Told
    cells: Sequence[Told]  # from the top down; none where the zone is not in use
    cover_mm: float
    x: float
    width: float
    base: float
    room: float

    @property
    def fill_mm(self) -> float:
        """Height of the material."""
        return 1000 * sum(float(cell["thickness_m"]) for cell in self.cells)


def columns_of(section: Told, tray_depths_m: dict[str, float | None]) -> list[Column]:
    """The zones side by side (a stack: one above the other), ``y`` 0 at the inner floor."""
    gravel = section["gravel_m"] * 1000
    if section["kind"] == "stack":
        return _trays(section, tray_depths_m, -gravel)
    columns, x = [], 0.0
    for zone in section["zones"]:
        room = section["depth_m"] * 1000 - gravel
        column = _column(zone, x, zone["length_m"] * 1000, -gravel, room)
        columns.append(column)
        x += column.width
    return columns


def _column(zone: Told, x: float, width: float, base: float, room: float) -> Column:
    if not zone["active"]:
        return Column(zone, (), 0.0, x, width, base, room)
    return Column(zone, zone["cells"], zone["cover_m"] * 1000, x, width, base, room)


def _trays(section: Told, depths_m: dict[str, float | None], base: float) -> list[Column]:
    """Trays from the lowest up; a heaped one lifts the next. The cover lies on the topmost."""
    shared = section["depth_m"] / max(len(section["zones"]), 1)
    topmost = next((zone for zone in section["zones"] if zone["active"]), None)
    columns: list[Column] = []
    for zone in reversed(section["zones"]):
        depth = (depths_m.get(zone["zone_id"]) or shared) * 1000
        column = _column(zone, 0.0, section["length_m"] * 1000, base, depth)
        cover = column.cover_mm if zone is topmost else 0.0
        room = max(depth, column.fill_mm + cover)
        columns.append(replace(column, cover_mm=cover, room=room))
        base -= room
    return columns[::-1]


def section_svg(bed: Told, shown: Shown, width_px: float, name: str,
                tallest_px: float = TALLEST_PX) -> str:  # fmt: skip
    """The drawing of ``bed`` (of the report's account), at most ``width_px`` wide; the bed in it
    at most ``tallest_px`` high."""
    section, limits = bed["section"], bed["limits"]
    columns = columns_of(section, bed["built"]["tray_depths_m"])
    length = max(column.x + column.width for column in columns)
    inner_top = min(-section["depth_m"] * 1000,
                    *(c.base - c.fill_mm - c.cover_mm for c in columns))
    walls = 0.0 if section["kind"] == "wedge" else section["wall_m"] * 1000
    outer_h = -inner_top + (section["lid_m"] + section["floor_m"]) * 1000 + STAND_MM
    text_px = 15.0 if width_px > 600 else 13.0
    aside = SIDE_PX + (_names_px(columns, text_px) if section["kind"] == "stack" else 0.0)
    scale = min((width_px - aside) / (length + 2 * walls), tallest_px / outer_h)
    canvas = Canvas(scale, text_px)
    cold, hot = f"{name}-cold", f"{name}-hot"
    canvas.pattern(cold, 45, theme.SKY)
    canvas.pattern(hot, -45, theme.CLAY)
    _shell(canvas, section, length, walls, inner_top)
    for column in columns:
        _material(canvas, column, limits, {"cold": cold, "hot": hot})
    for column in columns:
        _figures(canvas, column, shown)
    _frame(canvas, section, columns, shown, (length, walls, inner_top))
    canvas.right = max(canvas.right, canvas.left + canvas.mm(width_px - 12))
    _legend(canvas, limits, shown, {"cold": cold, "hot": hot})
    title = say("{bed} cut along its length", bed=bed["name"])
    return canvas.finished(title, description(bed, shown), name)


def glance_svg(bed: Told, px_per_mm: float, shown: Shown, name: str) -> str:
    """The same cut without figures, to stand beside other beds at one scale."""
    section, limits = bed["section"], bed["limits"]
    columns = columns_of(section, bed["built"]["tray_depths_m"])
    inner_top = min(-section["depth_m"] * 1000,
                    *(c.base - c.fill_mm - c.cover_mm for c in columns))
    walls = 0.0 if section["kind"] == "wedge" else section["wall_m"] * 1000
    canvas = Canvas(px_per_mm)
    patterns = {"cold": f"{name}-cold", "hot": f"{name}-hot"}
    canvas.pattern(patterns["cold"], 45, theme.SKY)
    canvas.pattern(patterns["hot"], -45, theme.CLAY)
    _shell(canvas, section, max(c.x + c.width for c in columns), walls, inner_top)
    for column in columns:
        _material(canvas, column, limits, patterns)
    return canvas.finished(str(bed["name"]), description(bed, shown), name)


def _names_px(columns: Sequence[Column], text_px: float) -> float:
    """Room that the names of trays need beside the drawing."""
    return max(len(_label(column.zone)) for column in columns) * GLYPH_EM * text_px


def _shell(canvas: Canvas, section: Told, length: float, walls: float, inner_top: float) -> None:
    wood = {"fill": theme.WOOD, "stroke": theme.WOOD_EDGE, "stroke_width": f"{canvas.mm(1):.2f}"}
    floor, lid = section["floor_m"] * 1000, section["lid_m"] * 1000
    gravel = section["gravel_m"] * 1000
    if floor:
        canvas.rect(-walls, 0, length + 2 * walls, floor, **{**wood, "class_": "floor"})
    if walls:
        for x in (-walls, length):
            canvas.rect(x, inner_top, walls, -inner_top, **{**wood, "class_": "wall"})
    if lid:
        canvas.rect(-walls, inner_top - lid, length + 2 * walls, lid, **{**wood, "class_": "lid"})
    if gravel:
        canvas.rect(0, -gravel, length, gravel, fill=theme.GRAVEL, stroke=theme.LINE,
                    stroke_width=f"{canvas.mm(1):.2f}", stroke_dasharray=f"{canvas.mm(2):.2f}",
                    class_="drain")  # fmt: skip
    canvas.rect(0, inner_top, length, -inner_top, fill="none", stroke=theme.LINE,
                stroke_width=f"{canvas.mm(1):.2f}", class_="outline")  # fmt: skip
    _stand(canvas, section["stand"], -walls, length + walls, floor)


def _stand(canvas: Canvas, stand: str, left: float, right: float, floor: float) -> None:
    ground = floor + (STAND_MM if stand == "legs" else 0.0)
    if stand == "legs":
        foot = min((right - left) / 12, 90.0)
        for x in (left + foot, right - 2 * foot):
            canvas.rect(x, floor, foot, STAND_MM, fill=theme.WOOD, stroke=theme.WOOD_EDGE,
                        stroke_width=f"{canvas.mm(1):.2f}", class_="stand")  # fmt: skip
    canvas.line(left - canvas.mm(14), ground, right + canvas.mm(14), ground,
                stroke_width=f"{canvas.mm(2.4):.2f}")
    step = canvas.mm(16)
    x = left - canvas.mm(10)
    while x < right + canvas.mm(10):
        canvas.line(x, ground, x - canvas.mm(7), ground + canvas.mm(8), stroke=theme.LINE)
        x += step


def _material(canvas: Canvas, column: Column, limits: Told, patterns: dict[str, str]) -> None:
    cold, hot = limits["cold_c"], limits["hot_c"]
    y = column.base - column.fill_mm
    cover = column.cover_mm
    if cover and column.cells:
        canvas.rect(column.x, y - cover, column.width, cover, fill=theme.COVER,
                    stroke=theme.LINE, stroke_width=f"{canvas.mm(1):.2f}", class_="cover")
    for cell in column.cells:
        height = cell["thickness_m"] * 1000
        canvas.rect(column.x, y, column.width, height, class_="cell",
                    fill=theme.temp_fill(cell["temp_c"], cold, hot))
        pattern = theme.temp_pattern(cell["temp_c"], cold, hot)
        if pattern:
            canvas.rect(column.x, y, column.width, height, fill=f"url(#{patterns[pattern]})",
                        fill_opacity="0.35")
        y += height


def _figures(canvas: Canvas, column: Column, shown: Shown) -> None:
    """Whole degrees in as many cells as there is room for, the top and bottom ones first."""
    cells = column.cells
    y = column.base - column.fill_mm
    middles = []
    half = canvas.mm(canvas.text_px * 0.6)
    for cell in cells:
        height = cell["thickness_m"] * 1000
        inside = max(y + height / 2, column.base - column.fill_mm + half)
        middles.append((min(inside, column.base - half), cell["temp_c"]))
        y += height
    for place in _kept([middle for middle, _ in middles], canvas.mm(canvas.text_px * 1.2)):
        middle, temp_c = middles[place]
        canvas.text(column.x + column.width / 2, middle + canvas.mm(canvas.text_px * 0.36),
                    shown.temp(temp_c, unit=False) + "°", class_="cell-temp")  # fmt: skip


def _kept(middles: Sequence[float], room: float) -> list[int]:
    """Places of labels at least ``room`` apart: the first, then down, the last if it can be."""
    kept: list[int] = []
    for place, middle in enumerate(middles):
        if not kept or middle - middles[kept[-1]] >= room:
            kept.append(place)
    last = len(middles) - 1
    if len(kept) > 1 and kept[-1] != last and middles[last] - middles[kept[-2]] >= room:
        kept[-1] = last
    return kept


def _frame(canvas: Canvas, section: Told, columns: list[Column], shown: Shown,
           sizes: tuple[float, float, float]) -> None:  # fmt: skip
    length, walls, inner_top = sizes
    lid = section["lid_m"] * 1000
    canvas.dimension(0, length, inner_top - lid - canvas.mm(16),
                     shown.length(section["length_m"]))
    canvas.dimension(-section["depth_m"] * 1000, 0, -walls - canvas.mm(16),
                     shown.length(section["depth_m"]), upright=True)  # fmt: skip
    if section["kind"] == "stack":
        _tray_names(canvas, columns, length + walls)
    else:
        _zone_names(canvas, columns, canvas.bottom)


def _zone_names(canvas: Canvas, columns: list[Column], below: float) -> None:
    row = canvas.mm(canvas.text_px * 1.25)
    for column in columns:
        canvas.line(column.x, column.base, column.x, column.base - column.room,
                    stroke=theme.LINE, stroke_dasharray=f"{canvas.mm(4):.2f}")
        letters = int(column.width / canvas.text_width("n")) - 1
        lines = wrapped(_label(column.zone), max(letters, _LETTERS_LEAST), 3)
        for place, line in enumerate(lines):
            canvas.text(column.x + column.width / 2, below + row * (place + 1.2), line)


def _tray_names(canvas: Canvas, columns: list[Column], right: float) -> None:
    for column in columns:
        canvas.line(column.x, column.base, column.x + column.width, column.base,
                    stroke_dasharray=f"{canvas.mm(3):.2f}", stroke_width=f"{canvas.mm(2):.2f}")
        canvas.text(right + canvas.mm(12), column.base - column.room / 2 + canvas.mm(5),
                    _label(column.zone), anchor="start")  # fmt: skip


def _label(zone: Told) -> str:
    name = str(zone["name"])
    return name if zone["cells"] and zone["active"] else say("{zone} (empty)", zone=name)


def legend_words(limits: Told, shown: Shown) -> list[tuple[str, float]]:
    """Each word of the scale with its range, and a temperature that has its fill."""
    cold, hot = limits["cold_c"], limits["hot_c"]
    mild, warm = max(12.0, cold), min(22.0, hot)
    low, middle, high, top = (shown.temp(t, unit=False) for t in (cold, mild, warm, hot))
    return [
        (say("cold, below {temp}", temp=f"{low} {shown.degree}"), cold - 1),
        (say("cool, {low} to {high}", low=low, high=middle), (cold + mild) / 2),
        (say("mild, {low} to {high}", low=middle, high=high), (mild + warm) / 2),
        (say("warm, {low} to {high}", low=high, high=top), (warm + hot) / 2),
        (say("hot, above {temp}", temp=f"{top} {shown.degree}"), hot + 1),
    ]


def _legend(canvas: Canvas, limits: Told, shown: Shown, patterns: dict[str, str]) -> None:
    box, gap = canvas.mm(22), canvas.mm(12)
    left, right = canvas.left, canvas.right
    x, y = left, canvas.bottom + canvas.mm(16)
    for words, temp_c in legend_words(limits, shown):
        width = box + canvas.mm(7) + canvas.text_width(words)
        if x > left and x + width > right:
            x, y = left, y + canvas.mm(canvas.text_px * 1.9)
        canvas.rect(x, y, box, canvas.mm(16), stroke=theme.LINE,
                    fill=theme.temp_fill(temp_c, limits["cold_c"], limits["hot_c"]),
                    stroke_width=f"{canvas.mm(1):.2f}", class_="key")  # fmt: skip
        pattern = theme.temp_pattern(temp_c, limits["cold_c"], limits["hot_c"])
        if pattern:
            canvas.rect(x, y, box, canvas.mm(16), fill=f"url(#{patterns[pattern]})",
                        fill_opacity="0.35", class_="key")
        canvas.text(x + box + canvas.mm(6), y + canvas.mm(13), words, anchor="start")
        x += width + gap


def description(bed: Told, shown: Shown) -> str:
    """The drawing in words: each zone from top to bottom."""
    limits = bed["limits"]
    parts: list[str] = []
    for zone in bed["section"]["zones"]:
        if not zone["cells"] or not zone["active"]:
            parts.append(say("{zone}: empty", zone=zone["name"]))
            continue
        temps = [cell["temp_c"] for cell in zone["cells"]]
        words = dict.fromkeys(temp_word(t, limits["cold_c"], limits["hot_c"]) for t in temps)
        parts.append(say("{zone}: {top} at the top, {bottom} at the bottom ({words})",
                         zone=zone["name"], top=shown.temp(temps[0]),
                         bottom=shown.temp(temps[-1]),
                         words=", ".join(map(range_word, words))))  # fmt: skip
    return "; ".join(parts) + "."
