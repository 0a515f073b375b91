"""Charts of the coming days, drawn once by Vega-Lite and put into page and sheet as SVG.

Times are local to the farm. Every chart has units on its axes; the page puts a sentence above
and the figures in a table below.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import altair as alt
import vl_convert

from bedlore.say import listener, message, say
from bedlore.service.phrases import local
from bedlore.service.shown import Shown
from bedlore.sheets import theme

Told = dict[str, Any]
Rows = list[dict[str, Any]]
Layered = alt.LayerChart | alt.FacetChart  # what alt.layer says that it gives
Layers = list[alt.Chart | Layered]
_WIDE_PX = 600
SMALL_PX = (320, 170)
BEHIND_D = 14  # days of readings shown before now
_Q = ("q05", "q25", "q50", "q75", "q95")


def outlook_chart(bed: Told, shown: Shown, time_zone: str, width_px: int) -> str:
    """At the thermometer: median, 50 % and 90 % bands, limits, and recent readings as dots with
    two standard errors either way. Left of now the bands are what the model says of the last
    days, so that the readings can be held against it."""
    board = Board()
    band = _band_rows(bed["ahead"], "temp_probe_c", time_zone, shown.degrees)
    told = bed["behind"]
    behind = _band_rows(told, "temp_probe_c", time_zone, shown.degrees) if told else []
    readings = _reading_rows(bed, shown, time_zone)
    lows = [row["q05"] for row in [*behind, *band]] + [row["low"] for row in readings]
    highs = [row["q95"] for row in [*behind, *band]] + [row["high"] for row in readings]
    limits = _limit_rows(bed["limits"], shown, (min(lows), max(highs)))
    domain = _domain([*lows, *(row["at"] for row in limits)],
                     [*highs, *(row["at"] for row in limits)])
    title = say("Temperature at the thermometer [{degree}]", degree=shown.degree)
    layers = [*_bands(board, band, title, domain, _reach(band, bool(readings or behind)))]
    if behind:
        layers += _bands(board, [*behind, band[0]], title, domain)
        now = [{"when": band[0]["when"], "at": domain[1], "words": say("now")}]
        layers += [board.chart(now).mark_rule(color=theme.INK).encode(x=alt.X("when:T")),
                   _label(board, now, alt.X("when:T"), 14, theme.INK)]  # fmt: skip
    layers += _limit_layers(board, limits)
    if readings:
        layers += _reading_layers(board, readings, title, domain)
    return board.svg(alt.layer(*layers), width_px, _height(width_px))


def extremes_chart(bed: Told, shown: Shown, time_zone: str, width_px: int) -> str:
    """The coldest and the warmest place that worms live in, against the keeper's limits."""
    board = Board()
    cold = _band_rows(bed["ahead"], "temp_coldest_c", time_zone, shown.degrees)
    warm = _band_rows(bed["ahead"], "temp_warmest_c", time_zone, shown.degrees)
    low, high = min(r["q05"] for r in cold), max(r["q95"] for r in warm)
    limits = _limit_rows(bed["limits"], shown, (low, high))
    marks = [row["at"] for row in limits]
    domain = _domain([low, *marks], [high, *marks])
    title = say("Where worms live [{degree}]", degree=shown.degree)
    layers: Layers = []
    for rows, fill, line, word in (
        (cold, theme.COLD_BAND, theme.SKY, message("coldest place")),
        (warm, theme.WARM_BAND, theme.CLAY, message("warmest place")),
    ):
        base = _base(board, rows)
        layers += [
            base.mark_area(color=fill, opacity=0.75).encode(
                y=_y("q05", title, domain), y2=alt.Y2("q95")),
            base.mark_line(color=line, strokeWidth=2.5,
                           strokeDash=[1, 0] if word[0] == "c" else [7, 3],
                           ).encode(y=_y("q50", title, domain)),
        ]  # fmt: skip
        layers.append(_end_label(board, rows, word, line))
    return board.svg(alt.layer(*layers, *_limit_layers(board, limits)), width_px,
                _height(width_px))  # fmt: skip


def _end_label(board: Board, rows: Rows, words: str, colour: str) -> Layered:
    """Names a band just outside it."""
    place = rows[len(rows) // 3]
    above = words.startswith("warmest")
    point = {"when": place["when"], "at": place["q95" if above else "q05"], "words": say(words)}
    return _label(board, [point], alt.X("when:T"), -10 if above else 16, colour)


def _label(board: Board, rows: Rows, x: Any, dy: int, colour: str) -> Layered:
    """Words on a halo of paper, so that they can be read over lines and bands.

    Channels are given as objects: Altair looks a plain word up in its schema, which is slow.
    """
    base = board.chart(rows).encode(x=x, y=alt.Y("at:Q"), text=alt.Text("words:N"))
    style: dict[str, Any] = {"dy": dy, "align": "left", "fontWeight": "bold",
                             "strokeJoin": "round"}
    return alt.layer(
        base.mark_text(**style, stroke=theme.SHEET, strokeWidth=4, color=theme.SHEET),
        base.mark_text(**style, color=colour),
    )


def small_chart(bed: Told, name: str, title: str, time_zone: str, scale: float = 1.0,
                limits: Sequence[float] = ()) -> str:  # fmt: skip
    """One of the small multiples: bands of the output ``name`` of the whole bed."""
    board = Board()
    rows = _band_rows(bed["ahead"], name, time_zone, lambda value: value * scale)
    low, high = min(r["q05"] for r in rows), max(r["q95"] for r in rows)
    if name == "moisture_frac":
        domain = _domain([low, *limits], [high, *limits])
    else:
        domain = (0.0, max(high * 1.1, 1e-3))
    marks = [{"at": at, "words": say("your limit")} for at in limits]
    layers = [*_bands(board, rows, title, domain), *_limit_layers(board, marks)]
    return board.svg(alt.layer(*layers), *SMALL_PX)


def herd_chart(bed: Told, time_zone: str) -> str:
    """Adults, young and cocoons, most likely number, each named at its line."""
    board = Board()
    ahead = bed["ahead"]
    stages = (
        (message("adults"), ("adults_n",), theme.CLAY),
        (message("young"), ("juveniles_n", "hatchlings_n"), theme.MOSS),
        (message("cocoons"), ("cocoons_n",), theme.SKY),
    )
    top = max(max(_summed(ahead, names)) for _, names, _ in stages)
    domain = (0.0, max(top * 1.15, 1.0))
    dashes = {"adults": [1, 0], "young": [7, 3], "cocoons": [2, 3]}
    layers: Layers = []
    for word, names, colour in stages:
        rows: Rows = [
            {"when": when, "q50": value}
            for when, value in zip(_times(ahead, time_zone), _summed(ahead, names), strict=True)
        ]
        layers.append(
            _base(board, rows).mark_line(color=colour, strokeWidth=2.5, strokeDash=dashes[word])
            .encode(y=_y("q50", say("Number, most likely"), domain))
        )  # fmt: skip
        place = rows[len(rows) * len(layers) // 7]  # each name at a time of its own
        named = {"when": place["when"], "at": place["q50"], "words": say(word)}
        layers.append(_label(board, [named], alt.X("when:T"), -9, colour))
    return board.svg(alt.layer(*layers), *SMALL_PX)


def _summed(ahead: Told, names: Sequence[str]) -> list[float]:
    rows = [ahead["whole"][name][2] for name in names]
    return [sum(values) for values in zip(*rows, strict=True)]


def harm_chart(harm: Told, limit_c: float, shown: Shown, width_px: int = 320) -> str:
    """How fast the bed goes towards a limit after a mishap: median and 90 % band by hour."""
    board = Board()
    rows: Rows = [
        {"hour": point["hour"], **dict(zip(("q05", "q50", "q95"),
                                           map(shown.degrees, point["temp_c"]), strict=True))}
        for point in harm["curve"]
    ]  # fmt: skip
    limit = shown.degrees(limit_c)
    domain = _domain([*(r["q05"] for r in rows), limit], [*(r["q95"] for r in rows), limit])
    title = say("Where worms live [{degree}]", degree=shown.degree)
    base = board.chart(rows).encode(
        x=alt.X("hour:Q", title=str(say("Hours since")), axis=alt.Axis(tickMinStep=6, tickCount=6))
    )
    band = base.mark_area(color=theme.BAND_OUTER).encode(
        y=_y("q05", title, domain), y2=alt.Y2("q95"))  # fmt: skip
    line = base.mark_line(color=theme.INK, strokeWidth=2.5).encode(y=_y("q50", title, domain))
    words = say("your limit, {limit}", limit=shown.temp(limit_c))
    marks = _limit_layers(board, [{"at": limit, "words": words}])
    return board.svg(alt.layer(band, line, *marks), width_px, 190)


def _base(board: Board, rows: Rows, reach: Any = None) -> alt.Chart:
    axis = alt.Axis(format="%-d %b", labelOverlap="greedy", labelSeparation=14, tickCount=7,
                    grid=True)
    scale = {"scale": reach} if reach is not None else {}
    return board.chart(rows).encode(
        x=alt.X("when:T", title=None, axis=axis, **scale)
    )


def _y(name: str, title: str, domain: tuple[float, float]) -> alt.Y:
    axis = alt.Axis(tickMinStep=1 if "°" in title else 0, tickCount=6)
    scale = alt.Scale(domain=list(domain), zero=False, nice=False)
    return alt.Y(f"{name}:Q", title=title, axis=axis, scale=scale)


def _reach(rows: Rows, with_past: bool) -> Any:
    """The span of days on the axis: a fortnight back when there are readings."""
    first, last = (dt.datetime.fromisoformat(rows[k]["when"]) for k in (0, -1))
    if with_past:
        first -= dt.timedelta(days=BEHIND_D)
    return alt.Scale(domain=[_moment(first), _moment(last)])


def _moment(when: dt.datetime) -> alt.DateTime:
    return alt.DateTime(year=when.year, month=when.month, date=when.day, hours=when.hour)


def _bands(board: Board, rows: Rows, title: str, domain: tuple[float, float],
           reach: Any = None) -> Layers:  # fmt: skip
    base = _base(board, rows, reach)
    return [
        base.mark_area(color=theme.BAND_OUTER).encode(y=_y("q05", title, domain), y2=alt.Y2("q95")),
        base.mark_area(color=theme.BAND_INNER).encode(y=_y("q25", title, domain), y2=alt.Y2("q75")),
        base.mark_line(color=theme.INK, strokeWidth=2.5).encode(y=_y("q50", title, domain)),
    ]


def _limit_rows(limits: Told, shown: Shown, reach: tuple[float, float]) -> Rows:
    """The keeper's limits that lie near what is drawn; a limit far off only flattens a chart."""
    margin = max(reach[1] - reach[0], shown.degrees(8) - shown.degrees(0))
    rows = []
    for key, words in (("cold_c", message("your cold limit, {limit}")),
                       ("hot_c", message("your heat limit, {limit}"))):  # fmt: skip
        at = shown.degrees(limits[key])
        if reach[0] - margin <= at <= reach[1] + margin:
            rows.append({"at": at, "words": say(words, limit=shown.temp(limits[key]))})
    return rows


def _limit_layers(board: Board, rows: Rows) -> Layers:
    if not rows:
        return []
    base = board.chart(rows)
    rule = base.mark_rule(color=theme.CLAY, strokeDash=[6, 4], strokeWidth=1.6).encode(
        y=alt.Y("at:Q"))  # fmt: skip
    left: Any = alt.XValue
    return [rule, _label(board, rows, left(6), -9, theme.CLAY)]


def _reading_layers(board: Board, rows: Rows, title: str, domain: tuple[float, float]) -> Layers:
    base = _base(board, rows)
    return [
        base.mark_rule(color=theme.MOSS, strokeWidth=1.4).encode(
            y=_y("low", title, domain), y2=alt.Y2("high")),
        base.mark_point(filled=True, size=48, color=theme.MOSS).encode(y=_y("at", title, domain)),
    ]  # fmt: skip


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


# How the renderer writes numbers and dates in each language.
_LOCALES: dict[str, dict[str, Any]] = {
    "en": {}, "es": {"format_locale": "es-ES", "time_format_locale": "es-ES"},
}  # fmt: skip
MOST_READINGS = 60


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


@dataclass
class Board:
    """Gathers the rows of one chart, so that they are handed over once and never copied."""

    tables: dict[str, Rows] = field(default_factory=dict)

    def chart(self, rows: Rows) -> alt.Chart:
        """A layer on ``rows``."""
        known = next((name for name, held in self.tables.items() if held is rows), None)
        name = known or f"rows{len(self.tables)}"
        self.tables[name] = rows
        return alt.Chart(alt.NamedData(name=name))

    def svg(self, chart: Layered, width_px: int, height_px: int) -> str:
        """The finished chart in our own colours."""
        spec = chart.to_dict(validate=False)
        spec.update(_frame(width_px, height_px), datasets=self.tables)
        return str(vl_convert.vegalite_to_svg(spec, **_LOCALES[listener().language]))


def _frame(width_px: int, height_px: int) -> dict[str, Any]:
    """Size, letters and colours of every chart, in the words of Vega-Lite. Put in at the end:
    Altair copies a whole chart for each of its own settings."""
    size = 15 if width_px > _WIDE_PX else 14
    axis = {
        "labelFontSize": size, "titleFontSize": size, "labelColor": theme.INK,
        "titleColor": theme.INK, "gridColor": "#E2D9C8", "domainColor": theme.LINE,
        "tickColor": theme.LINE, "titleFontWeight": "normal",
    }  # fmt: skip
    left = {"titleAngle": 0, "titleAnchor": "start", "titleAlign": "left", "titleY": -12,
            "titleX": 0}
    return {
        "width": width_px, "height": height_px, "padding": 4, "background": "transparent",
        "autosize": {"type": "fit", "contains": "padding"},
        "config": {"font": theme.FONT, "axis": axis, "axisLeft": left, "view": {"stroke": None},
                   "text": {"fontSize": size}},
    }  # fmt: skip
