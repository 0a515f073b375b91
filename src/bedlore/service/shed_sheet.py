"""A sheet that hangs in the shed for a month: its lines, typed in, become entries of the log.

Each line of each sheet has a name of its own, so that typing a sheet in again writes nothing
twice: a line that says the same is passed over, one that says otherwise is told of.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bedlore.errors import Fault, FaultList
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author, LogBook, TakenId, ToWrite, new_entry_id
from bedlore.service.record_entry import already_sent, sent_hash, understand

LINES = 16  # of a sheet
MOST_SHEETS = 9  # of a bed in a month
Raw = dict[str, Any]
Line = Mapping[str, str]
# The column that a fault of an entry belongs in.
_COLUMN = {"at": "day", "material": "what", "mass_kg": "much", "amount": "much", "mass": "much",
           "container": "much", "count": "much", "temp_c": "temp", "word": "squeeze",
           "food_left": "left", "zone": "where", "note": "note"}  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """Which sheet: of a bed, for the month that ``month`` lies in, the first, second, ..."""

    bed_id: str
    month: dt.date
    number: int = 1

    def line_name(self, line: int, kind: str) -> str:
        """The name under which what stands in a line (from 1) is written down."""
        told = f"{self.bed_id}|{self.month:%Y-%m}|{self.number}"
        digest = hashlib.blake2b(told.encode(), digest_size=8).hexdigest()
        return f"sheet-{digest}-{line:02d}-{kind}"


@dataclass(frozen=True)
class Typed:
    """What came of a sheet: entries new in the log, and those that were there already."""

    new: int
    repeated: int


def month_of(text: str, today: dt.date) -> dt.date:
    """The first of the month written as ``2026-02``; this month when it cannot be read."""
    try:
        first = dt.datetime.strptime(text.strip(), "%Y-%m").date()
    except ValueError:
        return today.replace(day=1)
    return first if 1950 <= first.year <= 2200 else today.replace(day=1)


def is_blank(line: Line) -> bool:
    """Whether nothing was written in a line."""
    return not any(text.strip() for text in line.values())


def entries_of_line(sheet: Sheet, line: Line) -> Iterator[Raw]:
    """What a line says, as lines of the log: fed, looked, probed, squeezed; else a note.

    Keys: ``day`` of the month, ``what`` and ``much`` was fed, ``where``, food ``left``, ``temp``,
    ``squeeze``, ``note``; all as typed. The note goes with the first entry.
    """
    told = {key: text.strip() for key, text in line.items() if text.strip()}
    found: list[Raw] = []
    if "what" in told or "much" in told:
        found.append({"kind": "feed", "parts": [
            {"material": told.get("what", ""), "amount": told.get("much", "")}]})  # fmt: skip
    if "left" in told:
        found.append({"kind": "look", "food_left": told["left"]})
    if "temp" in told:
        found.append({"kind": "probe", "temp_c": told["temp"]})
    if "squeeze" in told:
        found.append({"kind": "squeeze", "word": told["squeeze"]})
    if not found:
        found.append({"kind": "note"})
    found[0]["note"] = told.get("note", "")
    for raw in found:
        yield {**raw, "bed": sheet.bed_id, "zone": told.get("where", ""),
               "at": f"{sheet.month:%Y-%m}-{told.get('day', '').zfill(2)}"}


def write_sheet(book: LogBook, farm: Farm, sheet: Sheet, lines: Sequence[Line], by: Author,
                now: dt.datetime) -> Typed:  # fmt: skip
    """Writes all lines of a sheet at once, or none: raises :class:`FaultList` with every fault
    of every line, at ``line-3-temp`` (counted from 0)."""
    new: list[ToWrite] = []
    faults: list[Fault] = []
    repeated = 0
    for place, line in enumerate(lines):
        if is_blank(line):
            continue
        if not _is_day(line.get("day", ""), sheet.month):
            faults.append(Fault(f"line-{place}-day", say("Write the day of the month.")))
            continue
        for raw in entries_of_line(sheet, line):
            name = sheet.line_name(place + 1, raw["kind"])
            try:
                if already_sent(book, raw, name) is not None:
                    repeated += 1
                    continue
                entry = understand(farm, {"id": new_entry_id(now), "who": by.name,
                                          **_filled(raw)}, now).entry  # fmt: skip
            except TakenId:
                faults.append(Fault(f"line-{place}-row", say(
                    "This line was typed in before and said something else. Correct it in the"
                    " log, or empty it here.")))  # fmt: skip
            except FaultList as problem:
                faults += [Fault(f"line-{place}-{_column(fault.path)}", fault.sentence)
                           for fault in problem.faults]  # fmt: skip
            else:
                assert entry is not None
                new.append(ToWrite(entry, name, sent_hash(raw)))
    if faults:
        raise FaultList(dict.fromkeys(faults))
    receipts = book.write(new, by, now) if new else []
    twice = sum(receipt.repeated for receipt in receipts)  # somebody typed it in just now
    return Typed(len(receipts) - twice, repeated + twice)


def _filled(raw: Raw) -> Raw:
    return {key: value for key, value in raw.items() if value != ""}


def _is_day(text: str, month: dt.date) -> bool:
    day = text.strip().rstrip(".")
    if not (day.isascii() and day.isdecimal() and len(day) <= 2):
        return False
    try:
        month.replace(day=int(day))
    except ValueError:
        return False
    return True


def _column(path: str) -> str:
    """The column of the sheet that an entry's fault belongs in."""
    return _COLUMN.get(path.replace(" ", ".").split(".")[-1], "row")
