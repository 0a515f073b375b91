"""An address as a code to be scanned (QR, ISO/IEC 18004), made by segno."""

from __future__ import annotations

import io

import segno
from markupsafe import Markup

from bedlore.sheets.theme import INK


def qr_svg(text: str, words: str = "") -> Markup:
    """``text`` as an SVG with the quiet margin of four modules that the standard asks for;
    ``words`` tell those who do not see it what it is. A quarter of it may be dirty or torn."""
    out = io.BytesIO()
    code = segno.make(text, error="q", micro=False, boost_error=False)
    code.save(out, kind="svg", xmldecl=False, svgns=True, nl=False, scale=1, border=4, dark=INK,
              light="#FFFFFF", svgclass="qr", lineclass=None, omitsize=True,
              title=words or None)  # fmt: skip
    role = 'role="img" ' if words else 'aria-hidden="true" '
    return Markup(out.getvalue().decode().replace("<svg ", f"<svg {role}", 1))
