"""Log files (CSV, JSON Lines) in and out, with a look at what they hold before they are taken."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, Protocol

from bedlore.errors import Fault, KeeperError
from bedlore.farm.interpret import content_key
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import KeptLine, LogReading
from bedlore.say import say
from bedlore.service.book import Author, LogBook, ToWrite

MAX_IMPORT_BYTES = 100_000_000
_BATCH = 500
Form = Literal["csv", "jsonl"]


class LogCodec(Protocol):
    """Reads and writes log files held in memory."""

    def decode(self, data: bytes, name: str, farm: Farm, now: dt.datetime | None) -> LogReading:
        """What the file ``name`` with the content ``data`` says."""
        ...

    def encode(self, entries: Iterable[AnyEntry], form: Form) -> Iterator[str]:
        """The lines of a log file."""
        ...


@dataclass(frozen=True)
class LogPreview:
    """What a log file would bring: ``new`` entries, those already in the book, and what cannot
    be used, with the lines kept aside."""

    new: tuple[AnyEntry, ...]
    known: int
    by_kind: tuple[tuple[str, int], ...]
    first: dt.datetime | None
    last: dt.datetime | None
    faults: tuple[Fault, ...]
    notes: tuple[Fault, ...]
    kept_aside: tuple[KeptLine, ...]
    faults_left_out: int = 0


def preview_log(
    book: LogBook, codec: LogCodec, farm: Farm, data: bytes, name: str, now: dt.datetime
) -> LogPreview:
    """What importing the log file would do; nothing is written."""
    if len(data) > MAX_IMPORT_BYTES:
        raise KeeperError(say("The file is larger than {max_import_bytes} MB.",
                              max_import_bytes=MAX_IMPORT_BYTES // 1000000), name,
                          say("Split it and import the parts one after the other."))  # fmt: skip
    reading = codec.decode(data, name, farm, now)
    new, faults, known = [], list(reading.faults), 0
    there = book.known([entry.id for entry in reading.entries])
    for entry in reading.entries:
        if entry.id not in there:
            new.append(entry)
        elif content_key(there[entry.id]) == content_key(entry):
            known += 1
        else:
            faults.append(Fault(f"{name} entry {entry.id}", say("The book has another entry"
                                                                " with this id. It stays as it"
                                                                " is; give this one an id of its"
                                                                " own.")))
    kinds = Counter(entry.kind for entry in new)
    return LogPreview(
        tuple(new), known, tuple(kinds.most_common()),
        new[0].at if new else None, new[-1].at if new else None,
        tuple(faults), reading.notes, reading.kept_aside, reading.faults_left_out,
    )  # fmt: skip


def import_log(
    book: LogBook, codec: LogCodec, farm: Farm, data: bytes, name: str, by: Author,
    now: dt.datetime,
) -> LogPreview:  # fmt: skip
    """Writes the entries of a log file that the book does not have; importing it again adds
    nothing. Returns what :func:`preview_log` said."""
    preview = preview_log(book, codec, farm, data, name, now)
    for first in range(0, len(preview.new), _BATCH):
        batch = preview.new[first : first + _BATCH]
        book.write([ToWrite(entry) for entry in batch], by, now)
    return preview


def export_log(book: LogBook, codec: LogCodec, farm: Farm, form: Form) -> Iterator[str]:
    """The whole log with all corrections, as the lines of a file that reads back the same."""
    return codec.encode(book.read_log(farm).entries, form)
