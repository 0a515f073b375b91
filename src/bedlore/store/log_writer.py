"""Adds entries to log files, and writes whole logs."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from bedlore.errors import KeeperError
from bedlore.farm.log import AnyEntry
from bedlore.say import say
from bedlore.store.durable import append_bytes, replace_file
from bedlore.store.lines import TORN_MARK
from bedlore.store.log_format import (
    COLUMNS,
    csv_line,
    encode_csv,
    encode_jsonl,
    entry_to_rows,
    header_line,
    split_cells,
)

_TAIL_BYTES = 70_000
_DELIMITERS = (",", ";", "\t")


def write_entries(path: Path, entries: Iterable[AnyEntry]) -> None:
    """Writes a whole log to ``path`` (``.csv``, otherwise JSON Lines), all of it or nothing.

    Raises :class:`KeeperError` when the file cannot be written.
    """
    encode = encode_csv if path.suffix.lower() == ".csv" else encode_jsonl
    try:
        replace_file(path, (line.encode("utf-8") for line in encode(entries)))
    except OSError as problem:
        raise _cannot_write(path, problem) from None


def append_entries(path: Path, entries: Sequence[AnyEntry]) -> None:
    """Adds ``entries`` at the end of ``path``; they are on disk when this returns.

    What stands in the file is never changed. An unfinished last line is closed with a mark that
    keeps it from being read as an entry. The caller holds the lock. Raises
    :class:`KeeperError`, also when a CSV file has no column for something an entry says (see
    :func:`takes`).
    """
    if not entries:
        return
    try:
        is_csv = path.suffix.lower() == ".csv"
        text = "".join(_csv_rows(path, entries) if is_csv else encode_jsonl(entries))
        append_bytes(path, _closing(path, is_csv) + text.encode("utf-8"))
    except OSError as problem:
        raise _cannot_write(path, problem) from None


def takes(path: Path, entries: Sequence[AnyEntry]) -> bool:
    """Whether the log file ``path`` has room for all that ``entries`` say. A new or empty file
    and JSON Lines always have; CSV needs the columns."""
    if path.suffix.lower() != ".csv" or not _has_content(path):
        return True
    columns, _ = _columns_of(path)
    needed = {column for entry in entries for row in entry_to_rows(entry) for column in row}
    return needed <= set(columns)


def _csv_rows(path: Path, entries: Sequence[AnyEntry]) -> Iterable[str]:
    columns, delimiter = list(COLUMNS), ","
    if _has_content(path):
        if not takes(path, entries):
            raise KeeperError(say("The file has no columns for all that is to be written."),
                              path.name, say("Use a new log file."))  # fmt: skip
        columns, delimiter = _columns_of(path)
    else:
        yield header_line()
    for entry in entries:
        for row in entry_to_rows(entry):
            yield csv_line(row, columns, delimiter)


def _columns_of(path: Path) -> tuple[list[str], str]:
    """The columns a CSV log names in its first line, and its separator."""
    with path.open("rb") as file:
        for _ in range(20):  # comments may stand above
            text = file.readline(_TAIL_BYTES).decode("utf-8-sig", "replace").strip()
            if text and not text.startswith("#"):
                break
    delimiter = max(_DELIMITERS, key=text.count)
    cells = split_cells(text, delimiter) or []
    names = ["_".join(cell.strip().lower().split()) for cell in cells]
    return (names, delimiter) if {"kind", "at"} <= set(names) else ([], delimiter)


def _has_content(path: Path) -> bool:
    return path.exists() and path.stat().st_size > 0


def _closing(path: Path, is_csv: bool) -> bytes:
    """What must go behind the last line of ``path`` before anything is added."""
    if not _has_content(path):
        return b""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - _TAIL_BYTES))
        tail = file.read()
    if tail.endswith(b"\n"):
        return b""
    last = tail.rsplit(b"\n", 1)[-1].decode("utf-8", "replace")
    return b"\n" if _is_finished(last, path, is_csv) else TORN_MARK + b"\n"


def _is_finished(last: str, path: Path, is_csv: bool) -> bool:
    if not is_csv:
        try:
            return isinstance(json.loads(last), dict)
        except (ValueError, RecursionError):
            return False
    columns, delimiter = _columns_of(path)
    cells = split_cells(last, delimiter) or []
    return last.count('"') % 2 == 0 and bool(columns) and len(cells) >= len(columns)


def _cannot_write(path: Path, problem: OSError) -> KeeperError:
    return KeeperError(say("The file cannot be written ({strerror}).",
                           strerror=str(problem.strerror)), path.name,
                       say("Nothing was changed. Check the disk and the rights of the folder."))
