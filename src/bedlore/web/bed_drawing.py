"""Beds drawn from their description alone: from above, and cut lengthwise. All to scale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from bedlore.farm.bed import Bed, Zone
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.canvas import Canvas, wrapped

_GAP_MM = 60.0  # between trays laid side by side


@dataclass(frozen=True)
class Spot:
    """What the plan says of a zone: a few short lines, and its temperature [degC] if known."""

    lines: tuple[str, ...] = ()
    temp_c: float | None = None


def plan_svg(bed: Bed, shown: Shown, spots: Mapping[str, Spot], limits: tuple[float, float],
             width_px: float, name: str) -> SafeString:  # fmt: skip
    """The bed seen from above. Trays of a stack are laid out side by side, the top one first."""
    walls = 0.0 if bed.kind == "wedge" else 1000 * sum(x.thickness_m for x in bed.walls)
    places = _places(bed, walls, 2 if width_px < 400 else 5)
    right = max(x + w for _, x, _, w, _ in places) + walls
    canvas = Canvas((width_px - 70) / (right + walls), 14.0 if width_px < 400 else 15.0)
    canvas.pattern(f"{name}-cold", 45, theme.SKY)
    canvas.pattern(f"{name}-hot", -45, theme.CLAY)
    _frames(canvas, bed, places, walls)
    for zone, x, y, width, height in places:
        spot = spots.get(zone.id, Spot())
        _zone(canvas, zone, spot, limits, (x, y, width, height), name)
    _sizes(canvas, bed, places, shown, walls)
    words = "; ".join(
        f"{zone.called}: {', '.join(spots.get(zone.id, Spot()).lines) or '–'}" for zone in bed.zones
    )
    return mark_safe(canvas.finished(_("%s from above") % bed.name, words, name))


_Place = tuple[Zone, float, float, float, float]


def _places(bed: Bed, walls: float, in_a_row: int) -> list[_Place]:
    """Each zone with x, y, width and height [mm]; y counts downwards."""
    width, length = bed.width_m * 1000, bed.length_m * 1000
    if bed.kind != "stack":
        found, x = [], 0.0
        for zone in bed.zones:
            long = (zone.length_m or bed.length_m / len(bed.zones)) * 1000
            found.append((zone, x, 0.0, long, width))
            x += long
        return found
    step_x, step_y = length + 2 * walls + _GAP_MM, width + 2 * walls + _GAP_MM
    return [
        (zone, step_x * (k % in_a_row), step_y * (k // in_a_row), length, width)
        for k, zone in enumerate(bed.zones)
    ]


def _frames(canvas: Canvas, bed: Bed, places: list[_Place], walls: float) -> None:
    if not walls:
        return
    boxes = [(x, y, w, h) for _, x, y, w, h in places]
    if bed.kind != "stack":
        boxes = [(0.0, 0.0, bed.length_m * 1000, bed.width_m * 1000)]
    for x, y, width, height in boxes:
        canvas.rect(x - walls, y - walls, width + 2 * walls, height + 2 * walls, fill=theme.WOOD,
                    stroke=theme.WOOD_EDGE, stroke_width=f"{canvas.mm(1):.2f}", class_="wall")


def _zone(canvas: Canvas, zone: Zone, spot: Spot, limits: tuple[float, float],
          box: tuple[float, float, float, float], name: str) -> None:  # fmt: skip
    x, y, width, height = box
    fill, pattern = theme.SHEET, ""
    if spot.temp_c is not None and zone.active:
        fill = theme.temp_fill(spot.temp_c, *limits)
        pattern = theme.temp_pattern(spot.temp_c, *limits)
    dash = {} if zone.active else {"stroke_dasharray": f"{canvas.mm(6):.2f}"}
    canvas.rect(x, y, width, height, fill=fill, stroke=theme.INK, class_="zone",
                stroke_width=f"{canvas.mm(1.4):.2f}", **dash)
    if pattern:
        canvas.rect(x, y, width, height, fill=f"url(#{name}-{pattern})", fill_opacity="0.35")
    letters = max(int(width / canvas.text_width("n") - 0.4), 5)
    lines = wrapped(zone.called, letters, 3)
    for line in spot.lines:
        lines += wrapped(line, letters, 2)
    row = canvas.mm(canvas.text_px * 1.3)
    room = max(int((height - canvas.mm(8)) / row), 1)
    for place, line in enumerate(lines[:room]):
        canvas.text(x + width / 2, y + row * (place + 0.95), line)


def _sizes(canvas: Canvas, bed: Bed, places: list[_Place], shown: Shown, walls: float) -> None:
    _, x, y, width, height = places[0]
    long = width if bed.kind == "stack" else bed.length_m * 1000
    canvas.dimension(x, x + long, y - walls - canvas.mm(14), shown.length(bed.length_m))
    canvas.dimension(y, y + height, x - walls - canvas.mm(14), shown.length(bed.width_m),
                     upright=True)  # fmt: skip


def side_svg(bed: Bed, shown: Shown, width_px: float, name: str, sizes: bool = True) -> SafeString:
    """The bed cut lengthwise as it is described, empty: walls, floor, lid, zones or trays."""
    walls = 0.0 if bed.kind == "wedge" else 1000 * sum(x.thickness_m for x in bed.walls)
    floor = 1000 * sum(x.thickness_m for x in bed.floor)
    lid = 1000 * sum(x.thickness_m for x in bed.lid)
    length, depth = bed.length_m * 1000, bed.depth_m * 1000
    legs = 120.0 if bed.stand == "legs" else 0.0
    room_px = width_px - (90 if sizes else 20)
    canvas = Canvas(min(room_px / (length + 2 * walls), 230 / (depth + lid + floor + legs)), 15.0)
    wood = {"fill": theme.WOOD, "stroke": theme.WOOD_EDGE,
            "stroke_width": f"{canvas.mm(1):.2f}"}
    for x in (-walls, length) if walls else ():
        canvas.rect(x, -depth, walls, depth, **wood)
    if floor:
        canvas.rect(-walls, 0, length + 2 * walls, floor, **wood)
    if lid:
        canvas.rect(-walls, -depth - lid, length + 2 * walls, lid, **wood)
    _inside(canvas, bed, length, depth)
    ground = floor + legs
    for x in (length * 0.06, length * 0.94 - 60) if legs else ():
        canvas.rect(x, floor, 60, legs, **wood)
    canvas.line(-walls - canvas.mm(10), ground, length + walls + canvas.mm(10), ground,
                stroke_width=f"{canvas.mm(2.4):.2f}")
    if sizes:
        canvas.dimension(0, length, -depth - lid - canvas.mm(14), shown.length(bed.length_m))
        canvas.dimension(-depth, 0, -walls - canvas.mm(14), shown.length(bed.depth_m),
                         upright=True)  # fmt: skip
    title = _("%s from the side") % bed.name
    return mark_safe(canvas.finished(title, _parts_words(bed, shown), name))


def _parts_words(bed: Bed, shown: Shown) -> str:
    sizes = " × ".join(shown.length(v) for v in (bed.length_m, bed.width_m, bed.depth_m))
    return f"{sizes}; {', '.join(zone.called for zone in bed.zones)}"


def _inside(canvas: Canvas, bed: Bed, length: float, depth: float) -> None:
    """Bedding up to where it was laid, and lines between zones or trays."""
    thin = {"stroke": theme.LINE, "stroke_width": f"{canvas.mm(1):.2f}"}
    x = y = 0.0
    for zone in reversed(bed.zones) if bed.kind == "stack" else bed.zones:
        laid = 1000 * sum(part.depth_m or 0.0 for part in zone.bedding) if zone.active else 0.0
        if bed.kind == "stack":
            tray = 1000 * (zone.depth_m or bed.depth_m / len(bed.zones))
            canvas.rect(0, y - laid, length, laid, fill=theme.BAND_OUTER, **thin)
            canvas.rect(0, y - tray, length, tray, fill="none", **thin)
            y -= tray
            continue
        long = 1000 * (zone.length_m or bed.length_m / len(bed.zones))
        canvas.rect(x, -laid, long, laid, fill=theme.BAND_OUTER, **thin)
        canvas.line(x, 0, x, -depth, stroke=theme.LINE, stroke_dasharray=f"{canvas.mm(4):.2f}")
        x += long
    canvas.rect(0, -depth, length, depth, fill="none", **thin)
