"""Shapes of what the API takes and gives, drawn from the frozen records."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from ninja import Schema
from pydantic import ConfigDict, Field, WithJsonSchema

from bedlore.farm.log import ENTRY_KINDS
from bedlore.farm.model import Farm

ID = Field(default="", max_length=80, pattern=r"^([a-z0-9][a-z0-9_.:+-]{0,79})?$")


def inlined(schema: dict[str, Any]) -> dict[str, Any]:
    """``schema`` with its definitions put where they are referred to."""
    definitions = schema.pop("$defs", {})

    def walk(node: Any) -> Any:
        if isinstance(node, list):
            return [walk(item) for item in node]
        if not isinstance(node, dict):
            return node
        if "$ref" in node:
            return walk(definitions[node["$ref"].rsplit("/", 1)[1]])
        return {key: walk(value) for key, value in node.items()}

    return walk(schema)  # type: ignore[no-any-return]


def entry_schema() -> dict[str, Any]:
    """One object schema a kind of entry, as the log format writes them."""
    kinds = []
    for record in ENTRY_KINDS.values():
        shape = inlined(record.model_json_schema())
        shape["properties"]["kind"]["enum"] = [shape["properties"]["kind"].pop("const")]
        if "parts" in shape["properties"]:
            part = shape["properties"]["parts"]["items"]["properties"]
            part["amount"] = {"type": "string", "description": "as said: half a bucket"}
            part.pop("words", None)
        shape["required"] = sorted({*shape.get("required", ()), "kind"})
        kinds.append(shape)
    return {"oneOf": kinds, "title": "Entry"}


EntryOut = Annotated[dict[str, Any], WithJsonSchema(entry_schema())]
# What is sent may be said the keeper's way (units, names, amounts in words), so any keys pass
# and are explained one by one when they cannot be understood.
EntryIn = Annotated[dict[str, Any], WithJsonSchema({
    "type": "object", "title": "EntryToWrite", "additionalProperties": True,
    "properties": {"kind": {"type": "string", "enum": list(ENTRY_KINDS)},
                   "at": {"type": "string"}, "bed": {"type": "string"}},
    "required": ["kind", "at"],
    "description": "An entry as in a JSON Lines log; see docs/formats/log.md.",
})]  # fmt: skip
FarmShape = Annotated[dict[str, Any], WithJsonSchema(inlined(Farm.model_json_schema()))]
Telling = Annotated[dict[str, Any], WithJsonSchema({
    "type": "object", "additionalProperties": True,
    "description": "Field names as in docs/nomenclature.md.",
})]  # fmt: skip


class Strict(Schema):
    """What is sent: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid")


class FaultShape(Schema):
    """One thing that is wrong, and where."""

    path: str
    sentence: str


class Problem(Schema):
    """Why nothing was done."""

    problem: str
    faults: list[FaultShape] = []


class FarmLine(Schema):
    """A farm one belongs to."""

    farm: str
    name: str
    role: str
    version: int


class FarmOut(FarmLine):
    """A farm with its description."""

    description: FarmShape


class FarmIn(Strict):
    """A new description. ``version`` is the one it was made from (0 for a new farm)."""

    description: Annotated[dict[str, Any], WithJsonSchema({"type": "object"})]
    version: int = Field(default=0, ge=0, le=2**31 - 1)


class Me(Schema):
    """Who is asking."""

    name: str
    shown_name: str
    units: str
    language: str
    scopes: list[str] | None


class WrittenOut(Schema):
    """An entry as it stands in the log."""

    number: int
    written_at: dt.datetime
    written_by: str
    client_id: str
    holds: bool
    entry: EntryOut


class LogPage(Schema):
    """Entries, newest first; ``behind`` asks for those that follow ("" at the end)."""

    entries: list[WrittenOut]
    behind: str


class Step(Schema):
    """One step in the life of an entry."""

    written: WrittenOut
    changes: list[Telling]


class History(Schema):
    """An entry and everything written about it."""

    current: WrittenOut
    steps: list[Step]


class ToSend(Strict):
    """An entry to be written; ``client_id`` makes sending it again harmless."""

    entry: EntryIn
    client_id: str = ID


class ManyToSend(Strict):
    """Entries that waited on a phone, in order."""

    entries: list[ToSend] = Field(max_length=200)


class CorrectionToSend(Strict):
    """Fields to be changed (null takes one away). ``strict`` false keeps a correction made
    without signal although somebody was faster."""

    changes: Annotated[dict[str, Any], WithJsonSchema({"type": "object"})]
    client_id: str = ID
    strict: bool = True


class UndoToSend(Strict):
    """Takes back the entry; ``wholly`` with everything it corrects."""

    client_id: str = ID
    strict: bool = True
    wholly: bool = False


class ReceiptOut(Schema):
    """What became of an entry."""

    written: WrittenOut
    repeated: bool
    remarks: list[FaultShape]


class SentOut(Schema):
    """What became of one of many: a receipt, or why not."""

    client_id: str
    receipt: ReceiptOut | None = None
    status: int
    problem: Problem | None = None


class JobOut(Schema):
    """A job and how it went."""

    kind: str
    key: str
    state: str
    tries: int
    asked_at: dt.datetime
    started_at: dt.datetime | None = None
    ended_at: dt.datetime | None = None
    next_try_at: dt.datetime | None = None
    sentence: str


class DaysAhead(Strict):
    """Lows and highs typed for coming days, one a line: 2026-01-12: -7 degC to 2 degC."""

    text: str = Field(max_length=10_000)
