"""From the lines of a log file to raw entries: JSON objects, and CSV rows put together.

Nothing here knows what an entry means; that is :mod:`bedlore.farm.interpret`. Every line ends
up either in a :class:`RawEntry` or in a :class:`Refused` with the reason.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from bedlore.farm.fields import Wrong
from bedlore.farm.materials import nearest
from bedlore.say import say
from bedlore.store.lines import MAX_LINE_BYTES, TORN_MARK, Line
from bedlore.store.log_format import (
    COLUMNS,
    FORMAT_VERSION,
    column_names,
    known_column,
    split_cells,
    unescape_cell,
)

_DELIMITERS = (",", ";", "\t")
_VERSION = re.compile(r"#\s*bedlore log format (\d+)", re.IGNORECASE)
_MAX_JOINED_LINES = 20  # a quoted cell may hold line ends, as spreadsheets write them


@dataclass
class RawEntry:
    """Keys and values of one entry and the lines they stand in."""

    raw: dict[str, Any]
    lines: list[Line] = field(default_factory=list)


@dataclass(frozen=True)
class Refused:
    """Lines that give no entry, and why; no lines when only something about the file is said."""

    sentence: str
    line: int
    lines: tuple[Line, ...] = ()


Found = RawEntry | Refused


def _unusable(line: Line) -> Refused | None:
    """Why ``line`` cannot be read as text at all, or None."""
    sentence = ""
    if line.too_long:
        sentence = say("The line is longer than {max_line_bytes} kB. No entry is that long.",
                       max_line_bytes=MAX_LINE_BYTES // 1024)
    elif line.data.endswith(TORN_MARK):
        sentence = say("The line was left unfinished when it was written. Enter it again if"
                       " needed.")
    elif line.number == 1 and line.data.startswith((b"\xff\xfe", b"\xfe\xff")):
        sentence = say("The file is saved as UTF-16. Save it again as UTF-8.")
    elif b"\x00" in line.data:
        sentence = say("The line holds empty bytes, as a power cut or a copying fault leaves"
                       " them.")
    if sentence:
        return Refused(sentence, line.number, (line,))
    try:
        line.data.decode("utf-8")
    except UnicodeDecodeError:
        return Refused(
            say("The line holds bytes that are not UTF-8 text. Save the file as UTF-8."),
            line.number, (line,),
        )
    return None


def _comment(line: Line) -> Refused | bool:
    """True for an empty or # line; a refusal when it names a format that is not known."""
    text = line.data.strip()
    if not text:
        return True
    if not text.startswith(b"#"):
        return False
    version = _VERSION.match(text.decode("utf-8"))
    if version and version.group(1) != str(FORMAT_VERSION):
        return Refused(
            say("The log says format {value}; this version reads format {format_version}. It"
                " was read as far as it is understood.", value=version.group(1)[:9],
                format_version=FORMAT_VERSION), line.number,
        )
    return True


def _unfinished(line: Line) -> Refused:
    return Refused(
        say("The last line is unfinished and was skipped; it stays in the file. Enter it again"
            " if it matters."), line.number, (line,),
    )


def json_entries(lines: Iterable[Line]) -> Iterator[Found]:
    """Raw entries of a JSON Lines log."""
    for line in lines:
        refused = _unusable(line)
        if refused is not None:
            yield refused
            continue
        comment = _comment(line)
        if isinstance(comment, Refused):
            yield comment
        elif not comment:
            yield _json_entry(line)


def _json_entry(line: Line) -> Found:
    text = line.data.decode("utf-8")
    try:
        value = json.loads(text, object_pairs_hook=_each_key_once)
    except RecursionError:
        return Refused(say("The line is nested too deeply for an entry."), line.number, (line,))
    except ValueError as problem:
        if not line.whole:
            return _unfinished(line)
        found = str(getattr(problem, "msg", ""))[:100]
        sentence = say("The line is not proper JSON: {reason}.",
                       reason=found or say("a number is too long"))  # fmt: skip
        return Refused(sentence, line.number, (line,))
    if not isinstance(value, dict):
        return Refused(say("The line is JSON, but not an object { }."), line.number, (line,))
    return RawEntry(_without_surrogates(value) if "\\u" in text else value, [line])


def _each_key_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        twice = say("{key} is given twice. Keep one.", key=repr(key[:40]))
        found[key] = Wrong(twice) if key in found else value
    return found


def _without_surrogates(value: Any) -> Any:
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, list):
        return [_without_surrogates(item) for item in value]
    if isinstance(value, dict):
        return {_without_surrogates(k): _without_surrogates(v) for k, v in value.items()}
    return value


def csv_entries(lines: Iterable[Line]) -> Iterator[Found]:
    """Raw entries of a CSV log. Rows that follow each other with the same id, or with ``+`` as
    id, are parts of one entry."""
    table = _Table()
    for found in _csv_rows(lines, table):
        if isinstance(found, Refused):
            yield from table.flush()
            yield found
        else:
            yield from table.take(*found)
    yield from table.flush()


class _Table:
    """The columns of a CSV log, and the entry whose rows are being put together."""

    def __init__(self) -> None:
        self.columns: list[str] = []
        self.delimiter = ","
        self._pending: RawEntry | None = None

    def take(self, row: dict[str, str], lines: list[Line]) -> Iterator[Found]:
        """Adds ``row`` to the pending entry, or yields that one and begins another."""
        number = row.pop("part", "")
        pending = self._pending
        if pending is None or not _continues(row, number, pending):
            yield from self.flush()
            if row.get("id") == "+":
                yield Refused(say("There is no entry above for this row to go with."),
                              lines[0].number, tuple(lines))  # fmt: skip
                return
            part = _split_part(row)
            parts = {} if part is None else {"parts": [part]}
            self._pending = RawEntry({**row, **parts}, lines)
            return
        part = _split_part(row, of_kind=pending.raw.get("kind"))
        pending.raw["parts"].append(part or {})
        pending.lines += lines

    def flush(self) -> Iterator[RawEntry]:
        """Yields the pending entry, if there is one."""
        if self._pending is not None:
            yield self._pending
        self._pending = None


_PART_COLUMNS = ("material", "amount", "mass", "container", "count")  # and mass_kg, mass_lb ...


def _split_part(row: dict[str, str], of_kind: Any = None) -> dict[str, str] | None:
    """Takes what speaks of the material out of a feed or bedding row."""
    kind = str(of_kind or row.get("kind", "")).strip().lower()
    if kind not in ("feed", "bedding"):
        return None
    return {
        key: row.pop(key) for key in list(row)
        if key in _PART_COLUMNS or key.startswith("mass_")
    }


def _continues(row: dict[str, str], number: str, pending: RawEntry) -> bool:
    if "parts" not in pending.raw:
        return False
    if row.get("id") == "+":
        return True
    if not row.get("id") or row["id"].lower() != str(pending.raw.get("id", "")).lower():
        return False
    parts = pending.raw["parts"]
    if number and number != str(len(parts) + 1):
        return False
    if not number and _split_part(dict(row), of_kind=pending.raw["kind"]) in parts:
        return False  # the same row again
    same = ("kind", "at", "bed", "zone")
    return all(row.get(key, "") in ("", pending.raw.get(key, "")) for key in same)


def _csv_rows(
    lines: Iterable[Line], table: _Table
) -> Iterator[Refused | tuple[dict[str, str], list[Line]]]:
    waiting: list[Line] = []
    for line in lines:
        refused = _unusable(line)
        if refused is not None:
            yield from _one_by_one(waiting, table)
            waiting = []
            yield refused
            continue
        if not waiting:
            comment = _comment(line)
            if isinstance(comment, Refused):
                yield comment
            if comment:
                continue
        waiting.append(line)
        if not _open_quote(waiting):
            yield from _row(waiting, table)
        elif _stands_alone(line, table) or len(waiting) >= _MAX_JOINED_LINES:
            yield from _one_by_one(waiting, table)
        elif line.whole:
            continue
        else:
            yield from _one_by_one(waiting[:-1], table)
            yield _unfinished(line)
        waiting = []
    yield from _one_by_one(waiting, table)


def _stands_alone(line: Line, table: _Table) -> bool:
    """Whether a line met inside an open quote is a full row, so that the quote before it was
    never meant to reach this far."""
    cells = split_cells(line.data.decode("utf-8"), table.delimiter) or []
    return not _open_quote([line]) and 1 < len(table.columns) == len(cells)


def _one_by_one(
    waiting: list[Line], table: _Table
) -> Iterator[Refused | tuple[dict[str, str], list[Line]]]:
    """Lines read alone, as a quote in one of them is never closed."""
    for line in waiting:
        if _open_quote([line]):
            yield Refused(say("A quote in this line is never closed."), line.number, (line,))
        else:
            yield from _row([line], table)


def _open_quote(lines: list[Line]) -> bool:
    return sum(line.data.count(b'"') for line in lines) % 2 == 1


def _row(
    lines: list[Line], table: _Table
) -> Iterator[Refused | tuple[dict[str, str], list[Line]]]:
    first, last = lines[0], lines[-1]
    text = "\n".join(line.data.decode("utf-8").removesuffix("\r") for line in lines)
    if not table.columns:
        yield from _header(text, first, table)
        return
    cells = split_cells(text, table.delimiter)
    if cells is None:
        yield Refused(say("The line is not proper CSV."), first.number, tuple(lines))
        return
    if not any(cell.strip() for cell in cells) or _is_header(cells, table):
        return
    if not last.whole and len(cells) < len(table.columns):
        yield _unfinished(last)
        return
    if any(cell.strip() for cell in cells[len(table.columns):]):
        yield Refused(
            say("The line has {cells} cells, but the first line names {columns} columns. Put"
                " texts that hold the separator in quotes.", cells=len(cells),
                columns=len(table.columns)), first.number, tuple(lines),
        )
        return
    row = {
        column: unescape_cell(cell.strip())
        for column, cell in zip(table.columns, cells, strict=False) if column and cell.strip()
    }
    yield row, lines


def _is_header(cells: list[str], table: _Table) -> bool:
    names = [cell.strip().lower() for cell in cells]
    return "kind" in names and "at" in names and names[0] == table.columns[0]


def _header(text: str, line: Line, table: _Table) -> Iterator[Refused]:
    table.delimiter = max(_DELIMITERS, key=text.count)
    cells = split_cells(text, table.delimiter) or []
    names = [re.sub(r"\s+", "_", cell.strip().lower()) for cell in cells]
    if "kind" not in names or "at" not in names:
        table.columns = list(COLUMNS)  # perhaps a piece cut out of a log of ours
        table.delimiter = ","
        yield Refused(
            say("The first line does not name the columns. It should begin like: {columns}. The"
                " rest was read as if it named all of them.", columns=",".join(COLUMNS[:8])),
            line.number, (line,),
        )
        return
    for index, name in enumerate(names):
        if not name or (known_column(name) and name not in names[:index]):
            continue
        near = nearest(name, column_names())
        hint = say(' Did you mean "{near}"?', near=near) if near and near != name else ""
        why = "named twice" if name in names[:index] else "not known"
        yield Refused(say("Column {name} is {why}; what stands in it was not read.{hint}",
                          name=repr(name[:40]), why=why, hint=hint),
                      line.number)
        names[index] = ""
    table.columns = names
