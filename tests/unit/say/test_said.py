"""Texts that are said again: languages, units, plurals, keeping and reading back."""

from __future__ import annotations

import copy
import datetime as dt
import pickle
from dataclasses import dataclass

import pytest
from pydantic import TypeAdapter, ValidationError

from bedlore.say import (
    Said,
    Words,
    again,
    capital,
    clause,
    common_name,
    figures,
    from_text,
    kelvin,
    listed,
    listener,
    litres,
    mass,
    on_day,
    say,
    say_many,
    sentences,
    speaking,
    temp,
    temps,
    thickness,
    to_text,
)
from bedlore.say.language import count, names, of_environment, spoken


def test_a_sentence_is_said_again_in_another_language_and_other_units() -> None:
    text = say("Take {mass} of worms and {litres} of castings rich in cocoons indoors, fed each"
               " week at about {temp}.", mass=mass(1.5), litres=litres(15.0),
               temp=temp(18.0))  # fmt: skip
    assert text == ("Take 1.5 kg of worms and 15 L of castings rich in cocoons indoors, fed each"
                    " week at about 18 degC.")  # fmt: skip
    with speaking("es", "us"):
        assert again(text) == ("Lleva adentro 3,3 lb de lombrices y 16 qt de humus rico en"
                               " capullos, con comida cada semana a unos 64 degF.")  # fmt: skip
        assert again({"a": [text], "n": 3})["a"][0].startswith("Lleva")
    assert again(text) == text


def test_plurals_go_by_the_rule_of_the_language() -> None:
    def said(days: int) -> str:
        return say_many("In {count} day: {what}", "In {count} days: {what}", days, what="x")

    assert [said(1), said(3)] == ["In 1 day: x", "In 3 days: x"]
    with speaking("es"):
        assert [said(1), said(3)] == ["Dentro de 1 día: x", "Dentro de 3 días: x"]


def test_amounts_in_both_units() -> None:
    # 1 lb = 0.45359237 kg, 1 US qt = 0.946352946 L, 1 in = 0.0254 m (exact, BIPM and NIST).
    said = [temp(-0.4), temps((1.0, 2.0, 3.0)), kelvin(5.0), mass(0.04), mass(0.9072), mass(12.3),
            litres(0.9464), thickness(0.0508)]  # fmt: skip
    assert said == ["0 degC", "between 1 and 3 degC, most likely 2", "5 K", "40 g", "0.9 kg",
                    "12 kg", "0.95 L", "5.1 cm"]  # fmt: skip
    with speaking(units="us"):
        assert again(said) == ["31 degF", "between 34 and 37 degF, most likely 36", "9 degF",
                               "1 oz", "2 lb", "27 lb", "1 qt", "2 in"]  # fmt: skip
    with speaking("es"):
        assert again(mass(1.25)) in ("1,2 kg", "1,3 kg")
        assert figures(3.14159) == "3,1"


def test_little_is_not_told_as_nothing() -> None:
    """Twenty worms weigh 4 g, or 0.14 oz."""
    assert [mass(0.004), mass(0.0095), mass(0.0)] == ["4 g", "10 g", "0 g"]
    with speaking("es", "us"):
        assert [again(mass(0.004)), again(mass(0.0))] == ["0,1 oz", "0 oz"]


def test_large_and_small_amounts_are_written_out() -> None:
    assert [mass(54.4), mass(1234.0), mass(0.004), mass(0.0002), thickness(1.2)] == [
        "54 kg", "1234 kg", "4 g", "0 g", "120 cm"]  # fmt: skip
    with speaking(units="us"):
        # 120 lb, 2720 lb, 0.14 oz, 47 in: never 1.2e+02; from an inch on to a quarter.
        said = [mass(54.4), mass(1234.0), mass(0.004), mass(0.0002), thickness(1.2),
                thickness(0.10), thickness(0.032), thickness(0.01)]  # fmt: skip
        assert said == ["120 lb", "2700 lb", "0.1 oz", "0 oz", "47.2 in", "4 in", "1.25 in",
                        "0.39 in"]  # fmt: skip


def test_below_nought_has_a_true_minus_in_both_units() -> None:
    cold = [temp(-20.0), temps((-20.0, -5.0, 1.0))]
    assert cold == ["−20 degC", "between −20 and 1 degC, most likely −5"]
    with speaking(units="us"):
        assert again(cold) == ["−4 degF", "between −4 and 34 degF, most likely 23"]


def test_days_and_lists() -> None:
    day = on_day(dt.date(2026, 9, 3))
    assert [day, listed([]), listed(["a"]), listed(["a", "b", "c"])] == [
        "3 Sep", "", "a", "a, b and c"]
    assert [capital("ábc"), clause("Stop."), sentences("A.", "", "B.", "A.")] == [
        "Ábc", "Stop", "A. B."]
    assert common_name("Corrugated cardboard, shredded") == "corrugated cardboard"
    with speaking("es"):
        # Names by the Unicode CLDR; short months of Spanish are small (RAE).
        assert again([day, listed(["a", "b"])]) == ["3 sept", "a y b"]
        assert names("es").days[0] == "lunes"
        assert count(12345) == "12.345"
        assert again(common_name("Corrugated cardboard, shredded")) == "cartón ondulado"


@dataclass(frozen=True)
class Record:
    one: Words
    more: tuple[Words, ...] = ()


def test_a_record_keeps_how_it_was_said() -> None:
    adapter = TypeAdapter(Record)
    record = Record(say("Nothing today."), (say("below {temp}", temp=temp(4.0)), "as typed"))
    body = adapter.dump_json(record)
    assert adapter.validate_json(body) == record
    with speaking("es"):
        read = adapter.validate_json(body)
    assert (read.one, *read.more) == ("Hoy nada.", "por debajo de 4 degC", "as typed")
    assert adapter.dump_json(read) == body, "what is kept does not depend on who read it"


def test_plain_text_columns_keep_it_too() -> None:
    text = sentences(say("Nothing today."), say("Waiting costs little."))
    kept = to_text(text)
    with speaking("es"):
        assert from_text(kept) == "Hoy nada. Esperar cuesta poco."
    assert from_text(to_text("as it was: {odd}")) == "as it was: {odd}"
    assert from_text("{not json") == "{not json"


@pytest.mark.parametrize(
    "kept",
    [{}, {"nonsense": 1}, {"say": 3}, {"say": "x", "with": 3}, {"day": "no day"}, {"mass_kg": "x"},
     {"sentences": 7}, {"say": "a", "many": "b", "with": {}}, [], 5, None],
)  # fmt: skip
def test_what_cannot_be_said_is_refused_and_never_breaks_a_page(kept: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(Record).validate_python({"one": kept})


def test_a_kept_text_cannot_reach_into_the_program() -> None:
    hostile = {"say": "{x.__class__} {x:>999999999}", "with": {"x": "y"}}
    assert Said(hostile) == "{x.__class__} {x:>999999999}"
    assert Said({"say": "{x} {unknown}", "with": {"x": "y"}}) == "y {unknown}"
    deep: dict[str, object] = {"say": "end"}
    for _ in range(3000):
        deep = {"capital": deep}
    with pytest.raises(ValidationError):
        TypeAdapter(Record).validate_python({"one": deep})


def test_copies_are_texts_that_can_be_said_again() -> None:
    text = say("below {temp}", temp=temp(4.0))
    for twin in (copy.deepcopy(text), pickle.loads(pickle.dumps(text))):
        assert isinstance(twin, Said)
        assert (twin, twin.kept) == (text, text.kept)


def test_who_listens() -> None:
    assert listener().language == "en"
    with speaking("es-MX", "us"):
        assert (listener().language, listener().units) == ("es", "us")
        with speaking("xx", "cubits"):
            assert (listener().language, listener().units) == ("es", "us")
    assert (listener().language, listener().units) == ("en", "metric")
    assert [spoken(tag) for tag in ("ES_es.UTF-8", "en-GB", "C", "", "est")] == [
        "es", "en", "", "", ""]
    assert of_environment({"LANG": "en_GB.UTF-8", "LC_ALL": "es_ES"}) == "es"
    assert of_environment({"LANGUAGE": "es:en", "LANG": "en"}) == "es"
    assert of_environment({}) == ""
