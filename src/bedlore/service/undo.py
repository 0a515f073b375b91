"""Takes back what was written, by writing that it did not happen; and brings it back again."""

from __future__ import annotations

import datetime as dt

from bedlore.farm.log import Void
from bedlore.service.book import Author, LogBook, Receipt, ToWrite, new_entry_id
from bedlore.service.correct_entry import found
from bedlore.service.record_entry import already_sent, sent_hash


def undo(
    book: LogBook, entry_id: str, by: Author, now: dt.datetime, client_id: str = "",
    wholly: bool = False, strict: bool = True,
) -> Receipt:  # fmt: skip
    """Writes a void of ``entry_id``.

    Of a correction this brings back what stood before it, of a void the entry it took back.
    ``wholly`` takes back the corrected entry itself, with all its corrections. ``strict`` as
    for :func:`~bedlore.service.correct_entry.correct_entry`.
    """
    sent = {"kind": "void", "amends": entry_id, "wholly": wholly}
    before = already_sent(book, sent, client_id)
    if before is not None:
        return before
    latest = found(book, entry_id)
    target = _root(book, latest.entry.id) if wholly else latest.entry.id
    entry = found(book, target).entry
    void = Void(id=new_entry_id(now), at=entry.at, bed=entry.bed, zone=entry.zone, who=by.name,
                amends=target)  # fmt: skip
    sent_void = ToWrite(void, client_id, sent_hash(sent) if client_id else "")
    (receipt,) = book.write([sent_void], by, now, must_hold=latest.entry.id if strict else "")
    return receipt


def _root(book: LogBook, entry_id: str) -> str:
    """The id of the entry that ``entry_id`` corrects, through all corrections between."""
    amends = {step.entry.id: step.entry.amends for step in book.chain(entry_id)}
    seen = {entry_id}
    while (above := amends.get(entry_id)) and above in amends and above not in seen:
        seen.add(above)
        entry_id = above
    return entry_id
