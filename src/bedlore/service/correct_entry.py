"""Corrects an entry by writing another: what was written first stays and can be read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedlore.errors import KeeperError
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author, LogBook, Receipt, ToWrite, Written, new_entry_id
from bedlore.service.fillings import fillings_of
from bedlore.service.record_entry import already_sent, sent_hash, understand


def correct_entry(
    book: LogBook, farm: Farm, entry_id: str, changes: Mapping[str, Any], by: Author,
    now: dt.datetime, client_id: str = "", strict: bool = True,
) -> Receipt:  # fmt: skip
    """Writes a correction of ``entry_id``: its fields with ``changes`` in place of theirs.

    A change to None takes a field away. ``strict`` refuses with
    :class:`~bedlore.service.book.Changed` when somebody corrected it in the meantime; without
    it (entries queued on a phone) both corrections are kept and the later one holds. Raises
    :class:`FaultList` as :func:`~bedlore.service.record_entry.record_entry`.
    """
    sent = {**changes, "amends": entry_id}
    before = already_sent(book, sent, client_id)
    if before is not None:
        return before
    target = found(book, entry_id).entry
    kept = {**target.model_dump(exclude_none=True), "who": by.name or target.who}
    raw = {key: value for key, value in {**kept, **changes}.items() if value is not None}
    if "parts" in raw and not isinstance(raw["parts"], Mapping):
        raw["parts"] = list(raw["parts"])
    raw.update(id=new_entry_id(now), amends=target.id)
    understood = understand(farm, raw, now, fillings_of(book, farm, now))
    assert understood.entry is not None
    correction = ToWrite(understood.entry, client_id, sent_hash(sent) if client_id else "")
    (receipt,) = book.write([correction], by, now, must_hold=target.id if strict else "")
    return replace(receipt, remarks=tuple((r.path, r.sentence) for r in understood.remarks))


def found(book: LogBook, entry_id: str) -> Written:
    """The entry called ``entry_id``; raises :class:`KeeperError` when there is none."""
    written = book.find(entry_id)
    if written is None:
        raise KeeperError(say("There is no entry {entry_id} in this log.",
                              entry_id=repr(entry_id[:40])))
    return written


@dataclass(frozen=True)
class Change:
    """One step in the life of an entry: who wrote it, when, and (field, before, after)."""

    written: Written
    fields: tuple[tuple[str, object, object], ...]


_NOT_TOLD = {"id", "amends"}


def history_of(book: LogBook, entry_id: str) -> tuple[Change, ...]:
    """Everything written about an entry, in order: as first written, corrected, taken back."""
    steps = book.chain(entry_id)
    by_id = {step.entry.id: step.entry for step in steps}
    return tuple(
        Change(step, _differences(by_id.get(step.entry.amends or ""), step.entry))
        for step in steps
    )


def _differences(
    before: AnyEntry | None, after: AnyEntry
) -> tuple[tuple[str, object, object], ...]:
    if after.kind == "void":
        return ()
    old = before.model_dump() if before is not None else {}
    new = after.model_dump()
    names = dict.fromkeys([*new, *old])
    return tuple(
        (name, old.get(name), new.get(name))
        for name in names
        if name not in _NOT_TOLD and (before is None or old.get(name) != new.get(name))
        and not (before is None and new.get(name) in (None, "", ()))
    )
