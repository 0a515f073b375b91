"""Writes down what the keeper did, saw or measured; sending it twice writes it once."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from bedlore.errors import Fault, FaultList
from bedlore.farm.amounts import Fillings
from bedlore.farm.fields import is_slug
from bedlore.farm.interpret import Interpreter, Understood
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author, LogBook, Receipt, TakenId, ToWrite, new_entry_id
from bedlore.service.fillings import fillings_of

MAX_CLIENT_ID = 80


def record_entry(
    book: LogBook, farm: Farm, raw: Mapping[str, Any], by: Author, now: dt.datetime,
    client_id: str = "",
) -> Receipt:  # fmt: skip
    """The receipt for the entry that ``raw`` (keys and values as typed) describes.

    ``client_id`` is the sender's own name for it: a second sending under that name writes
    nothing and returns what was written first. ``who`` is the author's name unless ``raw`` says
    otherwise. Raises :class:`FaultList`, whose paths are names of fields, and
    :class:`~bedlore.service.book.TakenId`.
    """
    (receipt,) = record_entries(book, farm, [(raw, client_id)], by, now)
    return receipt


def record_entries(
    book: LogBook, farm: Farm, told: Sequence[tuple[Mapping[str, Any], str]], by: Author,
    now: dt.datetime,
) -> list[Receipt]:  # fmt: skip
    """The same for several entries, each with the sender's name for it: all are written or none."""
    receipts = {place: before for place, (raw, client_id) in enumerate(told)
                if (before := already_sent(book, raw, client_id)) is not None}
    fillings = fillings_of(book, farm, now) if len(receipts) < len(told) else None
    fresh: dict[int, Understood] = {}
    for place, (raw, _) in enumerate(told):
        if place not in receipts:
            named = {**raw, "amends": amended_id(book, raw)} if raw.get("amends") else raw
            whole = {"id": new_entry_id(now), "who": by.name, **_filled(named)}
            fresh[place] = understand(farm, whole, now, fillings)
    sent = [_to_write(understood, *told[place]) for place, understood in fresh.items()]
    written = book.write(sent, by, now) if sent else []
    for (place, understood), receipt in zip(fresh.items(), written, strict=True):
        remarks = tuple((r.path, r.sentence) for r in understood.remarks)
        receipts[place] = replace(receipt, remarks=remarks)
    return [receipts[place] for place in range(len(told))]


def _to_write(understood: Understood, raw: Mapping[str, Any], client_id: str) -> ToWrite:
    assert understood.entry is not None
    return ToWrite(understood.entry, client_id, sent_hash(raw) if client_id else "")


def understand(farm: Farm, raw: Mapping[str, Any], now: dt.datetime,
               fillings: Fillings | None = None) -> Understood:  # fmt: skip
    """What ``raw`` says as an entry of ``farm``; raises :class:`FaultList` when it is none."""
    try:
        understood = Interpreter(farm, now, fillings).read(raw)
    except RecursionError:
        raise FaultList([Fault("", say("This is nested too deeply for an entry."))]) from None
    if understood.entry is None:
        raise FaultList(understood.faults)
    return understood


def already_sent(book: LogBook, raw: Mapping[str, Any], client_id: str) -> Receipt | None:
    """What was written under ``client_id`` before, or None; raises when it said otherwise."""
    if not client_id:
        return None
    if len(client_id) > MAX_CLIENT_ID or not is_slug(client_id):
        raise FaultList([Fault("client_id", say("This is no id. Use up to 80 small letters,"
                                                " figures, - and _."))])  # fmt: skip
    found = book.find(client_id)
    if found is None or found.client_id != client_id:
        return None
    if found.sent_hash and found.sent_hash != sent_hash(raw):
        raise TakenId(say("Another entry was sent under this id already."), "client_id",
                      say("Send it again under an id of its own."))  # fmt: skip
    return Receipt(found, repeated=True)


def amended_id(book: LogBook, raw: Mapping[str, Any]) -> str:
    """The id of the entry that ``raw`` amends; a phone may know it by its client id only."""
    name = str(raw["amends"]).strip().lower()
    found = book.find(name)
    return found.entry.id if found is not None else name


def sent_hash(raw: Mapping[str, Any]) -> str:
    """A digest of what was sent, to tell a repeat from something else under the same id."""
    text = json.dumps(raw, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def _filled(raw: Mapping[str, Any]) -> dict[str, Any]:
    """``raw`` without empty cells, so that defaults stand in for them."""
    return {
        key: value for key, value in raw.items()
        if value is not None and not (isinstance(value, str) and not value.strip())
    }
