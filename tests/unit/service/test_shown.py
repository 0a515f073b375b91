"""Numbers as the keeper reads them; expected values by hand from the exact factors of units.py."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.say import limit_temp, say, setting, speaking
from bedlore.service.shown import Shown, figures, whole

METRIC, US = Shown("metric"), Shown("us")


@pytest.mark.parametrize(
    ("value", "text"),
    [(1234, "1200"), (0.3, "0.3"), (0.0456, "0.046"), (9.96, "10"), (0, "0"), (-1.25, "−1.2")],
)
def test_two_figures(value: float, text: str) -> None:
    assert figures(value) == text


def test_no_minus_nought() -> None:
    assert whole(-0.2) == "0"
    assert METRIC.temp(-0.4) == "0 °C"


def test_temperatures_have_no_tenths() -> None:
    assert METRIC.temp(4.44) == "4 °C"
    assert US.temp(4.44) == "40 °F"  # 4.44 x 9/5 + 32 = 39.99
    assert METRIC.temp(-7.6) == "−8 °C"


def test_masses_lengths_volumes() -> None:
    assert METRIC.mass(0.3) == "300 g"
    assert METRIC.mass(1.23) == "1.2 kg"
    assert US.mass(0.3) == "11 oz"  # 0.3 / 0.45359237 x 16 = 10.6
    assert US.mass(1.2) == "2.6 lb"  # 1.2 / 0.45359237 = 2.6455
    assert METRIC.length(0.42) == "42 cm"
    assert METRIC.length(1.8) == "180 cm"
    assert US.length(0.42) == "16.5 in"
    assert US.volume(9) == "2.4 gal"  # 9 / 3.785411784 = 2.378
    assert METRIC.volume(9) == "9 L"


def test_a_difference_is_no_temperature() -> None:
    assert US.difference(5) == "9 F degrees"


def test_sentences_are_converted_in_place() -> None:
    text = "Feed 1.2 kg; between 4 and 9 degC, 30 cm deep, in a 9 L bucket, 5 kg/m2."
    assert METRIC.sentence(text) == (
        "Feed 1.2 kg; between 4 and 9 °C, 30 cm deep, in a 9 L bucket, 5 kg/m2.")
    assert US.sentence(text) == (
        "Feed 2.6 lb; between 39 and 48 °F, 12 in deep, in a 2.4 gal bucket, 5 kg/m2.")


def test_words_that_only_look_like_units_stay() -> None:
    text = "Use 3 large buckets; 12 members of 200; 5 mice; 14 days."
    assert US.sentence(text) == text


@given(st.floats(-60, 60), st.sampled_from([METRIC, US]))
def test_no_tenth_of_a_degree_anywhere(temp_c: float, shown: Shown) -> None:
    assert "." not in shown.temp(temp_c)


@given(st.text(max_size=200))
def test_any_text_can_be_a_sentence(text: str) -> None:
    assert isinstance(US.sentence(text), str)


def test_a_limit_is_told_as_it_was_set() -> None:
    assert Shown("metric").limit(1.5) == "1.5 °C"
    assert Shown("metric").limit(4.0) == "4 °C"
    assert Shown("metric").limit(-0.04) == "0 °C"
    assert Shown("us").limit(40 / 9) == "40 °F"
    assert Shown("us").limit(4.0) == "39 °F"
    assert Shown("metric").limit(40 / 9) == "4 °C"
    line = say("Feed alone cannot hold this bed above {limit}.", limit=limit_temp(1.5))
    assert "1.5 °C" in Shown("metric").sentence(line)
    assert "34.7 °F" in Shown("us").sentence(line)
    with speaking("es"):
        assert Shown("metric").limit(1.5) == "1,5 °C"


def test_a_thermostat_is_set_to_what_a_dial_has() -> None:
    line = say("Set the thermostat of the heat mat to {temp}.", temp=setting(6.5))
    assert "6.5 °C" in Shown("metric").sentence(line)
    assert "44 °F" in Shown("us").sentence(line)
    assert "7 °C" in Shown("metric").sentence(say("{temp}", temp=setting(7.0)))
    assert Shown("metric").setting(6.5) == "6.5 °C"
    assert Shown("us").setting(6.5) == "44 °F"
    with speaking("es"):
        assert "6,5 °C" in Shown("metric").sentence(line)
