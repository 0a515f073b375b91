"""The cross-section is to scale: one unit of the drawing is one millimetre."""

from __future__ import annotations

import itertools
from xml.etree import ElementTree as Xml

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedlore.farm.load import load_farm
from bedlore.service.account import report_account
from bedlore.service.shown import Shown
from bedlore.sheets import theme
from bedlore.sheets.canvas import wrapped
from bedlore.sheets.cross_section import columns_of, legend_words, section_svg
from tests.morning_fake import FARM_FILE, morning

SVG = "{http://www.w3.org/2000/svg}"
BEDS = {bed["bed"]: bed for bed in report_account(morning())["beds"]}


def drawn(bed: dict, width_px: float = 1000.0) -> Xml.Element:
    return Xml.fromstring(section_svg(bed, Shown(), width_px, "t"))


def boxes(root: Xml.Element, kind: str) -> list[tuple[float, float, float, float]]:
    """(left, top, right, bottom) [mm] of the rectangles of a kind."""
    found = []
    for rect in root.iter(f"{SVG}rect"):
        if rect.get("class") == kind:
            x, y, w, h = (float(rect.get(k, "nan")) for k in ("x", "y", "width", "height"))
            found.append((x, y, x + w, y + h))
    return found


@pytest.mark.parametrize("width_px", [1000.0, 340.0])
@pytest.mark.parametrize("name", BEDS)
def test_cells_lie_inside_the_outline(name: str, width_px: float) -> None:
    root = drawn(BEDS[name], width_px)
    (outline,) = boxes(root, "outline")
    cells = boxes(root, "cell")
    assert cells
    for left, top, right, bottom in cells:
        assert left >= outline[0] - 0.01
        assert right <= outline[2] + 0.01
        assert top >= outline[1] - 0.01
        assert bottom <= outline[3] + 0.01


@pytest.mark.parametrize("name", BEDS)
def test_sizes_are_true_within_a_millimetre(name: str) -> None:
    bed = BEDS[name]
    section, root = bed["section"], drawn(bed)
    (outline,) = boxes(root, "outline")
    assert outline[2] - outline[0] == pytest.approx(section["length_m"] * 1000, abs=1)
    assert outline[3] - outline[1] >= section["depth_m"] * 1000 - 1
    for left, _, right, _ in boxes(root, "wall"):
        assert right - left == pytest.approx(section["wall_m"] * 1000, abs=1)
    for part in ("floor", "lid"):
        for _, top, _, bottom in boxes(root, part):
            assert bottom - top == pytest.approx(section[f"{part}_m"] * 1000, abs=1)
    cells = boxes(root, "cell")
    heights = sum(bottom - top for _, top, _, bottom in cells)
    true = sum(c["thickness_m"] for z in section["zones"] for c in z["cells"]) * 1000
    assert heights == pytest.approx(true, abs=0.02 * len(cells))


def test_cells_touch_and_zones_stand_side_by_side() -> None:
    section = BEDS["sluice"]["section"]
    columns = columns_of(section, {})
    for one, next_ in itertools.pairwise(columns):
        assert one.x + one.width == pytest.approx(next_.x)


def test_a_zone_not_in_use_is_drawn_empty() -> None:
    bed = BEDS["sluice"]
    cell = {"thickness_m": 0.01, "temp_c": 0.0}
    empty = [{**z, "active": False, "cells": [cell]} for z in bed["section"]["zones"]]
    root = drawn({**bed, "section": {**bed["section"], "zones": empty}})
    assert boxes(root, "cell") == []
    assert boxes(root, "cover") == []


def test_trays_stand_on_each_other_from_the_bottom_up() -> None:
    bed = BEDS["ladder"]
    columns = columns_of(bed["section"], bed["built"]["tray_depths_m"])
    bottom_up = columns[::-1]
    assert bottom_up[0].base == pytest.approx(0)
    for below, above in itertools.pairwise(bottom_up):
        assert above.base == pytest.approx(below.base - below.room)


@pytest.mark.parametrize("width_px", [1000.0, 340.0])
@pytest.mark.parametrize("name", BEDS)
def test_figures_do_not_run_into_each_other_or_out_of_the_picture(
    name: str, width_px: float
) -> None:
    root = drawn(BEDS[name], width_px)
    x0, _, wide, _ = (float(v) for v in root.get("viewBox", "").split())
    by_column: dict[str, list[tuple[float, float]]] = {}
    for text in root.iter(f"{SVG}text"):
        if text.get("class") == "cell-temp":
            size, y = float(text.get("font-size", "nan")), float(text.get("y", "nan"))
            by_column.setdefault(text.get("x", ""), []).append((y, size))
        assert x0 <= float(text.get("x", "nan")) <= x0 + wide
    for labels in by_column.values():
        labels.sort()
        for (upper, size), (lower, _) in itertools.pairwise(labels):
            assert lower - upper >= size
    assert float(root.get("width", "nan")) <= width_px + 14


@given(st.text(max_size=80))
@settings(max_examples=30)
def test_any_name_can_be_drawn(name: str) -> None:
    bed = BEDS["sluice"]
    zones = [{**zone, "name": name} for zone in bed["section"]["zones"]]
    root = drawn({**bed, "name": name, "section": {**bed["section"], "zones": zones}}, 340.0)
    assert len(root.findall(f".//{SVG}script")) == 0


@given(st.text(max_size=200), st.integers(1, 40), st.integers(1, 4))
def test_wrapped_words_fit(words: str, letters: int, lines: int) -> None:
    found = wrapped(words, letters, lines)
    assert len(found) <= lines
    assert all(len(line) <= max(letters, 2) for line in found)


def test_the_five_words_of_temperature_can_be_told_apart_in_grey() -> None:
    """Cold and hot carry a hatch (WCAG 2.2, 1.4.1): colour is never alone."""
    limits = {"cold_c": 4.0, "hot_c": 30.0}
    words = [(text.split(",")[0], temp) for text, temp in legend_words(limits, Shown())]
    assert [word for word, _ in words] == list(theme.WORDS)
    patterns = [theme.temp_pattern(temp, 4.0, 30.0) for _, temp in words]
    assert patterns == ["cold", "", "", "", "hot"]


@given(st.floats(-30, 60), st.floats(-5, 12), st.floats(18, 40))
def test_figures_on_every_fill_have_seven_to_one(temp_c: float, cold: float, hot: float) -> None:
    assert theme.contrast(theme.INK, theme.temp_fill(temp_c, cold, hot)) >= 7.0


def test_text_colours_have_seven_to_one_on_what_they_stand_on() -> None:
    for colour in (theme.INK, theme.QUIET, theme.MOSS, theme.CLAY, theme.SKY):
        for ground in (theme.PAPER, theme.SHEET):
            assert theme.contrast(colour, ground) >= 7.0, (colour, ground)
    for ground in (theme.LEAF, theme.BAND_OUTER):
        assert theme.contrast(theme.INK, ground) >= 7.0


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2.2: black on white 21:1; #777777 on white 4.48:1 (widely printed example)."""
    assert theme.contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert theme.contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


def test_the_invented_farm_has_every_kind_of_bed() -> None:
    assert {bed.kind for bed in load_farm(FARM_FILE).beds} == {"sides", "stack", "wedge"}
