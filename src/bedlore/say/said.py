"""Texts that remember how they were made: message id and values, said again for each reader."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any

from bedlore.say.language import catalogue, decimal, listener, names

# A text as it is kept: a plain one, or {what kind: of what, ...}, ready for JSON.
Kept = str | dict[str, Any]
Value = str | int | float
_NAME = re.compile(r"\{(\w+)\}")
_WAYS: dict[str, Callable[[Mapping[str, Any]], str]] = {}


class Said(str):
    """Text as whoever listened read it when it was made, with how it was made in ``kept``."""

    kept: dict[str, Any]

    def __new__(cls, kept: dict[str, Any]) -> Said:
        """The text that ``kept`` means to whoever listens now."""
        made = super().__new__(cls, _text(kept))
        made.kept = kept
        return made

    def __getnewargs__(self) -> tuple[Any]:
        """What a copy or a pickle is made of."""
        return (self.kept,)


def way(kind: str) -> Callable[[Callable[[Mapping[str, Any]], str]], Any]:
    """Registers how a kept text of ``kind`` is said."""

    def known(speak: Callable[[Mapping[str, Any]], str]) -> Callable[[Mapping[str, Any]], str]:
        _WAYS[kind] = speak
        return speak

    return known


def _text(kept: Any) -> str:
    if isinstance(kept, Mapping):
        return _WAYS[next(iter(kept))](kept)
    return decimal(f"{kept:g}") if isinstance(kept, float) else str(kept)


def _kept(value: Any) -> Any:
    return value.kept if isinstance(value, Said) else value


# --- Sentences ---------------------------------------------------------------------------------


def message(text: str) -> str:
    """Marks ``text`` as a message of the catalogue; it is said elsewhere."""
    return text


def say(message_id: str, /, **values: Value) -> Said:
    """``message_id`` with its ``{names}`` filled in. It is the message id: a literal, or one that
    :func:`message` marks where it stands."""
    return Said({"say": message_id, **_with(values)})


def say_many(one: str, many: str, count: int, /, **values: Value) -> Said:
    """``one`` or ``many`` by the plural rule of the language; ``{count}`` is filled in too."""
    return Said({"say": one, "many": many, **_with({"count": count, **values})})


def _with(values: Mapping[str, Value]) -> dict[str, Any]:
    return {"with": {name: _kept(value) for name, value in values.items()}} if values else {}


@way("say")
def _message(kept: Mapping[str, Any]) -> str:
    messages, values = catalogue(listener().language), kept.get("with", {})
    one, many = kept["say"], kept.get("many", "")
    if not (isinstance(one, str) and isinstance(many, str) and isinstance(values, Mapping)):
        raise TypeError("a message is a text, its values are named")
    if many:
        found = messages.ngettext(one, many, values["count"])
    else:
        found = messages.gettext(one) if one else ""
    return filled(found, values) if values else found


def filled(pattern: str, values: Mapping[str, Any]) -> str:
    """``pattern`` with its ``{names}`` replaced. No format specification, no attribute: what is
    kept may come out of somebody's archive."""
    return _NAME.sub(lambda found: _text(values.get(found[1], found[0])), pattern)


# --- Made of other texts -----------------------------------------------------------------------


def capital(text: str) -> Said:
    """``text`` with a capital first; the rest as it is."""
    return Said({"capital": _kept(text)})


@way("capital")
def _capital(kept: Mapping[str, Any]) -> str:
    text = _text(kept["capital"])
    return text[:1].upper() + text[1:]


def clause(sentence: str) -> Said:
    """``sentence`` without its full stop, to stand within another."""
    return Said({"clause": _kept(sentence)})


@way("clause")
def _clause(kept: Mapping[str, Any]) -> str:
    return _text(kept["clause"]).rstrip(".")


def sentences(*texts: str) -> Said:
    """Whole sentences one after the other, each once; empty ones are left out."""
    return Said({"sentences": [_kept(text) for text in dict.fromkeys(texts) if text]})


@way("sentences")
def _sentences(kept: Mapping[str, Any]) -> str:
    return " ".join(_text(one) for one in kept["sentences"])


def listed(texts: Sequence[str]) -> Said:
    """``a, b and c``."""
    return Said({"listed": [_kept(text) for text in texts]})


@way("listed")
def _listed(kept: Mapping[str, Any]) -> str:
    texts = [_text(one) for one in kept["listed"]]
    if len(texts) < 2:
        return "".join(texts)
    gettext = catalogue(listener().language).gettext
    pattern = gettext("{some} and {last}")
    return filled(pattern, {"some": ", ".join(texts[:-1]), "last": texts[-1]})


def joined(texts: Sequence[str], between: str = ", ") -> Said:
    """``a, b, c``."""
    return Said({"joined": [_kept(text) for text in texts], "between": between})


@way("joined")
def _joined(kept: Mapping[str, Any]) -> str:
    return str(kept["between"]).join(_text(one) for one in kept["joined"])


def common_name(name: str) -> Said:
    """The name of a material in a sentence: "Corrugated card, shredded" is "corrugated card"."""
    return Said({"common_name": name})


@way("common_name")
def _common_name(kept: Mapping[str, Any]) -> str:
    name = kept["common_name"]
    text = catalogue(listener().language).gettext(name) if name else ""
    text = text.split(",")[0].split(" (")[0]
    return text[:1].lower() + text[1:]


def on_day(day: dt.date) -> Said:
    """``28 Feb``."""
    return Said({"day": f"{day:%Y-%m-%d}"})


@way("day")
def _day(kept: Mapping[str, Any]) -> str:
    day, known = dt.date.fromisoformat(kept["day"]), names(listener().language)
    gettext = catalogue(listener().language).gettext
    pattern = gettext("{day} {short_month}")
    return filled(pattern, {"day": day.day, "short_month": known.short_months[day.month - 1]})


# --- Said again, kept and read back ------------------------------------------------------------


def again(found: Any) -> Any:
    """``found`` with every :class:`Said` in it said to whoever listens now."""
    return _with_each(found, lambda said: Said(said.kept))


def plain(found: Any) -> Any:
    """``found`` with every :class:`Said` in it as the plain text that it is to its reader."""
    return _with_each(found, str.__str__)


def _with_each(found: Any, change: Callable[[Said], str]) -> Any:
    """Dictionaries, lists and tuples are made anew; all but texts that were said stays as it is."""
    if isinstance(found, Said):
        return change(found)
    if isinstance(found, dict):
        return {key: _with_each(value, change) for key, value in found.items()}
    if type(found) in (list, tuple):
        return type(found)(_with_each(value, change) for value in found)
    return found


def to_text(text: str) -> str:
    """``text`` for a column or file of plain text; :func:`from_text` reads it."""
    return json.dumps(text.kept, ensure_ascii=False) if isinstance(text, Said) else text


def from_text(text: str) -> str:
    """What :func:`to_text` wrote; a plain text, such as one of an older version, is itself."""
    if not text.startswith("{"):
        return text
    try:
        return read_back(json.loads(text))
    except (ValueError, RecursionError):
        return text


def read_back(kept: Any) -> str:
    """The text that was kept; raises ValueError when it is nothing that can be said."""
    if isinstance(kept, str):
        return kept
    try:
        return Said(dict(kept))
    except _NOT_KEPT as problem:
        raise ValueError("not a text that was kept") from problem


_NOT_KEPT = (LookupError, TypeError, ValueError, AttributeError, StopIteration, RecursionError)


class _AsSaid:
    """How pydantic reads and writes a text of a record."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema  # not before a record is made of it

        as_kept = core_schema.plain_serializer_function_ser_schema(_kept)
        return core_schema.no_info_plain_validator_function(read_back, serialization=as_kept)


# A text of a record: JSON keeps how it was said, so that it can be said again.
Words = Annotated[str, _AsSaid()]
