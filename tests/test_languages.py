"""The catalogues: complete, current, with the same placeholders; and the code that asks them."""

from __future__ import annotations

import ast
import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo

from bedlore.decide.words import odds_short, odds_words
from bedlore.say import LANGUAGES, again, speaking
from bedlore.say.language import SOURCE
from tools import catalogues

SRC = Path(__file__).parents[1] / "src" / "bedlore"
TRANSLATED = [name for name in LANGUAGES if name != SOURCE]
_HOLES = re.compile(r"\{\w+\}|%\(\w+\)[.\d]*[a-z]|%[sd]")


@pytest.fixture(scope="module")
def template() -> Catalog:
    return catalogues.extracted()


def holes(text: str) -> list[str]:
    return sorted(_HOLES.findall(text))


def test_each_language_has_a_catalogue() -> None:
    assert catalogues.languages() == sorted(TRANSLATED)


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_message_is_translated_and_none_is_stale(language: str, template: Catalog) -> None:
    stored = catalogues.read(language)
    said = {message.id for message in template if message.id}
    kept = {message.id for message in stored if message.id}
    assert not said - kept, "run python -m tools.catalogues, then translate"
    assert not kept - said, "run python -m tools.catalogues"
    assert catalogues.missing(stored) == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_both_languages_have_the_same_holes_and_the_same_edges(language: str) -> None:
    for message in catalogues.read(language):
        if not message.id:
            continue
        plural = isinstance(message.id, tuple)
        for text in message.string if plural else [message.string]:
            asked = holes(message.id[1] if plural else message.id)
            # One of something may be said without its number.
            assert holes(text) in ([asked, holes(message.id[0])] if plural else [asked]), text
            english = message.id[0] if plural else message.id
            assert text[:1].isspace() == english[:1].isspace(), text
            assert text[-1:].isspace() == english[-1:].isspace(), text
            assert text.endswith(".") == english.endswith("."), text


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_compiled_catalogue_is_current(language: str) -> None:
    compiled = io.BytesIO()
    write_mo(compiled, catalogues.read(language))
    path = (catalogues.LOCALE / language / catalogues.PO).with_suffix(".mo")
    assert path.read_bytes() == compiled.getvalue(), "run python -m tools.catalogues"


def sayings() -> Iterator[tuple[str, set[str], set[str]]]:
    """(where, names in the message, names given) of every say() with its message in place."""
    for path in SRC.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0]
            if name not in ("say", "say_many") or not isinstance(first, ast.Constant):
                continue
            given = {keyword.arg or "**" for keyword in node.keywords}
            named = set(re.findall(r"\{(\w+)\}", first.value))
            if name == "say_many":
                given.add("count")
                named |= {"count"} | set(re.findall(r"\{(\w+)\}", ast.literal_eval(node.args[1])))
            yield f"{path.name}:{node.lineno}", named, given


def test_every_saying_gets_what_it_names() -> None:
    found = list(sayings())
    assert len(found) > 400
    wrong = [(where, named ^ given) for where, named, given in found
             if "**" not in given and named != given]  # fmt: skip
    assert wrong == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_odds_keep_their_order_and_their_numbers(language: str) -> None:
    """Each band of odds has one word, no two bands share one, and the figures are the same."""
    shares = (0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 1.0)
    english = [odds_words(p, 200) for p in shares]
    short = [odds_short(p, 200) for p in shares]
    with speaking(language):
        there, briefly = again(english), again(short)
    for ours, theirs in zip([*english, *short], [*there, *briefly], strict=True):
        assert re.findall(r"\d+", ours) == re.findall(r"\d+", theirs)
        assert ours != theirs
    words = [text.partition(":")[0] for text in english]
    other = [text.partition(":")[0] for text in there]
    assert len(set(other)) == len(set(words))
    assert [words.index(word) for word in words] == [other.index(word) for word in other]
    assert not any(re.search(r"\bsegur", text) for text in there), "never say that it is safe"
