"""Draws the app's icons from ``static/mark.svg``: ``python -m tools.make_icons``.

The maskable one has the mark within the middle 80 %, as the W3C manifest's safe zone asks.
"""

from __future__ import annotations

import io
from pathlib import Path

import vl_convert
from PIL import Image

STATIC = Path(__file__).parents[1] / "src" / "bedlore" / "web" / "static"
PAPER = "#F7F2E8"
_MARK_PX = 32
_SAFE = 0.7  # of the width
_COLOURS = 32  # flat ones, with their edges; the files stay a few kB


def icon(mark: str, size_px: int, share: float = 1.0) -> bytes:
    """``mark`` (an SVG, 32 units wide) as a PNG of ``size_px``, on paper where it is smaller."""
    edge = _MARK_PX / share
    gap = (edge - _MARK_PX) / 2
    inner = mark.replace("<svg ", f'<svg x="{gap}" y="{gap}" width="32" height="32" ', 1)
    whole = (f'<svg xmlns="http://www.w3.org/2000/svg" width="{edge}" height="{edge}">'
             f'<rect width="100%" height="100%" fill="{PAPER}"/>{inner}</svg>')  # fmt: skip
    drawn = Image.open(io.BytesIO(vl_convert.svg_to_png(whole, scale=size_px / edge)))
    told = io.BytesIO()
    drawn.convert("RGB").quantize(_COLOURS).save(told, "PNG", optimize=True)
    return told.getvalue()


def main() -> None:
    """Writes all icons."""
    mark = (STATIC / "mark.svg").read_text("utf-8")
    for size_px in (180, 192, 512):
        (STATIC / f"icon-{size_px}.png").write_bytes(icon(mark, size_px))
    (STATIC / "icon-mask-512.png").write_bytes(icon(mark, 512, _SAFE))


if __name__ == "__main__":
    main()
