"""A temperature logger's CSV: guess the columns, show what they mean, write the readings.

Loggers write many readings an hour; one an hour is kept (the middle one), as the model steps by
the hour. Ids follow from bed, zone, device and hour, so importing a file again adds nothing.
"""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.load import decode
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.when import parse_when
from bedlore.say import say
from bedlore.service.book import Author, LogBook, ToWrite
from bedlore.service.record_entry import understand
from bedlore.units import parse_quantity

MAX_BYTES = 30_000_000
MAX_ROWS = 500_000
MAX_FAULTS = 50
_SAMPLES = 8
_DELIMITERS = (",", ";", "\t")
_TIME = re.compile(r"\b(date|time|timestamp|datetime|when|at)\b", re.IGNORECASE)
_TEMP = re.compile(r"temp|°\s*[cf]|celsius|fahrenheit|deg", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"°\s*f\b|deg\s*f\b|fahrenheit|\(\s*f\s*\)|_f\b", re.IGNORECASE)
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?(\s*[ap]\.?m\.?)?", re.IGNORECASE)
ORDERS = ("year-month-day", "day-month-year", "month-day-year")


@dataclass(frozen=True)
class Columns:
    """Which column of the file is what, counted from 0, and how its figures are written.

    ``clock`` is the column of the time of day when it stands apart from the date (-1 for none);
    ``order`` one of :data:`ORDERS`; ``unit`` degC or degF; ``skip`` lines stand above the
    readings. ``bed``, ``zone``, ``depth_m``, ``device`` and ``error_k`` go into every entry.
    """

    time: int
    temp: int
    clock: int = -1
    order: str = "year-month-day"
    unit: str = "degC"
    skip: int = 1
    delimiter: str = ","
    decimal_comma: bool = False
    bed: str = ""
    zone: str = ""
    depth_m: float = 0.1
    device: str = "logger"
    error_k: float = 0.5


@dataclass(frozen=True)
class LoggerTable:
    """The top of a logger's file: column names, some rows, and a guess at what is what."""

    names: tuple[str, ...]
    samples: tuple[tuple[str, ...], ...]
    guess: Columns


@dataclass(frozen=True)
class ReadingsPreview:
    """What the file would bring: ``entries`` of kind probe, one an hour, from ``rows`` rows."""

    entries: tuple[AnyEntry, ...]
    rows: int
    faults: tuple[Fault, ...]
    faults_left_out: int = 0

    @property
    def temps_c(self) -> tuple[float, float]:
        """Lowest and highest temperature [degC]; raises ``ValueError`` without entries."""
        temps = [entry.temp_c for entry in self.entries if entry.kind == "probe"]
        return min(temps), max(temps)


def look_at_table(data: bytes, where: str) -> LoggerTable:
    """The columns of a logger's file, with a guess; raises :class:`KeeperError`."""
    if len(data) > MAX_BYTES:
        raise KeeperError(say("The file is larger than {max_bytes} MB.",
                              max_bytes=MAX_BYTES // 1000000), where,
                          say("Split it and import the parts one after the other."))  # fmt: skip
    lines = decode(data, where).splitlines()[:60]
    delimiter = max(_DELIMITERS, key=lambda mark: sum(line.count(mark) for line in lines))
    rows = list(_cells(lines, delimiter))
    first = next((i for i, row in enumerate(rows) if _is_reading(row)), None)
    if first is None:
        raise KeeperError(say("No line with a time and a temperature was found in it."), where,
                          say("Export the readings as CSV, one reading a line."))  # fmt: skip
    width = len(rows[first])
    above = rows[first - 1] if first and len(rows[first - 1]) == width else [""] * width
    names = tuple(name.strip() or say("column {number}", number=i + 1)
                  for i, name in enumerate(above))  # fmt: skip
    samples = tuple(tuple(row) for row in rows[first : first + _SAMPLES])
    return LoggerTable(names, samples, _guess(names, samples, first, delimiter))


def preview_readings(farm: Farm, data: bytes, columns: Columns, where: str,
                     now: dt.datetime) -> ReadingsPreview:  # fmt: skip
    """The entries that the file gives with ``columns``; raises :class:`FaultList` when the
    columns themselves cannot be right."""
    _check(farm, columns)
    hours: dict[dt.datetime, list[tuple[dt.datetime, float]]] = {}
    faults: list[Fault] = []
    rows = left_out = 0
    lines = decode(data, where).splitlines()
    for number, cells in enumerate(_cells(lines, columns.delimiter), start=1):
        if number <= columns.skip or not any(cell.strip() for cell in cells):
            continue
        rows += 1
        if rows > MAX_ROWS:
            faults.append(Fault(where, say("There are more than {max_rows} readings; the rest"
                                           " was not read. Split the file.",
                                           max_rows=f"{MAX_ROWS:,}")))  # fmt: skip
            break
        try:
            at, temp_c = _reading(farm, cells, columns)
        except KeeperError as problem:
            if len(faults) < MAX_FAULTS:
                faults.append(Fault(f"{where} line {number}", problem.said))
            else:
                left_out += 1
            continue
        hours.setdefault(at.replace(minute=0, second=0, microsecond=0), []).append((at, temp_c))
    entries = []
    for hour in sorted(hours):
        at, temp_c = sorted(hours[hour], key=lambda pair: pair[1])[len(hours[hour]) // 2]
        try:
            entries.append(_entry(farm, at, hour, temp_c, columns, now))
        except FaultList as problem:
            faults += [Fault(f"{where} {at:%Y-%m-%d %H:%M}", f.sentence) for f in problem.faults]
    if len(faults) > MAX_FAULTS:
        left_out += len(faults) - MAX_FAULTS
        faults = faults[:MAX_FAULTS]
    return ReadingsPreview(tuple(entries), rows, tuple(faults), left_out)


def import_readings(book: LogBook, preview: ReadingsPreview, by: Author, now: dt.datetime) -> int:
    """Writes the readings of ``preview``; returns how many were not in the book before."""
    there = book.known([entry.id for entry in preview.entries])
    new = [ToWrite(entry) for entry in preview.entries if entry.id not in there]
    for first in range(0, len(new), 500):
        book.write(new[first : first + 500], by, now)
    return len(new)


def _cells(lines: Sequence[str], delimiter: str) -> Iterator[list[str]]:
    for line in lines:
        try:
            yield next(csv.reader(io.StringIO(line), delimiter=delimiter), [])
        except csv.Error:
            yield [line]


def _number(text: str, decimal_comma: bool) -> float | None:
    cleaned = re.sub(r"\s*(°|deg)?\s*[CF]?\s*$", "", text.strip(), flags=re.IGNORECASE)
    if decimal_comma or ("," in cleaned and "." not in cleaned):
        cleaned = cleaned.replace(",", ".")
    try:
        return float(cleaned)
    except ValueError:
        return None


def _looks_like_time(text: str) -> bool:
    return re.search(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}", text) is not None


def _is_reading(row: Sequence[str]) -> bool:
    return any(_looks_like_time(cell) for cell in row) and any(
        _number(cell, False) is not None for cell in row if not _looks_like_time(cell)
    )


def _guess(names: Sequence[str], samples: Sequence[Sequence[str]], skip: int,
           delimiter: str) -> Columns:  # fmt: skip
    row = samples[0]
    time = next(i for i, cell in enumerate(row) if _looks_like_time(cell))
    clock = -1
    if ":" not in row[time]:
        clock = next((i for i, cell in enumerate(row)
                      if _CLOCK.fullmatch(cell.strip())), -1)  # fmt: skip
    figures = [i for i, cell in enumerate(row)
               if i not in (time, clock) and _number(cell, False) is not None]  # fmt: skip
    named = [i for i in figures if _TEMP.search(names[i])]
    temp = (named or [i for i in figures if "." in row[i] or "," in row[i]] or figures)[0]
    fahrenheit = bool(_FAHRENHEIT.search(names[temp]) or _FAHRENHEIT.search(row[temp]))
    return Columns(
        time, temp, clock, _guess_order([cells[time] for cells in samples if len(cells) > time]),
        "degF" if fahrenheit else "degC", skip, delimiter, delimiter != "," and "," in row[temp],
    )  # fmt: skip


def _guess_order(texts: Sequence[str]) -> str:
    triples = [re.findall(r"\d+", text)[:3] for text in texts]
    if any(triple and len(triple[0]) == 4 for triple in triples):
        return ORDERS[0]
    if any(len(triple) > 1 and int(triple[1]) > 12 for triple in triples):
        return ORDERS[2]
    return ORDERS[1]


def _check(farm: Farm, columns: Columns) -> None:
    faults = []
    if farm.bed(columns.bed) is None:
        known = ", ".join(bed.id for bed in farm.beds[:12])
        faults.append(Fault("bed", say("Choose the bed it stood in: {known}.", known=known)))
    if columns.order not in ORDERS:
        faults.append(Fault("order", say("Choose one of {orders}.", orders=", ".join(ORDERS))))
    if columns.unit not in ("degC", "degF"):
        faults.append(Fault("unit", say("Choose degC or degF.")))
    if columns.delimiter not in _DELIMITERS:
        faults.append(Fault("delimiter", say("Choose comma, semicolon or tab.")))
    if columns.time == columns.temp or min(columns.time, columns.temp) < 0:
        faults.append(Fault("temp", say("Time and temperature must be two different columns.")))
    if faults:
        raise FaultList(faults)


def _reading(farm: Farm, cells: Sequence[str], columns: Columns) -> tuple[dt.datetime, float]:
    if len(cells) <= max(columns.time, columns.temp, columns.clock):
        raise KeeperError(say("The line has too few columns."))
    number = _number(cells[columns.temp], columns.decimal_comma)
    if number is None or number != number:
        raise KeeperError(say("{strip} is no temperature.",
                              strip=repr(cells[columns.temp].strip()[:40])))
    text = cells[columns.time]
    if columns.clock >= 0:
        text = f"{text} {cells[columns.clock]}"
    when = parse_when(_ordered(text, columns.order), farm.site.zone_info())
    return when.at, parse_quantity(f"{number} {columns.unit}", "temperature")


def _ordered(text: str, order: str) -> str:
    """``text`` with its date as year-month-day, which is what is read; the rest as it is."""
    found = re.match(r"\s*(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})[T\s,]*(.*)", text, re.DOTALL)
    if found is None:
        return text
    a, b, c, rest = found.groups()
    year, month, day = {ORDERS[0]: (a, b, c), ORDERS[1]: (c, b, a), ORDERS[2]: (c, a, b)}[order]
    year = f"20{year}" if len(year) == 2 else year
    half = re.match(r"(\d{1,2})(:\d{2}(?::\d{2})?)\s*([ap])\.?m\.?$", rest.strip(), re.IGNORECASE)
    if half:
        hour = int(half[1]) % 12 + (12 if half[3].lower() == "p" else 0)
        rest = f"{hour:02d}{half[2]}"
    return f"{year}-{month}-{day} {rest}".strip()


def _entry(farm: Farm, at: dt.datetime, hour: dt.datetime, temp_c: float, columns: Columns,
           now: dt.datetime) -> AnyEntry:  # fmt: skip
    name = f"{columns.bed}|{columns.zone}|{columns.device}|{columns.depth_m}|{hour.isoformat()}"
    raw = {
        "id": f"logger-{hashlib.blake2b(name.encode(), digest_size=10).hexdigest()}",
        "kind": "probe", "at": at, "bed": columns.bed, "zone": columns.zone or None,
        "temp_c": temp_c, "depth_m": columns.depth_m, "device": columns.device,
        "error_k": columns.error_k,
    }  # fmt: skip
    entry = understand(farm, raw, now).entry
    assert entry is not None
    return entry


def with_bed(columns: Columns, bed: str, zone: str = "") -> Columns:
    """``columns`` for a bed and zone."""
    return replace(columns, bed=bed, zone=zone)
