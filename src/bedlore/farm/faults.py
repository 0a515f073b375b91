"""What a record refuses, said in plain sentences with the path the keeper can find."""

from __future__ import annotations

from collections.abc import Sequence
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from bedlore.errors import Fault
from bedlore.farm.fields import Record, key_names
from bedlore.farm.materials import nearest
from bedlore.say import message, say

Path = tuple[str | int, ...]

_EXAMPLES = {
    "started": "started = 2024-09-01",
    "length_m": 'length = "1.8 m"',
    "width_m": 'width = "75 cm"',
    "depth_m": 'depth = "42 cm"',
    "thickness_m": 'thickness = "25 mm"',
    "latitude_deg": "latitude = 46.0",
    "daily_low_c": message("twelve values, January first"),
    "daily_high_c": message("twelve values, January first"),
    "id": 'id = "north"',
    "name": 'name = "North garden"',
    "material": 'material = "straw"',
    "watts": 'watts = "40 W"',
    "setpoint_c": 'setpoint = "12 degC"',
    "temp_c": '"12.5 degC"',
    "mass_kg": '"2 kg"',
    "at": '"2025-01-11 07:30"',
}


def faults_of(
    error: ValidationError, raw: object, record: type[BaseModel], prefix: str = ""
) -> list[Fault]:
    """The faults in ``error``, raised when ``record`` was made from ``raw``.

    List positions in paths are replaced by the ids or names written there (``beds.sluice.width``
    rather than ``beds.0.width``); ``prefix`` goes in front of every path.
    """
    found: list[tuple[Path, str]] = []
    details = error.errors(include_url=False)
    for detail in details:
        path: Path = detail["loc"]
        if _follows_from_others(detail, details) or _was_filled_in(path, raw):
            continue
        context: dict[str, Any] = detail.get("ctx", {})
        if detail["type"] == "keeper_many":
            found.extend((path + tuple(below), text) for below, text in context["faults"])
        else:
            found.append((path, _sentence(detail, context, record)))
    unique = dict.fromkeys(Fault(_spelled(path, raw, prefix), text) for path, text in found)
    return list(unique)


def _follows_from_others(detail: Any, details: Sequence[Any]) -> bool:
    """Whether a list is "too short" only because its items were refused."""
    path = detail["loc"]
    return detail["type"] == "too_short" and any(
        other["loc"][: len(path)] == path and len(other["loc"]) > len(path) for other in details
    )


def _was_filled_in(path: Path, raw: object) -> bool:
    """Whether what is at ``path`` was copied from elsewhere, where the same fault is found."""
    here: Any = raw
    for step in path[:-1]:
        if isinstance(here, dict) and isinstance(step, str) and step not in here:
            return True
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return False
    return False


def _sentence(detail: Any, context: dict[str, Any], record: type[BaseModel]) -> str:
    kind, value = detail["type"], detail.get("input")
    field = str(detail["loc"][-1]) if detail["loc"] else ""
    shown = repr(value)[:60]
    if kind == "keeper":
        sentence: str = context["sentence"]  # as it was said, so that it can be said again
        return sentence
    if kind == "missing":
        example = _EXAMPLES.get(field)
        if not example:
            return say("This is missing. Add it.")
        return say("This is missing. Write it like: {example}.", example=say(example))
    if kind == "extra_forbidden":
        return _unknown_key(field, detail["loc"], record)
    if kind in ("literal_error", "union_tag_invalid"):
        return _not_a_choice(value, field, context)
    if kind == "too_short":
        return say("This is empty. Describe at least one.")
    if kind in ("too_long", "string_too_long"):
        return say("This is too many. At most {value} are allowed.",
                   value=str(context.get("max_length")))
    if kind == "string_too_short":
        return say("This is empty. Write a word or two.")
    if kind.startswith("bool"):
        return say("{shown} is not understood. Write true or false.", shown=shown)
    if kind.startswith("int"):
        return say("{shown} is not a whole number.", shown=shown)
    if kind.startswith("float"):
        return say("{value} is not a number.", value=shown)
    if kind == "greater_than_equal":
        return say("{shown} is less than {value}, which cannot be.", shown=shown,
                   value=str(context.get("ge")))
    if kind == "less_than_equal":
        return say("{shown} is more than {value}, which cannot be right.", shown=shown,
                   value=str(context.get("le")))
    if kind == "string_type":
        return say("{shown} should be a text. Write it in quotes.", shown=shown)
    if kind in ("tuple_type", "list_type"):
        return say("{shown} should be a list. Put it in [ ].", shown=shown)
    if kind.startswith(("model", "dict", "dataclass")):
        return say("{shown} should be a table of keys and values.", shown=shown)
    if kind.startswith("date"):
        return say("{shown} is not a date and time that is understood.", shown=shown)
    return say("{shown} is not understood: {value}.", shown=shown,
               value=str(detail["msg"]).rstrip("."))


def _unknown_key(field: str, path: Path, record: type[BaseModel]) -> str:
    holder = _record_at(record, path[:-1])
    near = nearest(field, key_names(holder)) if holder is not None else ""
    hint = say(' Did you mean "{near}"?', near=near) if near else ""
    return say("{field} is not a key that is known here.{hint}", field=repr(field[:60]),
               hint=hint)


def _not_a_choice(value: object, field: str, context: dict[str, Any]) -> str:
    choices = context.get("expected") or context.get("expected_tags") or ""
    words = [word.strip(" '") for word in str(choices).replace(" or ", ", ").split(",")]
    value = context.get("tag", value)
    near = nearest(str(value), words)
    hint = say(' Did you mean "{near}"?', near=near) if near else ""
    if field == "format":
        return say("Format {value} is not known to this version, which reads format 1.",
                   value=str(value)[:20])
    return say("{value} is none of: {words}.{hint}", value=repr(str(value)[:40]),
               words=", ".join(words), hint=hint)


def _record_at(record: Any, path: Path) -> type[BaseModel] | None:
    """The record type that ``path`` leads to from ``record``."""
    current: Any = record
    for step in path:
        if isinstance(step, int):
            continue
        if not (isinstance(current, type) and issubclass(current, BaseModel)):
            return None
        info = current.model_fields.get(step)
        if info is None:
            return None
        current = _inner_record(info.annotation)
    return current if isinstance(current, type) and issubclass(current, Record) else None


def _inner_record(annotation: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (tuple, Union, UnionType):
        for inner in get_args(annotation):
            found = _inner_record(inner)
            if found is not None:
                return found
    return None


def _spelled(path: Path, raw: object, prefix: str) -> str:
    words = [prefix] if prefix else []
    here: Any = raw
    for step in path:
        if isinstance(step, int):
            here = here[step] if isinstance(here, (list, tuple)) and step < len(here) else None
            label = _label(here)
            if label is None and words:
                words[-1] += f"[{step + 1}]"
            else:
                words.append(label or f"[{step + 1}]")
        else:
            here = here.get(step) if isinstance(here, dict) else None
            words.append(str(step)[:60])
    return ".".join(words)


def _label(item: Any) -> str | None:
    if not isinstance(item, dict):
        return None
    for key in ("id", "name", "material"):
        value = item.get(key)
        if isinstance(value, (str, int)) and str(value).strip():
            return " ".join(str(value).split())[:60]
    return None
