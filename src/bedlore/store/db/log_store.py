"""The log of a farm in the database, for many writers at once."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Q

from bedlore.errors import Fault
from bedlore.farm.interpret import Interpreter, content_key
from bedlore.farm.log import ENTRY, AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import KeptLine, LogReading
from bedlore.say import say
from bedlore.service.book import (
    Author,
    Changed,
    LogFilter,
    Place,
    Receipt,
    TakenId,
    ToWrite,
    Written,
)
from bedlore.store.db.holding import which_hold
from bedlore.store.db.models import FarmRow, LogEntry
from bedlore.store.log_reader import MAX_LISTED

_CHUNK = 500  # of ids in one query
_T = TypeVar("_T")


class DbLog:
    """A :class:`~bedlore.service.ports.LogStore` and :class:`~bedlore.service.book.LogBook`
    over the farm ``row``."""

    def __init__(self, row: FarmRow) -> None:
        self._farm = row

    def _rows(self) -> Any:
        return LogEntry.objects.filter(farm=self._farm)

    def read_log(self, farm: Farm, now: dt.datetime | None = None, bed: str = "") -> LogReading:
        """All entries by time, or those of one bed. What contradicts the farm as it is described
        now is kept aside with a fault, as it would be from a file."""
        checker = _Checker(farm, now)
        rows = self._rows().filter(bed=bed) if bed else self._rows()
        query = rows.order_by("at", "pk").values_list("body", flat=True)
        entries = tuple(
            entry for number, body in enumerate(query.iterator(2000), start=1)
            if (entry := checker.entry(body, number)) is not None
        )
        return LogReading(entries, tuple(checker.faults), tuple(checker.notes[:MAX_LISTED]),
                          tuple(checker.kept), checker.left_out)  # fmt: skip

    def append(self, entries: Sequence[AnyEntry]) -> None:
        """Adds ``entries``; those already there, with the same content, are left as they are."""
        self.write([ToWrite(entry) for entry in entries], Author(), dt.datetime.now(dt.UTC))

    def write(
        self, entries: Sequence[ToWrite], by: Author, now: dt.datetime, must_hold: str = ""
    ) -> list[Receipt]:
        """Adds ``entries`` in one transaction; see :class:`~bedlore.service.book.LogBook`."""
        with transaction.atomic():
            # One writer of a farm at a time: what holds must be worked out without a rival.
            FarmRow.objects.select_for_update().get(pk=self._farm.pk)
            if must_hold:
                self._must_hold(must_hold)
            by_id, by_client = self._there(entries)
            receipts: list[Receipt | None] = []
            new: list[LogEntry] = []
            for sent in entries:
                known = _known(sent, by_id, by_client)
                if known is not None:
                    receipts.append(Receipt(_written(known), repeated=True))
                    continue
                row = self._row(sent, by, now)
                by_id[row.entry_id] = row
                if row.client_id:
                    by_client[row.client_id] = row
                new.append(row)
                receipts.append(None)
            self.add_rows(new)
        fresh = iter(self._as_stored(new))
        return [receipt or Receipt(next(fresh)) for receipt in receipts]

    def find(self, name: str) -> Written | None:
        """The entry with this id, or sent under this client id."""
        rows = list(self._rows().filter(Q(entry_id=name) | Q(client_id=name))[:2])
        rows.sort(key=lambda row: row.entry_id != name)
        return _written(rows[0]) if rows else None

    def sent_under(self, stem: str) -> list[Written]:
        """Entries whose client id begins with ``stem``, in order of writing."""
        return [_written(row) for row in self._rows().filter(client_id__startswith=stem)
                .order_by("pk")]  # fmt: skip

    def known(self, entry_ids: Sequence[str]) -> dict[str, AnyEntry]:
        """Those of the entries with these ids that are in the book."""
        found: dict[str, AnyEntry] = {}
        for some in _chunks(entry_ids):
            rows = self._rows().filter(entry_id__in=some).values_list("entry_id", "body")
            found.update((entry_id, ENTRY.validate_json(body)) for entry_id, body in rows)
        return found

    def named(self, entry_ids: Sequence[str]) -> list[Written]:
        """The entries with these ids as they stand in the book."""
        return [_written(row) for some in _chunks(entry_ids)
                for row in self._rows().filter(entry_id__in=some)]  # fmt: skip

    def page(self, wanted: LogFilter, limit: int, behind: Place | None = None) -> list[Written]:
        """Entries by time, newest first."""
        rows = self._rows()
        if wanted.only_held:
            # "IN (1)": for holds=True Django writes a bare column, which no index serves.
            rows = rows.filter(holds__in=[True]).exclude(kind="void")
        for field in ("bed", "zone", "written_by"):
            if value := getattr(wanted, field):
                rows = rows.filter(**{field: value})
        if wanted.kinds:
            rows = rows.filter(kind__in=wanted.kinds)
        if wanted.since is not None:
            rows = rows.filter(at__gte=wanted.since)
        if wanted.until is not None:
            rows = rows.filter(at__lt=wanted.until)
        if wanted.text:
            rows = rows.filter(body__icontains=json.dumps(wanted.text, ensure_ascii=False)[1:-1])
        if behind is not None:
            rows = rows.filter(Q(at__lt=behind.at) | Q(at=behind.at, pk__lt=behind.number))
        return [_written(row) for row in rows.order_by("-at", "-pk")[:limit]]

    def chain(self, entry_id: str) -> list[Written]:
        """The entry with all that amends it or that it amends, in order of writing."""
        rows = self._related({entry_id})
        return [_written(row) for row in sorted(rows, key=lambda row: row.pk)]

    def _must_hold(self, entry_id: str) -> None:
        row = self._rows().filter(entry_id=entry_id).first()
        if row is not None and not row.holds:
            last = self._rows().filter(amends=entry_id).order_by("-pk").first()
            who = last.written_by if last else ""
            changed = (
                say("The entry was corrected or taken back meanwhile by {name}.", name=who) if who
                else say("The entry was corrected or taken back meanwhile.")
            )  # fmt: skip
            raise Changed(changed, fix=say("Look at it as it is now."))

    def _there(
        self, entries: Sequence[ToWrite]
    ) -> tuple[dict[str, LogEntry], dict[str, LogEntry]]:
        by_id: dict[str, LogEntry] = {}
        by_client: dict[str, LogEntry] = {}
        for some in _chunks([sent.entry.id for sent in entries]):
            by_id.update((row.entry_id, row) for row in self._rows().filter(entry_id__in=some))
        for some in _chunks([sent.client_id for sent in entries if sent.client_id]):
            by_client.update((row.client_id, row)
                             for row in self._rows().filter(client_id__in=some))  # fmt: skip
        return by_id, by_client

    def _row(self, sent: ToWrite, by: Author, now: dt.datetime) -> LogEntry:
        row = self.row_of(sent.entry, sent.client_id or None, sent.sent_hash, now, by.name)
        row.author_id = by.account_id
        return row

    def row_of(self, entry: AnyEntry, client_id: str | None, sent_hash: str,
               written_at: dt.datetime, written_by: str) -> LogEntry:  # fmt: skip
        """The row for ``entry``, not yet saved."""
        return LogEntry(
            farm=self._farm, entry_id=entry.id, client_id=client_id, sent_hash=sent_hash,
            kind=entry.kind, bed=entry.bed, zone=entry.zone or "", at=entry.at,
            written_at=written_at, written_by=written_by, amends=entry.amends or "",
            body=entry.model_dump_json(exclude_none=True),
        )  # fmt: skip

    def add_rows(self, new: Sequence[LogEntry]) -> None:
        """Saves new rows and works out what holds; the caller has a transaction open."""
        LogEntry.objects.bulk_create(new, batch_size=200)
        self._settle(new)

    def _settle(self, new: Sequence[LogEntry]) -> None:
        """Works out which entries hold wherever ``new`` ones amend or are amended."""
        touched = {row.entry_id for row in new if row.amends}
        for some in _chunks([row.entry_id for row in new]):
            touched.update(self._rows().filter(amends__in=some).values_list("amends", flat=True))
        if not touched:
            return
        rows = self._related(touched)
        held = which_hold([ENTRY.validate_json(row.body) for row in rows])
        changed = [row for row in rows if row.holds != (row.entry_id in held)]
        for value in (True, False):
            keys = [row.pk for row in changed if (row.entry_id in held) is value]
            for some in _chunks(keys):
                self._rows().filter(pk__in=some).update(holds=value)

    def _related(self, entry_ids: set[str]) -> list[LogEntry]:
        """All entries joined to these by corrections, whichever way."""
        found: dict[str, LogEntry] = {}
        wanted = set(entry_ids)
        while wanted:
            rows: list[LogEntry] = []
            for some in _chunks(sorted(wanted)):
                rows += self._rows().filter(Q(entry_id__in=some) | Q(amends__in=some))
            found.update((row.entry_id, row) for row in rows)
            ends = {row.entry_id for row in rows} | {row.amends for row in rows if row.amends}
            entry_ids |= wanted
            wanted = ends - entry_ids
        return list(found.values())

    def _as_stored(self, new: Sequence[LogEntry]) -> Iterator[Written]:
        held = {}
        for some in _chunks([row.pk for row in new]):
            held.update(self._rows().filter(pk__in=some).values_list("pk", "holds"))
        return (replace(_written(row), holds=held[row.pk]) for row in new)


def _known(
    sent: ToWrite, by_id: dict[str, LogEntry], by_client: dict[str, LogEntry]
) -> LogEntry | None:
    """The row that ``sent`` repeats, or None; raises when it says something else."""
    row = by_client.get(sent.client_id) if sent.client_id else None
    if row is not None:
        if row.sent_hash and sent.sent_hash and row.sent_hash != sent.sent_hash:
            raise TakenId(say("Another entry was sent under this id already."), sent.client_id,
                          say("Send it again under an id of its own."))  # fmt: skip
        return row
    row = by_id.get(sent.entry.id)
    if row is None:
        return None
    if content_key(ENTRY.validate_json(row.body)) != content_key(sent.entry):
        raise TakenId(
            say("Another entry has the id {id} already.", id=repr(sent.entry.id)), "id",
            say("Give this one an id of its own; to correct the other, name it in amends."),
        )
    return row


def _written(row: LogEntry) -> Written:
    return Written(
        ENTRY.validate_json(row.body), row.pk, row.written_at, row.written_by,
        row.client_id or "", row.sent_hash, row.holds,
    )  # fmt: skip


def _chunks(items: Sequence[_T]) -> Iterator[Sequence[_T]]:
    for first in range(0, len(items), _CHUNK):
        yield items[first : first + _CHUNK]


class _Checker:
    """Reads stored entries; what may not fit the farm any more is interpreted afresh."""

    def __init__(self, farm: Farm, now: dt.datetime | None) -> None:
        self._interpreter = Interpreter(farm, now)
        self._now = now
        self._beds = {
            bed.id: (frozenset((*bed.side_names, *(zone.id for zone in bed.zones))),
                     dt.datetime.combine(bed.started, dt.time(), dt.UTC),
                     dt.datetime.combine(bed.ended or dt.date.max, dt.time(), dt.UTC))
            for bed in farm.beds
        }  # fmt: skip
        self.faults: list[Fault] = []
        self.notes: list[Fault] = []
        self.kept: list[KeptLine] = []
        self.left_out = 0

    def entry(self, body: str, number: int) -> AnyEntry | None:
        """The entry in ``body``, or None with a fault."""
        entry = ENTRY.validate_json(body)
        if self._plainly_fits(entry):
            return entry
        understood = self._interpreter.read(json.loads(body), f"entry {entry.id}")
        self.notes += understood.remarks
        if len(self.faults) >= MAX_LISTED:
            self.left_out += len(understood.faults)
        else:
            self.faults += understood.faults
            if understood.entry is None:
                self.kept.append(KeptLine("log", number, body))
        return understood.entry

    def _plainly_fits(self, entry: AnyEntry) -> bool:
        if entry.kind in ("move", "cover", "mat", "switch") or entry.bed not in self._beds:
            return False
        zones, start, end = self._beds[entry.bed]
        in_time = start <= entry.at < end and (self._now is None or entry.at <= self._now)
        depth_is_told = getattr(entry, "depth_m", 0.0) > 0.3
        return in_time and not depth_is_told and (entry.zone is None or entry.zone in zones)
