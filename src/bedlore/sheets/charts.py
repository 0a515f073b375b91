"""Charts of the coming days, drawn once by Vega-Lite and put into page and sheet as SVG.

Times are local to the farm. Every chart has units on its axes; the page puts a sentence above
and the figures in a table below.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

import vl_convert

from bedlore.say import listener, message, say
from bedlore.service.phrases import local
from bedlore.service.shown import Shown
from bedlore.sheets import theme

Told = dict[str, Any]
Rows = list[dict[str, Any]]
Spec = dict[str, Any]  # a part of a chart in the words of Vega-Lite
_WIDE_PX = 600
SMALL_PX = (320, 170)
NAMED_ABOVE = 3.0  # room above the longest bar for its name
BEHIND_D = 14  # days of readings shown before now
MOST_READINGS = 60
_Q = ("q05", "q25", "q50", "q75", "q95")
_SOLID, _DASHED, _DOTTED = [1, 0], [7, 3], [2, 3]
# How the renderer writes numbers and dates in each language.
_LOCALES: dict[str, dict[str, Any]] = {
    "en": {}, "es": {"format_locale": "es-ES", "time_format_locale": "es-ES"},
}  # fmt: skip


def outlook_chart(bed: Told, shown: Shown, time_zone: str, width_px: int) -> str:
    """At the thermometer: median, 50 % and 90 % bands, limits, and recent readings as dots with
    two standard errors either way. Left of now the bands are what the model says of the last
    days, so that the readings can be held against it."""
    band = _band_rows(bed["ahead"], "temp_probe_c", time_zone, shown.degrees)
    told = bed["behind"]
    behind = _band_rows(told, "temp_probe_c", time_zone, shown.degrees) if told else []
    readings = _reading_rows(bed, shown, time_zone)
    lows = [row["q05"] for row in [*behind, *band]] + [row["low"] for row in readings]
    highs = [row["q95"] for row in [*behind, *band]] + [row["high"] for row in readings]
    limits = _limit_rows(bed["limits"], shown, (min(lows), max(highs)))
    marks = [row["at"] for row in limits]
    domain = _domain([*lows, *marks], [*highs, *marks])
    layers = _bands(band)
    if behind:
        layers += [*_bands([*behind, band[0]]), *_now_layers(band[0]["when"], domain[1])]
    layers += [*_limit_layers(limits), *_reading_layers(readings)]
    title = say("Temperature at the thermometer [{degree}]", degree=shown.degree)
    days = _days(_reach(band, bool(readings or behind)))
    return _svg(layers, days, _scaled(title, domain), width_px, _height(width_px))


def extremes_chart(bed: Told, shown: Shown, time_zone: str, width_px: int) -> str:
    """The coldest and the warmest place that worms live in, against the keeper's limits."""
    cold = _band_rows(bed["ahead"], "temp_coldest_c", time_zone, shown.degrees)
    warm = _band_rows(bed["ahead"], "temp_warmest_c", time_zone, shown.degrees)
    low, high = min(r["q05"] for r in cold), max(r["q95"] for r in warm)
    limits = _limit_rows(bed["limits"], shown, (low, high))
    marks = [row["at"] for row in limits]
    areas, lines, names = list[Spec](), list[Spec](), list[Spec]()  # no band over another's line
    for rows, fill, colour, dash, words, edge, dy in (
        (cold, theme.COLD_BAND, theme.SKY, _SOLID, say("coldest place"), "q05", 16),
        (warm, theme.WARM_BAND, theme.CLAY, _DASHED, say("warmest place"), "q95", -10),
    ):
        place = rows[len(rows) // 3]
        name = {"when": place["when"], "at": place[edge], "words": words}  # just outside its band
        areas.append(_layer("area", rows, "q05", "q95", color=fill, opacity=0.75))
        lines.append(_layer("line", rows, "q50", color=colour, strokeWidth=2.5, strokeDash=dash))
        names.append(_words([name], dy, colour))
    title = say("Where worms live [{degree}]", degree=shown.degree)
    return _svg([*areas, *lines, *_limit_layers(limits), *names], _days(),
                _scaled(title, _domain([low, *marks], [high, *marks])),
                width_px, _height(width_px))  # fmt: skip


def small_chart(bed: Told, name: str, title: str, time_zone: str, scale: float = 1.0,
                limits: Sequence[float] = ()) -> str:  # fmt: skip
    """One of the small multiples: bands of the output ``name`` of the whole bed."""
    rows = _band_rows(bed["ahead"], name, time_zone, lambda value: value * scale)
    low, high = min(r["q05"] for r in rows), max(r["q95"] for r in rows)
    if name == "moisture_frac":
        domain = _domain([low, *limits], [high, *limits])
    else:
        domain = (0.0, max(high * 1.1, 1e-3))
    marks = [{"at": at, "words": say("your limit")} for at in limits]
    return _svg([*_bands(rows), *_limit_layers(marks)], _days(), _scaled(title, domain), *SMALL_PX)


def herd_chart(bed: Told, time_zone: str) -> str:
    """Adults, young and cocoons: most likely number, and one upright bar, with the name above it,
    over the range that holds 9 of 10 futures; bands of all three would hide each other. Steps are
    tenfold, since they differ by as much."""
    lines, bars, names = list[Spec](), list[Spec](), list[Spec]()
    top = 0.0
    for words, outputs, colour, dash, seventh in (  # each bar and name at a time of its own
        (say("adults"), ("adults_n",), theme.CLAY, _SOLID, 1),
        (say("young"), ("juveniles_n", "hatchlings_n"), theme.MOSS, _DASHED, 3),
        (say("cocoons"), ("cocoons_n",), theme.SKY, _DOTTED, 5),
    ):
        rows = number_rows(bed["ahead"], outputs, time_zone)
        place = len(rows) * seventh // 7
        top = max(top, *(row["q50"] for row in rows), rows[place]["q95"])
        name = {"when": rows[place]["when"], "at": rows[place]["q95"], "words": words}
        lines.append(_layer("line", rows, "q50", color=colour, strokeWidth=2.5, strokeDash=dash))
        bars += _bar(rows[place], colour)
        names.append(_words([name], -9, colour))
    scaled = _tenfold(say("Number"), max(NAMED_ABOVE * top, 10.0))
    return _svg([*lines, *bars, *names], _days(), scaled, *SMALL_PX)


def _tenfold(title: str, top: float) -> Spec:
    """The upright axis from 0 by steps of ten times to ``top``, straight below 10."""
    steps = [0, *(10**power for power in range(1, int(math.log10(top)) + 1))]
    scale = {"type": "symlog", "constant": 10, "domain": (0.0, top), "nice": False}
    return {"type": "quantitative", "title": title, "axis": {"values": steps}, "scale": scale}


def _bar(row: dict[str, Any], colour: str) -> list[Spec]:
    """The 90 % range at one time, capped."""
    cap: Spec = {"color": colour, "orient": "horizontal", "size": 11, "thickness": 2}
    return [_layer("rule", [row], "q05", "q95", color=colour, strokeWidth=1.6),
            *(_layer("tick", [row], q, **cap) for q in ("q05", "q95"))]  # fmt: skip


def number_rows(ahead: Told, outputs: Sequence[str], time_zone: str) -> Rows:
    """``outputs`` taken together as though many of one went with many of the other, which they do
    for the most part: stages kept apart have no range of their sum."""
    parts = [_band_rows(ahead, name, time_zone, float) for name in outputs]
    return [{"when": together[0]["when"], **{q: sum(row[q] for row in together) for q in _Q}}
            for together in zip(*parts, strict=True)]  # fmt: skip


def harm_chart(harm: Told, limit_c: float, shown: Shown, width_px: int = 320) -> str:
    """How fast the bed goes towards a limit after a mishap: median and 90 % band by hour."""
    rows: Rows = [
        {"hour": point["hour"], **dict(zip(("q05", "q50", "q95"),
                                           map(shown.degrees, point["temp_c"]), strict=True))}
        for point in harm["curve"]
    ]  # fmt: skip
    limit = shown.degrees(limit_c)
    domain = _domain([*(r["q05"] for r in rows), limit], [*(r["q95"] for r in rows), limit])
    title = say("Where worms live [{degree}]", degree=shown.degree)
    words = say("your limit, {limit}", limit=shown.limit(limit_c))
    layers = [
        _layer("area", rows, "q05", "q95", color=theme.BAND_OUTER),
        _layer("line", rows, "q50", color=theme.INK, strokeWidth=2.5),
        *_limit_layers([{"at": limit, "words": words}]),
    ]
    hours = {"field": "hour", "type": "quantitative", "title": say("Hours since"),
             "axis": {"tickMinStep": 6, "tickCount": 6}}  # fmt: skip
    return _svg(layers, hours, _scaled(title, domain), width_px, 190)


def _layer(mark: str, rows: Rows, y: str, y2: str = "", **style: Any) -> Spec:
    """``rows`` drawn at the column ``y``, or from there to ``y2``; along x as the whole chart."""
    encoding = {"y": {"field": y}, **({"y2": {"field": y2}} if y2 else {})}
    return {"mark": {"type": mark, **style}, "data": {"values": rows}, "encoding": encoding}


def _words(rows: Rows, dy: int, colour: str, x: Spec | None = None) -> Spec:
    """Words on a halo of paper, so that they can be read over lines and bands."""
    encoding = {"y": {"field": "at"}, "text": {"field": "words"}, **({"x": x} if x else {})}
    style = {"type": "text", "dy": dy, "align": "left", "fontWeight": "bold"}
    halo = {"stroke": theme.SHEET, "strokeWidth": 4, "strokeJoin": "round", "color": theme.SHEET}
    return {"data": {"values": rows}, "encoding": encoding,
            "layer": [{"mark": {**style, **halo}}, {"mark": {**style, "color": colour}}]}


def _bands(rows: Rows) -> list[Spec]:
    return [
        _layer("area", rows, "q05", "q95", color=theme.BAND_OUTER),
        _layer("area", rows, "q25", "q75", color=theme.BAND_INNER),
        _layer("line", rows, "q50", color=theme.INK, strokeWidth=2.5),
    ]


def _now_layers(when: str, top: float) -> list[Spec]:
    rows = [{"when": when, "at": top, "words": say("now")}]
    return [
        {"mark": {"type": "rule", "color": theme.INK}, "data": {"values": rows},
         "encoding": {"y": {"value": 0}, "y2": {"value": "height"}}},
        _words(rows, 14, theme.INK),
    ]  # fmt: skip


def _limit_layers(rows: Rows) -> list[Spec]:
    if not rows:
        return []
    rule = {"type": "rule", "color": theme.CLAY, "strokeDash": [6, 4], "strokeWidth": 1.6}
    across = {"x": {"value": "width"}, "x2": {"value": 0}, "y": {"field": "at"}}
    return [{"mark": rule, "data": {"values": rows}, "encoding": across},
            _words(rows, -9, theme.CLAY, {"value": 6})]  # fmt: skip


def _limit_rows(limits: Told, shown: Shown, reach: tuple[float, float]) -> Rows:
    """The keeper's limits that lie near what is drawn; a limit far off only flattens a chart."""
    margin = max(reach[1] - reach[0], shown.degrees(8) - shown.degrees(0))
    rows = []
    for key, words in (("cold_c", message("your cold limit, {limit}")),
                       ("hot_c", message("your heat limit, {limit}"))):  # fmt: skip
        at = shown.degrees(limits[key])
        if reach[0] - margin <= at <= reach[1] + margin:
            rows.append({"at": at, "words": say(words, limit=shown.limit(limits[key]))})
    return rows


def _reading_layers(rows: Rows) -> list[Spec]:
    if not rows:
        return []
    return [
        _layer("rule", rows, "low", "high", color=theme.MOSS, strokeWidth=1.4),
        _layer("point", rows, "at", filled=True, size=48, color=theme.MOSS),
    ]


def _reading_rows(bed: Told, shown: Shown, time_zone: str) -> Rows:
    now = dt.datetime.fromisoformat(bed["ahead"]["times"][0])
    since = now - dt.timedelta(days=BEHIND_D)
    recent = [r for r in bed["readings"] if dt.datetime.fromisoformat(r["at"]) >= since]
    return [
        {
            "when": _stamp(reading["at"], time_zone),
            "at": shown.degrees(reading["temp_c"]),
            "low": shown.degrees(reading["temp_c"] - 2 * reading["error_k"]),
            "high": shown.degrees(reading["temp_c"] + 2 * reading["error_k"]),
        }
        for reading in recent[-MOST_READINGS:]
    ]


def _band_rows(ahead: Told, name: str, time_zone: str, convert: Any) -> Rows:
    quantiles = ahead["whole"][name]
    return [
        {"when": when, **{q: convert(quantiles[k][i]) for k, q in enumerate(_Q)}}
        for i, when in enumerate(_times(ahead, time_zone))
    ]


def _times(ahead: Told, time_zone: str) -> list[str]:
    return [_stamp(moment, time_zone) for moment in ahead["times"]]


def _stamp(moment: str, time_zone: str) -> str:
    """Local clock time without a zone: the renderer must not move it."""
    when: dt.datetime = local(moment, time_zone).replace(tzinfo=None)
    return when.isoformat(timespec="minutes")


def _domain(lows: Sequence[float], highs: Sequence[float]) -> tuple[float, float]:
    low, high = min(lows), max(highs)
    pad = max((high - low) * 0.08, 0.02 if high <= 1.5 else 0.5)
    return low - pad, high + pad


def _height(width_px: int) -> int:
    """Wide charts are flat, narrow ones (a phone) stay readable."""
    return max(round(width_px * 0.28), 225)


def _reach(rows: Rows, with_past: bool) -> list[Spec]:
    """The span of days on the axis: a fortnight back when there are readings."""
    first, last = (dt.datetime.fromisoformat(rows[k]["when"]) for k in (0, -1))
    if with_past:
        first -= dt.timedelta(days=BEHIND_D)
    return [{"year": when.year, "month": when.month, "date": when.day, "hours": when.hour}
            for when in (first, last)]  # fmt: skip


def _days(reach: list[Spec] | None = None) -> Spec:
    """The axis of days, over ``reach`` or over what is drawn."""
    axis = {"format": "%-d %b", "labelOverlap": "greedy", "labelSeparation": 14, "tickCount": 7,
            "grid": True}
    days = {"field": "when", "type": "temporal", "title": None, "axis": axis}
    return {**days, "scale": {"domain": reach}} if reach else days


def _scaled(title: str, domain: tuple[float, float]) -> Spec:
    """The upright axis over ``domain``; of which column, each layer says."""
    axis = {"tickMinStep": 1 if "°" in title else 0, "tickCount": 6}
    scale = {"domain": domain, "zero": False, "nice": False}
    return {"type": "quantitative", "title": title, "axis": axis, "scale": scale}


def _svg(layers: list[Spec], x: Spec, y: Spec, width_px: int, height_px: int) -> str:
    """The finished chart in our own letters and colours.

    Screen readers pass over its marks and axes: the renderer's words for them are English and
    name columns, and the sentence above and the table below say it better.
    """
    size = 15 if width_px > _WIDE_PX else 14
    axis = {
        "labelFontSize": size, "titleFontSize": size, "labelColor": theme.INK,
        "titleColor": theme.INK, "gridColor": "#E2D9C8", "domainColor": theme.LINE,
        "tickColor": theme.LINE, "titleFontWeight": "normal", "aria": False,
    }  # fmt: skip
    left = {"titleAngle": 0, "titleAnchor": "start", "titleAlign": "left", "titleY": -12,
            "titleX": 0}
    spec = {
        "width": width_px, "height": height_px, "padding": 4, "background": "transparent",
        "autosize": {"type": "fit", "contains": "padding"},
        "config": {"font": theme.FONT, "axis": axis, "axisLeft": left, "view": {"stroke": None},
                   "text": {"fontSize": size}, "mark": {"aria": False}},
        "encoding": {"x": x, "y": y}, "layer": layers,
    }  # fmt: skip
    return str(vl_convert.vegalite_to_svg(spec, **_LOCALES[listener().language]))
