"""Names of materials as the keeper writes them, turned into the ids of the fact tables."""

from __future__ import annotations

import difflib
import re
from functools import lru_cache
from typing import Annotated

from pydantic import BeforeValidator

from bedlore.facts import building, feedstocks
from bedlore.farm.fields import Wrong, keeper_error
from bedlore.say import say


def nearest(word: str, known: list[str] | tuple[str, ...]) -> str:
    """The known word most like ``word``, or an empty text when none is near."""
    found = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return found[0] if found else ""


@lru_cache(maxsize=8192)
def plain_name(name: str) -> str:
    """``name`` for comparing: small letters, single blanks, no - or _."""
    return re.sub(r"[\s_-]+", " ", name).strip().lower()


@lru_cache(maxsize=1)
def feedstock_names() -> dict[str, str]:
    """Every name a feedstock or bedding may be called by -> its id."""
    return {plain_name(name): id_ for name, id_ in feedstocks.names().items()}


@lru_cache(maxsize=1)
def construction_names() -> dict[str, str]:
    """Every name a construction material may be called by -> its id."""
    return {plain_name(name): id_ for name, id_ in building.names().items()}


def find_feedstock(name: str) -> str | None:
    """The id of the feedstock or bedding called ``name``, or None."""
    return feedstock_names().get(plain_name(name))


def find_construction(name: str) -> str | None:
    """The id of the construction material called ``name``, or None."""
    return construction_names().get(plain_name(name))


def unknown_material(name: str, names: dict[str, str], what: str) -> str:
    """The sentence for a material that is in none of the tables."""
    near = nearest(plain_name(name), tuple(names))
    hint = say(' Did you mean "{near}"?', near=near) if near else ""
    return say("{name} is not a {what} that is known.{hint}", name=repr(name[:60]), what=what,
               hint=hint)


def _feedstock(value: object) -> object:
    if isinstance(value, Wrong):
        raise keeper_error(value.sentence)
    if not isinstance(value, str):
        return value
    found = find_feedstock(value)
    if found is None:
        raise keeper_error(unknown_material(value, feedstock_names(), say("feed or bedding")))
    return found


def _construction(value: object) -> object:
    if not isinstance(value, str):
        return value
    found = find_construction(value)
    if found is None:
        what = say("building material")
        raise keeper_error(unknown_material(value, construction_names(), what))
    return found


def _cover(value: object) -> object:
    if not isinstance(value, str):
        return value
    found = find_construction(value) or find_feedstock(value)
    if found is None:
        names = {**feedstock_names(), **construction_names()}
        raise keeper_error(unknown_material(value, names, say("cover material")))
    return found


Feedstock = Annotated[str, BeforeValidator(_feedstock)]
Construction = Annotated[str, BeforeValidator(_construction)]
CoverMaterial = Annotated[str, BeforeValidator(_cover)]
