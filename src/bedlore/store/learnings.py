"""What was learnt of each bed and the outlooks given, kept beside the farm file.

What was learnt can be deleted: it is learnt again. The outlooks given (``outlooks.jsonl``) are a
record: without them past odds cannot be judged. A folder that cannot be written to costs time,
never an answer.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

from bedlore.learn.record import Learnt, from_bytes, to_bytes
from bedlore.learn.verify import PastOutlook
from bedlore.store.durable import append_bytes, replace_file

FOLDER = "learnt"
OUTLOOKS = "outlooks.jsonl"
_FIGURES = ', "temp_c": '  # what a line goes on with after bed, zone and hour
_Key = tuple[str, str, dt.datetime]


class Learnings:
    """The learnings of the farm in ``folder``."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def learnt(self, bed_id: str) -> Learnt | None:
        """What was learnt of a bed, if it can be read and the model is the same."""
        try:
            return from_bytes(self._path(bed_id).read_bytes())
        except OSError:
            return None

    def keep_learnt(self, learnt: Learnt) -> None:
        """Store it in place of what was."""
        with contextlib.suppress(OSError):
            path = self._path(learnt.bed_id)
            path.parent.mkdir(parents=True, exist_ok=True)
            replace_file(path, [to_bytes(learnt)])

    def outlooks(self) -> list[PastOutlook]:
        """Outlooks as they were given, in order of time; lines that cannot be read are passed
        over."""
        found: dict[_Key, PastOutlook] = {}
        for line in self._lines():
            with contextlib.suppress(ValueError, KeyError, TypeError):
                raw = json.loads(line)
                found.setdefault(_key(raw), _outlook(raw))
        return sorted(found.values(), key=lambda outlook: outlook.made_at)

    def keep_outlooks(self, outlooks: Iterable[PastOutlook]) -> None:
        """Write outlooks down as given; of a zone's outlooks of one hour the first stays."""
        known = self._names()
        lines = b"".join(
            json.dumps({**asdict(o), "made_at": o.made_at.isoformat()}).encode() + b"\n"
            for o in outlooks if (o.bed_id, o.zone_id, o.made_at) not in known
        )  # fmt: skip
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            append_bytes(self.folder / OUTLOOKS, lines)

    def _names(self) -> set[_Key]:
        """Which outlooks stand in the record. A year of them is megabytes of figures: of a line
        only what is written before them is read."""
        known = set()
        for line in self._lines():
            head, figures, _ = line.partition(_FIGURES)
            whole = figures and line.endswith("}")  # not torn by a power cut
            with contextlib.suppress(ValueError, KeyError, TypeError):
                known.add(_key(json.loads(head + "}" if whole else line)))
        return known

    def _lines(self) -> list[str]:
        """Lines of the record; one spoilt byte spoils its own line only."""
        try:
            return (self.folder / OUTLOOKS).read_text("utf-8", errors="replace").splitlines()
        except OSError:
            return []

    def _path(self, bed_id: str) -> Path:
        return self.folder / FOLDER / f"{bed_id}.npz"


def _key(raw: dict[str, object]) -> _Key:
    """What tells outlooks apart: bed, zone, hour."""
    made_at = dt.datetime.fromisoformat(str(raw["made_at"]))
    return str(raw["bed_id"]), str(raw["zone_id"]), made_at


def _outlook(raw: dict[str, object]) -> PastOutlook:
    rows = raw["temp_c"]
    if not isinstance(rows, list) or len(rows) < 2:
        raise ValueError("no outlook")
    return PastOutlook(
        *_key(raw), tuple(tuple(map(float, row)) for row in rows),
        float(str(raw.get("spread", 1.0))),
    )  # fmt: skip
