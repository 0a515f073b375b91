"""The report as one HTML page: nothing is fetched, nothing runs, everything can be printed."""

from __future__ import annotations

from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from bedlore.say import listener, say
from bedlore.service.phrases import local, moment_words
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.leaf import DOTS, leaf_of
from bedlore.sheets.method import METHOD, SOURCES
from bedlore.sheets.pictures import (
    NARROW_PX,
    WIDE_PX,
    harm_pictures_of,
    pictures_of,
    small_pictures_of,
)

Told = dict[str, Any]


def page_html(account: Told) -> str:
    """The page of a report's account (:func:`bedlore.service.account.report_account`).

    Everything the keeper wrote is escaped; only our own drawings go in as they are.
    """
    shown = Shown(account["units"])
    zone = account["time_zone"]
    template = _environment().get_template("report.html")
    html = template.render(
        farm=account["farm"],
        moment=moment_words(local(account["made_at"], zone)),
        weather=shown.sentence(account["weather"]["note"]),
        version=account["version"],
        kept_aside=[{**f, "sentence": shown.sentence(f["sentence"])}
                    for f in account["kept_aside"]],
        leaves=[_with_pictures(bed, shown, zone) for bed in account["beds"]],
        method=[say(line) for line in METHOD], sources=[say(line) for line in SOURCES],
        degree=shown.degree, css=Markup(_css()), dots=dots_svg, mark=mark_svg, say=say,
        language=listener().language,
    )  # fmt: skip
    return html.replace(f" {shown.degree}", f"\N{NO-BREAK SPACE}{shown.degree}")


def _with_pictures(bed: Told, shown: Shown, zone: str) -> Told:
    leaf = leaf_of(bed, shown, zone)
    wide, narrow = (pictures_of(bed, shown, zone, px) for px in (WIDE_PX, NARROW_PX))
    leaf["pictures"] = {
        name: {"wide": Markup(wide[name]), "narrow": Markup(narrow[name])} for name in wide
    }
    leaf["small"] = [
        {**one, "svg": Markup(one["svg"])} for one in small_pictures_of(bed, shown, zone)
    ]
    for told, svg in zip(leaf["harm"], harm_pictures_of(bed, shown), strict=False):
        told["svg"] = Markup(svg)
    return leaf


def _environment() -> Environment:
    return Environment(loader=PackageLoader("bedlore.sheets", "templates"), autoescape=True,
                       undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)


def _css() -> str:
    """The style with the colours of the theme put in."""
    style = resources.files("bedlore.sheets").joinpath("templates", "report.css")
    text = style.read_text("utf-8")
    for name in ("PAPER", "SHEET", "INK", "QUIET", "LINE", "CLAY", "SKY", "BAND_OUTER", "LEAF"):
        text = text.replace(f"${name}", getattr(theme, name))
    return text.replace("$FONT", theme.FONT)


def dots_svg(filled: float) -> Markup:
    """Ten dots, ``filled`` of them dark; a half fills the left half of the first."""
    parts = []
    for place in range(DOTS):
        x = 10 + 20 * place
        share = min(max(filled - place, 0.0), 1.0)
        fill = theme.INK if share == 1.0 else "none"
        parts.append(f'<circle cx="{x}" cy="10" r="7.5" fill="{fill}" stroke="{theme.INK}"/>')
        if share == 0.5:
            parts.append(f'<path d="M{x} 2.5a7.5 7.5 0 0 0 0 15z" fill="{theme.INK}"/>')
    return Markup('<svg class="dots" viewBox="0 0 200 20" aria-hidden="true">{}</svg>').format(
        Markup("".join(parts)))


_SHAPES = {
    "round": '<circle cx="30" cy="30" r="27"/>',
    "square": '<rect x="4" y="4" width="52" height="52" rx="5"/>',
    "triangle": '<path d="M30 2 58 56H2Z"/>',
    "diamond": '<path d="M30 1 59 30 30 59 1 30Z"/>',
    "hexagon": '<path d="M16 4h28l15 26-15 26H16L1 30Z"/>',
}


def mark_svg(shape: str, mark: int) -> Markup:
    """The bed's mark, the same as the one nailed on it: a numeral in a shape."""
    y = 47 if shape == "triangle" else 41
    return Markup(
        '<svg class="mark" viewBox="0 0 60 60" aria-hidden="true">{}'
        '<text x="30" y="{}" text-anchor="middle">{}</text></svg>'
    ).format(Markup(_SHAPES[shape]), y, mark)
