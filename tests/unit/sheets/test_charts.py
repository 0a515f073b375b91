"""The charts: specs that Vega-Lite's own schema allows, and pictures that agree with their axes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import altair
import pytest
import vl_convert
from jsonschema import ValidationError

from bedlore.farm.load import load_farm
from bedlore.say import speaking
from bedlore.say.amounts import number_words
from bedlore.service.account import report_account
from bedlore.service.shown import Shown
from bedlore.sheets import charts, theme
from bedlore.sheets.pictures import small_pictures_of
from tests.morning_fake import FARM_FILE, morning

METRIC = Shown("metric")
Spec = dict[str, Any]
Draw = Callable[[], str]


@pytest.fixture(scope="module")
def account() -> Spec:
    return report_account(morning(load_farm(FARM_FILE)))


@pytest.fixture(scope="module")
def bed(account: Spec) -> Spec:
    return account["beds"][0]


@pytest.fixture(scope="module")
def draws(bed: Spec, account: Spec) -> dict[str, Draw]:
    """Each kind of chart of one bed, by name."""
    zone = account["time_zone"]
    bare = {**bed, "behind": None, "readings": []}
    return {
        "outlook": lambda: charts.outlook_chart(bed, METRIC, zone, 900),
        "outlook without a past": lambda: charts.outlook_chart(bare, METRIC, zone, 900),
        "extremes": lambda: charts.extremes_chart(bed, METRIC, zone, 900),
        "water": lambda: charts.small_chart(bed, "moisture_frac", "Water", zone, 100, (60, 85)),
        "food": lambda: charts.small_chart(bed, "food_left_kg", "Food", zone),
        "herd": lambda: charts.herd_chart(bed, zone),
        "harm": lambda: charts.harm_chart(bed["harm"][0], 4.0, METRIC),
    }


@pytest.fixture
def spec_of(monkeypatch: pytest.MonkeyPatch) -> Callable[[Draw], Spec]:
    """What a chart hands to the renderer, as JSON."""

    def told(draw: Draw) -> Spec:
        specs: list[Spec] = []
        with monkeypatch.context() as patched:
            patched.setattr(vl_convert, "vegalite_to_svg", lambda spec, **_: specs.append(spec))
            draw()
        return json.loads(json.dumps(specs[0]))

    return told


KINDS = ("outlook", "outlook without a past", "extremes", "water", "food", "herd", "harm")


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_allows_every_spec(
    kind: str, draws: dict[str, Draw], spec_of: Callable[[Draw], Spec]
) -> None:
    """Against the JSON schema of Vega-Lite, which Altair carries."""
    spec = spec_of(draws[kind])
    altair.Chart.from_dict(spec)
    spec["layer"][0]["mark"]["strokewidth"] = 2  # a slip of the pen is seen
    with pytest.raises(ValidationError):
        altair.Chart.from_dict(spec)


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_named_is_in_the_rows(
    kind: str, draws: dict[str, Draw], spec_of: Callable[[Draw], Spec]
) -> None:
    """Vega-Lite draws nothing, and says nothing, where a column is missing."""
    spec = spec_of(draws[kind])
    for layer in spec["layer"]:
        encoding = {**spec["encoding"], **layer["encoding"]}
        named = {channel["field"] for channel in encoding.values() if "field" in channel}
        for row in layer["data"]["values"]:
            assert named <= set(row), layer["mark"]


def test_a_limit_stands_at_its_degree_on_the_axis(bed: Spec, draws: dict[str, Draw]) -> None:
    """The lowest and the highest tick with their figures give the scale of the picture."""
    svg = draws["outlook"]()
    ticks = [float(y) for y in re.findall(r'translate\(0,([\d.]+)\)" x2="-5"', svg)]
    figures = [float(said) for said in re.findall(r'<text text-anchor="end"[^>]*>([^<]+)<', svg)]
    assert len(ticks) == len(figures) > 2
    c_per_px = (figures[-1] - figures[0]) / (ticks[-1] - ticks[0])
    (limit_px,) = re.findall(r'translate\([\d.]+,([\d.]+)\)"[^>]*stroke-dasharray="6,4"', svg)
    at_c = figures[0] + (float(limit_px) - ticks[0]) * c_per_px
    rounding_c = abs(c_per_px)  # two ticks, each on a whole pixel
    assert at_c == pytest.approx(bed["limits"]["cold_c"], abs=rounding_c)


def test_each_recent_reading_is_a_dot_with_its_error(bed: Spec, draws: dict[str, Draw]) -> None:
    svg = draws["outlook"]()
    assert svg.count(f'fill="{theme.MOSS}"') == len(bed["readings"]) > 0
    assert svg.count('stroke-width="1.4"') == len(bed["readings"])
    assert theme.MOSS not in draws["outlook without a past"]()


def test_the_herd_is_drawn_with_its_range_and_told_with_it(
    bed: Spec, account: Spec, draws: dict[str, Draw], spec_of: Callable[[Draw], Spec]
) -> None:
    spec = spec_of(draws["herd"])
    known = bed["ahead"]["whole"]
    bars = [layer["data"]["values"] for layer in spec["layer"]
            if layer.get("mark", {}).get("type") == "rule"]  # fmt: skip
    outputs = (["adults_n"], ["juveniles_n", "hatchlings_n"], ["cocoons_n"])
    for (bar,), names, seventh in zip(bars, outputs, (1, 3, 5), strict=True):
        place = len(bed["ahead"]["times"]) * seventh // 7
        for q, k in (("q05", 0), ("q50", 2), ("q95", 4)):
            assert bar[q] == pytest.approx(sum(known[name][k][place] for name in names))
    assert spec["encoding"]["y"]["scale"]["domain"][1] >= max(bar["q95"] for (bar,) in bars)
    told = small_pictures_of(bed, METRIC, account["time_zone"])[-1]["words"]
    low, middle, high = (number_words(known["adults_n"][k][-1]) for k in (0, 2, 4))
    assert f"adults {middle} ({low} to {high})" in told


def test_water_and_food_are_told_with_their_range(bed: Spec, account: Spec) -> None:
    water, food, _ = small_pictures_of(bed, METRIC, account["time_zone"])
    last = {name: [row[-1] for row in bed["days"]["whole"][name]]
            for name in ("moisture_frac", "food_left_kg")}  # fmt: skip
    low, _, middle, _, high = (METRIC.percent(q) for q in last["moisture_frac"])
    assert f"{middle} ({low} to {high}) in a fortnight" in water["words"]
    low, _, middle, _, high = (METRIC.mass(q) for q in last["food_left_kg"])
    assert f"{middle} ({low} to {high}) in a fortnight" in food["words"]


def test_words_are_drawn_over_their_halo(draws: dict[str, Draw]) -> None:
    for kind in KINDS:
        svg = draws[kind]()
        texts = re.findall(r'<text [^>]*font-weight="bold"[^>]*fill="([^"]+)"[^>]*>([^<]+)<', svg)
        words = [said for fill, said in texts if fill != theme.SHEET]
        for said in words:
            fills = [fill for fill, other in texts if other == said]
            assert fills == [theme.SHEET] * (len(fills) // 2) + fills[len(fills) // 2:], said
        assert len(words) * 2 == len(texts)
        assert words or kind == "food"


def test_days_are_named_in_the_language_of_who_reads(draws: dict[str, Draw]) -> None:
    assert re.search(r">\d+ Jan<", draws["extremes"]())
    with speaking("es"):
        assert re.search(r">\d+ ene<", draws["extremes"]())


def test_the_renderer_says_nothing_of_its_own(draws: dict[str, Draw]) -> None:
    """Its words for screen readers are English, whatever the language of the page; a mark with a
    role but without words is as bad."""
    for kind in KINDS:
        svg = draws[kind]()
        assert "aria-label" not in svg
        groups = re.findall(r'<g class="mark-[^>]*role-(?:mark|axis)[ "][^>]*>', svg)
        assert groups
        assert all('aria-hidden="true"' in group for group in groups)
