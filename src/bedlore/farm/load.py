"""The farm file: TOML to :class:`~bedlore.farm.model.Farm` and back, every fault at once."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

import tomli_w
from pydantic import BaseModel, ValidationError

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.bed import Bed, zone_faults_of_raw
from bedlore.farm.faults import faults_of
from bedlore.farm.model import Container, Farm, StoreItem, farm_faults
from bedlore.farm.site import Site
from bedlore.say import say

MAX_FARM_BYTES = 20_000_000

_R = TypeVar("_R", bound=BaseModel)


def load_farm(path: Path | str) -> Farm:
    """The farm described in the TOML file ``path``.

    Raises :class:`KeeperError` when the file cannot be read or is not TOML, and
    :class:`FaultList` with every fault when its contents cannot be right.
    """
    path = Path(path)
    return parse_farm(_read_text(path), path.name)


def parse_farm(text: str, where: str = "farm.toml") -> Farm:
    """The farm described by the TOML ``text``; ``where`` names it in messages. Raises as
    :func:`load_farm`."""
    if not text.strip():
        raise KeeperError(say("The file is empty."), where,
                          say("Describe the site and at least one bed."))  # fmt: skip
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise KeeperError(say("Its lists are nested too deeply."), where) from None
    except (ValueError, OverflowError) as problem:  # TOMLDecodeError is a ValueError
        raise KeeperError(
            say("This is not proper TOML: {problem}.", problem=str(problem)[:200]), where,
            say("Look at that line for a missing quote, bracket or equals sign."),
        ) from None
    return farm_of(raw)


def farm_of(raw: dict[str, Any]) -> Farm:
    """The farm described by ``raw`` (the parsed TOML); raises :class:`FaultList`."""
    try:
        return Farm.model_validate(raw)
    except ValidationError as problem:
        faults = faults_of(problem, raw, Farm)
        raise FaultList(dict.fromkeys([*faults, *_faults_behind(raw)])) from None


def dump_farm(farm: Farm) -> str:
    """``farm`` as TOML that :func:`parse_farm` reads back to an equal farm."""
    return tomli_w.dumps(farm.model_dump(exclude_none=True))


def _read_text(path: Path) -> str:
    where = path.name or str(path)
    try:
        if path.is_dir():
            raise KeeperError(say("This is a folder, not a farm file."), where,
                              say("Name the file in it."))  # fmt: skip
        if not path.exists():
            raise KeeperError(say("There is no such file."), where)
        if path.stat().st_size > MAX_FARM_BYTES:
            raise KeeperError(
                say("The file is larger than {max_farm_bytes} MB, which no farm file is.",
                    max_farm_bytes=MAX_FARM_BYTES // 1000000),
                where, say("Check that it is the right one."),
            )
        data = path.read_bytes()
    except (OSError, ValueError) as problem:
        raise KeeperError(say("The file cannot be read ({problem}).", problem=str(problem)),
                          where) from None  # fmt: skip
    return decode(data, where)


def decode(data: bytes, where: str) -> str:
    """``data`` as text; raises a :class:`KeeperError` that says what the file was saved as."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise KeeperError(say("The file is saved as UTF-16."), where,
                          say("Save it again as UTF-8."))  # fmt: skip
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise KeeperError(
            say("Line {line} holds bytes that are not UTF-8 text.", line=line), where,
            say("Save the file as UTF-8."),
        ) from None


def _faults_behind(raw: dict[str, Any]) -> list[Fault]:
    """Faults between parts that are right by themselves, though other parts are wrong."""
    beds, bed_faults = [], []
    for item in _items(raw, "beds"):
        bed = _made(Bed, {"place": "outdoors", **item})
        if bed is not None:
            beds.append(bed)
            continue
        name = str(item.get("id") or item.get("name") or "?")[:60]
        bed_faults += [(("beds", name, *path), text) for path, text in zone_faults_of_raw(item)]
    containers = [made for item in _items(raw, "containers") if (made := _made(Container, item))]
    store = [found for item in _items(raw, "store") if (found := _made(StoreItem, item))]
    site = _made(Site, raw.get("site"))
    kind = site.building.kind if site is not None else None
    faults = [*bed_faults, *farm_faults(beds, containers, store, kind)]
    return [Fault(".".join(str(step) for step in path), text) for path, text in faults]


def _items(raw: dict[str, Any], key: str) -> list[dict[str, Any]]:
    value = raw.get(key)
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []


def _made(record: type[_R], raw: Any) -> _R | None:
    try:
        return record.model_validate(raw)
    except ValidationError:
        return None
