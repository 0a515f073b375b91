"""The log format, version 1, in its two encodings: entries to CSV rows and JSON lines.

Documented in ``docs/formats/log.md``. In CSV an entry with several parts takes one row a part,
one below the other, with the same id and ``part`` 1, 2, 3.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from bedlore.farm.fields import Record, key_names
from bedlore.farm.log import ENTRY_KINDS, AnyEntry, Part

FORMAT_VERSION = 1

COLUMNS = (
    "id", "at", "at_error_h", "kind", "bed", "zone", "who", "amends",
    "part", "material", "amount", "mass_kg", "mass_error_frac", "container", "count",
    "place", "depth_m", "state", "thickness_m", "lid", "temp_c", "device", "error_k", "word",
    "food_left", "smell", "volume_l", "adults", "juveniles", "hatchlings", "worms", "cocoons",
    "worms_kg", "worms_error_frac", "share", "moisture_frac", "worms_left_share", "to_zone",
    "to_bed", "order", "what", "side", "setpoint_c", "note", "low_c", "high_c", "wet_kg", "dry_kg",
    "found",
)
# Spreadsheets run cells that begin like this as formulas; written with ' in front.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_PLAIN_NUMBER = re.compile(r"-?\d+(\.\d+)?([eE][+-]?\d+)?")


def entry_to_dict(entry: AnyEntry) -> dict[str, Any]:
    """``entry`` as plain keys and values, empty ones left out, ``kind`` in front of the rest."""
    plain = entry.model_dump(exclude_none=True)
    plain["at"] = _time_text(entry.at)
    if "parts" in plain:
        plain["parts"] = [_part_to_dict(part) for part in plain["parts"]]
    ordered = {key: plain.pop(key) for key in ("id", "at", "kind")}
    ordered.update(plain)
    return {key: value for key, value in ordered.items() if value not in ("", (), [])}


def _part_to_dict(part: dict[str, Any]) -> dict[str, Any]:
    words = part.pop("words", "")
    return {**part, "amount": words} if words else part


def _time_text(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")


def entry_to_json(entry: AnyEntry) -> str:
    """``entry`` as one JSON line, without the line end."""
    return json.dumps(entry_to_dict(entry), ensure_ascii=False, allow_nan=False)


def entry_to_rows(entry: AnyEntry) -> Iterator[dict[str, str]]:
    """``entry`` as CSV rows (column -> cell), one for each part; empty cells are left out."""
    plain = entry_to_dict(entry)
    parts = plain.pop("parts", None)
    if "order" in plain:
        plain["order"] = " ".join(plain["order"])
    common = {key: _cell(value) for key, value in plain.items()}
    if parts is None:
        yield common
        return
    for number, part in enumerate(parts, start=1):
        yield {**common, "part": str(number), **{k: _cell(v) for k, v in part.items()}}


def _cell(value: object) -> str:
    if isinstance(value, float):
        return repr(value)
    return escape_cell(str(value))


def escape_cell(text: str) -> str:
    """``text`` for one cell: no line ends, and nothing a spreadsheet would run as a formula."""
    text = text.replace("\\", "\\\\").replace("\n", "\\n")
    if _FORMULA.match(text) and not _PLAIN_NUMBER.fullmatch(text):
        return "'" + text
    return text


def unescape_cell(cell: str) -> str:
    """What :func:`escape_cell` was given."""
    if cell.startswith("'") and _FORMULA.match(cell):
        cell = cell[1:]
    if "\\" not in cell:
        return cell
    return re.sub(r"\\([\\n])", lambda m: "\n" if m.group(1) == "n" else "\\", cell)


def header_line(columns: Sequence[str] = COLUMNS, delimiter: str = ",") -> str:
    """The first line of a CSV log, with its line end."""
    return csv_line(dict(zip(columns, columns, strict=True)), columns, delimiter)


def csv_line(row: Mapping[str, str], columns: Sequence[str], delimiter: str = ",") -> str:
    """``row`` as one CSV line with its line end; ``columns`` gives the order."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\n")
    writer.writerow([row.get(column, "") for column in columns])
    return text.getvalue()


def split_cells(text: str, delimiter: str) -> list[str] | None:
    """The cells of one CSV row, or None when it is no proper CSV."""
    try:
        return next(csv.reader([text], delimiter=delimiter), [])
    except csv.Error:
        return None


def encode_csv(entries: Iterable[AnyEntry]) -> Iterator[str]:
    """The lines of a whole CSV log."""
    yield header_line()
    for entry in entries:
        for row in entry_to_rows(entry):
            yield csv_line(row, COLUMNS)


def encode_jsonl(entries: Iterable[AnyEntry]) -> Iterator[str]:
    """The lines of a whole JSON Lines log."""
    for entry in entries:
        yield entry_to_json(entry) + "\n"


_RECORDS: tuple[type[Record], ...] = (*ENTRY_KINDS.values(), Part)


def known_column(name: str) -> bool:
    """Whether some kind of entry has a field for the CSV column ``name`` (a field, its short
    name, or its short name with a unit)."""
    if name in COLUMNS:
        return True
    return any(next(iter(r.with_full_names({name: None}))) in r.model_fields for r in _RECORDS)


def column_names() -> tuple[str, ...]:
    """All columns and short names, for suggesting the nearest."""
    short = [name for record in _RECORDS for name in key_names(record)]
    return tuple(dict.fromkeys([*COLUMNS, *short]))
