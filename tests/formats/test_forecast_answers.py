"""Documented answers of forecast services (samples follow the schemas, values invented)."""

from __future__ import annotations

import copy
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.fetch import met_norway, national_service
from bedlore.fetch.client import ServiceError
from tests.weather_files import Spot

SAMPLES = Path(__file__).parent / "samples"
MILL = Spot(46.0123, 8.1235, 780.0)
PLAINS = Spot(40.1235, -100.5, 800.0)


def sample(name: str):
    return json.loads((SAMPLES / name).read_text("utf-8"))


def test_met_norway_hours():
    series = met_norway.read(sample("met_norway_compact.json"), MILL)
    assert series.start == datetime(2026, 1, 10, 6, tzinfo=UTC)
    # Up to the step of 42 hours, straight lines across steps of four and six.
    assert series.end == datetime(2026, 1, 10, 19, tzinfo=UTC)
    assert series.temp_c[:3].tolist() == [-8.2, -8.6, -7.1]
    assert series.temp_c[2:7] == pytest.approx([-7.1, -5.6, -4.1, -2.6, -1.1])
    assert series.rh_frac[0] == pytest.approx(0.84)
    assert series.wind_m_s[12] == pytest.approx(4.0)
    assert series.ghi_w_m2[0] == 0.0
    assert 200 < series.ghi_w_m2[6] < 500
    assert "CC BY 4.0" in series.source
    assert any("straight lines" in note for note in series.notes)


def test_clouds_dim_the_sun():
    clear, dull = sample("met_norway_compact.json"), sample("met_norway_compact.json")
    for payload, cloud in ((clear, 0.0), (dull, 100.0)):
        for row in payload["properties"]["timeseries"]:
            row["data"]["instant"]["details"]["cloud_area_fraction"] = cloud
    ratio = met_norway.read(dull, MILL).ghi_w_m2.sum() / met_norway.read(clear, MILL).ghi_w_m2.sum()
    assert ratio == pytest.approx(0.25)


def test_us_hours():
    series = national_service.read(sample("us_hourly.json"), PLAINS)
    assert series.start == datetime(2026, 1, 10, 11, tzinfo=UTC)
    assert series.temp_c == pytest.approx([-10.0, -11.111, -9.5, -5.0], abs=1e-3)
    assert series.rh_frac == pytest.approx([0.81, 0.83, 0.765, 0.70])
    assert series.wind_m_s == pytest.approx([4.4704, 3.3528, 3.7597, 4.1667], abs=1e-3)


@pytest.mark.parametrize(
    "payload",
    [None, [], {}, "text", 3, {"properties": None}, {"properties": {"timeseries": {}}},
     {"properties": {"timeseries": [], "periods": []}},
     {"properties": {"timeseries": [{}], "periods": [{}]}},
     {"properties": {"timeseries": [None], "periods": [7]}}],
)
def test_other_shapes_get_a_sentence(payload):
    for read in (met_norway.read, national_service.read):
        with pytest.raises(ServiceError):
            read(payload, MILL)


def test_other_units_and_impossible_values_are_refused():
    wrong = sample("met_norway_compact.json")
    wrong["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit"
    with pytest.raises(ServiceError, match="air_temperature in 'fahrenheit'"):
        met_norway.read(wrong, MILL)
    wrong = sample("us_hourly.json")
    wrong["properties"]["periods"][0]["temperature"] = 900
    with pytest.raises(ServiceError, match="which cannot be"):
        national_service.read(wrong, PLAINS)
    wrong["properties"]["periods"][0]["temperatureUnit"] = "K"
    with pytest.raises(ServiceError, match="temperatures in 'K'"):
        national_service.read(wrong, PLAINS)


def leaves(value, path=()):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    else:
        yield path


@given(st.data())
def test_any_leaf_may_be_nonsense(data):
    name, read, spot = data.draw(st.sampled_from([
        ("met_norway_compact.json", met_norway.read, MILL),
        ("us_hourly.json", national_service.read, PLAINS),
    ]))
    payload = copy.deepcopy(sample(name))
    path = data.draw(st.sampled_from(list(leaves(payload))))
    target = payload
    for key in path[:-1]:
        target = target[key]
    target[path[-1]] = data.draw(
        st.none() | st.booleans() | st.text(max_size=5) | st.floats()
        | st.sampled_from([10**400, [], {}])
    )
    try:
        series = read(payload, spot)
    except ServiceError:
        return
    assert len(series) >= 2
