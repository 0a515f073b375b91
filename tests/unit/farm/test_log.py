"""Log entries: range checks in words, and corrections that lose nothing."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from pydantic import ValidationError

from bedlore.farm.log import ENTRY, ENTRY_KINDS, AnyEntry, current_entries

AT = "2025-01-11T07:30:00+01:00"
GOOD: dict[str, dict] = {
    "feed": {"parts": [{"material": "bread", "mass": "2 lb"}]},
    "bedding": {"parts": [{"material": "straw", "mass_kg": 1}]},
    "water": {"mass_kg": 2},
    "cover": {"state": "off"},
    "probe": {"temp": "50 degF", "depth": "4 in", "device": "long probe"},
    "squeeze": {"word": "Damp"},
    "look": {"food_left": "some"},
    "core": {"volume_l": 0.5, "adults": 12},
    "harvest": {"share": 0.5},
    "move": {"zone": "a", "to_zone": "b", "share": "50 %"},
    "sighting": {"what": "worms on lid", "count": 20},
    "stock": {"worms": "1 kg"},
    "switch": {"side": "bank"},
    "mat": {"state": "on"},
    "note": {"note": "hello"},
    "void": {"amends": "other"},
    "air": {"low": "28 degF", "high": "50 degF"},
    "depth": {"depth": "10 in"},
    "moisture": {"wet": "100 g", "dry": "27 g"},
    "dig": {"found": "No", "depth_m": 0.2},
}


def entry(kind: str, id_: str = "x", amends: str | None = None, **more: object) -> AnyEntry:
    raw = {"kind": kind, "id": id_, "at": AT, "bed": "sluice", **GOOD[kind], **more}
    return ENTRY.validate_python({**raw, "amends": amends or raw.get("amends")})


def test_every_kind_has_an_example_here() -> None:
    assert set(GOOD) == set(ENTRY_KINDS)


@pytest.mark.parametrize("kind", sorted(GOOD))
def test_records_are_frozen_and_utc(kind: str) -> None:
    made = entry(kind)
    assert made.at == dt.datetime(2025, 1, 11, 6, 30, tzinfo=dt.UTC)
    assert made.at.utcoffset() == dt.timedelta(0)
    with pytest.raises(ValidationError):
        made.bed = "other"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("kind", "wrong", "words"),
    [
        ("probe", {"temp": "400 degC"}, "400 degC.*90 degC"),
        ("probe", {"temp": "752 degF"}, "read as 400 degC"),
        ("feed", {"parts": []}, "at least 1"),
        ("feed", {"parts": [{"material": "bread", "mass_kg": -1}]}, "less than the lowest"),
        ("feed", {"parts": [{"material": "gravel", "mass_kg": 1}]}, "not a feed or bedding"),
        ("squeeze", {"word": "soggy"}, "crumbly"),
        ("look", {"food_left": None}, "how much food"),
        ("core", {"adults": None}, "counted"),
        ("core", {"adults": -3}, "greater than or equal"),
        ("harvest", {"share": None}, "how much was taken"),
        ("harvest", {"share": 1.5}, "150 %"),
        ("move", {"to_zone": None}, "from which zone"),
        ("move", {"share": None}, "how many worms"),
        ("move", {"order": ["a", "a"]}, "twice"),
        ("cover", {"state": None}, "what changed"),
        ("void", {"amends": "x"}, "itself"),
        ("air", {"low": None, "high": None}, "how warm the air is"),
        ("air", {"low": "12 degC", "high": "3 degC"}, "other way round"),
        ("moisture", {"dry": None}, "how much water"),
        ("moisture", {"dry": "200 g"}, "weighs less"),
        ("dig", {"found": "maybe"}, "yes"),
        ("note", {"at": "2025-01-11T07:30:00"}, "time zone"),
        ("note", {"at": "1066-01-11T07:30:00Z"}, "Check the year"),
        ("note", {"nope": 1}, "not permitted"),
    ],
)
def test_what_cannot_be_is_refused(kind: str, wrong: dict, words: str) -> None:
    raw = {"kind": kind, "id": "x", "at": AT, "bed": "sluice", **GOOD[kind], **wrong}
    with pytest.raises(ValidationError, match=words):
        ENTRY.validate_python(raw)


def ids(entries: list[AnyEntry]) -> list[str]:
    return [held.id for held in current_entries(entries)]


def test_a_correction_replaces_what_it_amends() -> None:
    first, second, third = entry("probe", "a"), entry("probe", "b", "a"), entry("probe", "c", "b")
    assert ids([first, second]) == ["b"]
    assert ids([first, second, third]) == ["c"]


def test_a_void_takes_back_and_may_be_taken_back() -> None:
    first, void, undo = entry("feed", "a"), entry("void", "v", "a"), entry("void", "w", "v")
    assert ids([first, void]) == []
    assert ids([first, void, undo]) == ["a"]
    correction = entry("feed", "b", "a")
    assert ids([first, correction, entry("void", "v", "b")]) == ["a"]


def test_of_two_corrections_the_greater_id_holds_in_any_order() -> None:
    story = [entry("feed", "a"), entry("feed", "b", "a"), entry("feed", "c", "a"),
             entry("void", "v", "c"), entry("note", "n")]
    seen = {tuple(sorted(ids(list(order)))) for order in itertools.permutations(story)}
    assert seen == {("b", "n")}


def test_a_correction_of_nothing_stands_by_itself() -> None:
    assert ids([entry("feed", "b", "gone")]) == ["b"]


def test_entries_that_amend_each_other_do_not_hang() -> None:
    assert ids([entry("void", "a", "b"), entry("void", "b", "a")]) == []
