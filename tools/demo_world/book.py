"""The logbook as the keeper writes it: lines in order of writing, slips, and late entries."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from bedlore.farm.interpret import Interpreter
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.store.log_format import COLUMNS, csv_line, header_line

Cells = dict[str, Any]

# The how-many-th line of a kind went wrong, and what stood there; put right some days later.
SLIPS: dict[tuple[str, int], Cells] = {
    ("feed", 11): {"amount": "26 kg"}, ("feed", 43): {"amount": "9 kg"},
    ("feed", 88): {"amount": "2 blue buckets"}, ("feed", 121): {"material": "coffee grounds"},
    ("look", 27): {"food_left": "lots"}, ("look", 90): {"smell": "sour"},
    ("probe", 22): {"temp_c": "48"}, ("probe", 71): {"temp_c": "19.5"},
    ("probe", 104): {"temp_c": "45 degF"}, ("squeeze", 30): {"word": "runs"},
}  # fmt: skip
TWICE = ("feed", 64)  # written down by two people; one of the lines was taken back
PUT_RIGHT_D = 2


@dataclass
class Book:
    """Lines written so far, and what is still to be put right or written late."""

    farm: Farm
    lines: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    _next: int = 1
    _pending: list[tuple[dt.date, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._read = Interpreter(self.farm)
        self._zone = self.farm.site.zone_info()

    def write(self, at: dt.datetime, kind: str, bed: str, *, late_d: int = 0,
              when: str = "", **cells: Any) -> AnyEntry:  # fmt: skip
        """Write one entry (``at`` is local time) and return what it says once put right.

        ``parts`` of a feed are rows of their own; ``late_d`` days later it is written, with
        ``when`` in place of the time.
        """
        self._bring_up(at.date())
        mark = f"k{self._next:04d}"
        self._next += 1
        self.counts[kind] = nth = self.counts.get(kind, 0) + 1
        row: Cells = {"id": mark, "at": when or f"{at:%Y-%m-%d %H:%M}", "kind": kind, "bed": bed}
        row.update({key: value for key, value in cells.items() if value not in (None, "")})
        if kind == "feed" and (kind, nth) == TWICE:
            self._put(row)
            self._put({**row, "id": f"{mark}-b", "who": "Matteo"})
            void = {"id": f"{mark}-c", "at": row["at"], "kind": "void", "bed": bed,
                    "amends": f"{mark}-b", "note": "Jonna had written it already."}
            self._later(at, PUT_RIGHT_D, void)
        elif late_d:
            self._later(at, late_d, row)
        elif (kind, nth) in SLIPS:
            self._put(_spoilt(row, SLIPS[kind, nth]))
            row = {**row, "id": f"{mark}-c", "amends": mark}
            self._later(at, PUT_RIGHT_D, row)
        else:
            self._put(row)
        return self.understood(row)

    def understood(self, row: Cells) -> AnyEntry:
        """What the product makes of a row."""
        found = self._read.read(row)
        if found.entry is None:
            raise ValueError(f"{row}: {[str(fault.sentence) for fault in found.faults]}")
        return found.entry

    def text(self) -> str:
        """The whole file, with what is still to be put right."""
        return header_line() + "".join(self.lines) + "".join(text for _, text in self._pending)

    def _bring_up(self, today: dt.date) -> None:
        due = [entry for entry in self._pending if entry[0] <= today]
        self._pending = [entry for entry in self._pending if entry[0] > today]
        self.lines += [text for _, text in due]

    def _put(self, row: Cells) -> None:
        self.lines.append(_as_csv(row))

    def _later(self, at: dt.datetime, days: int, row: Cells) -> None:
        self._pending.append((at.date() + dt.timedelta(days=days), _as_csv(row)))
        self._pending.sort(key=lambda entry: entry[0])


def _spoilt(row: Cells, slip: Cells) -> Cells:
    wrong = {key: value for key, value in slip.items() if key not in ("amount", "material")}
    if "parts" not in row or len(wrong) == len(slip):
        return {**row, **wrong}
    first = {**row["parts"][0], **slip}
    return {**row, "parts": [first, *row["parts"][1:]]}


def _as_csv(row: Cells) -> str:
    parts = row.get("parts")
    common = {key: str(value) for key, value in row.items() if key != "parts"}
    if not parts:
        return csv_line(common, COLUMNS)
    return "".join(
        csv_line({**common, "part": str(number), **{k: str(v) for k, v in part.items()}}, COLUMNS)
        for number, part in enumerate(parts, start=1)
    )
