"""What was learnt of each bed and the outlooks given, kept beside the farm file.

What was learnt can be deleted: it is learnt again. The outlooks given (``outlooks.jsonl``) are a
record: without them past odds cannot be judged. It does not grow without end: of the last
``WHOLE_D`` days all stay, before that the first of each day, and none that is older than
``JUDGED_D`` days. A folder that cannot be written to costs time, never an answer.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

from bedlore.errors import KeeperError
from bedlore.learn.record import Learnt, from_bytes, to_bytes
from bedlore.learn.verify import PastOutlook
from bedlore.outlook.ahead import WINDOW_D
from bedlore.store.durable import append_bytes, locked, replace_file

FOLDER = "learnt"
OUTLOOKS = "outlooks.jsonl"
WHOLE_D = WINDOW_D + 31  # days: an outlook's window, and a month for late entries
JUDGED_D = WHOLE_D + 366  # a year more, so that readings of every season are judged
_SLACK = 0.1  # share of the record that may be past its time before the file is written anew
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
        return [found[key] for key in _staying(found)]

    def keep_outlooks(self, outlooks: Iterable[PastOutlook]) -> None:
        """Write outlooks down as given; of a zone's outlooks of one hour the first stays, and what
        is past its time goes. Nothing is kept while another program writes to the farm."""
        with contextlib.suppress(OSError, KeeperError):
            self.folder.mkdir(parents=True, exist_ok=True)
            with locked(self.folder):
                self._add_outlooks(outlooks)

    def _add_outlooks(self, outlooks: Iterable[PastOutlook]) -> None:
        known = self._named()
        new = {key: json.dumps({**asdict(o), "made_at": o.made_at.isoformat()})
               for o in outlooks if (key := (o.bed_id, o.zone_id, o.made_at)) not in known}
        lines = {**known, **new}
        staying = _staying(lines)
        path = self.folder / OUTLOOKS
        if len(lines) - len(staying) > _SLACK * len(lines):
            replace_file(path, (lines[key].encode() + b"\n" for key in staying))
        else:
            append_bytes(path, b"".join(line.encode() + b"\n" for line in new.values()))

    def _named(self) -> dict[_Key, str]:
        """Lines of the record by what they are of. A year of them is megabytes of figures: of a
        line only what is written before them is read."""
        known: dict[_Key, str] = {}
        for line in self._lines():
            head, figures, _ = line.partition(_FIGURES)
            whole = figures and line.endswith("}")  # not torn by a power cut
            with contextlib.suppress(ValueError, KeyError, TypeError):
                known.setdefault(_key(json.loads(head + "}" if whole else line)), line)
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
    if made_at.tzinfo is None:
        raise ValueError("an hour of no place")
    return str(raw["bed_id"]), str(raw["zone_id"]), made_at


def _made_at(key: _Key) -> dt.datetime:
    return key[2]


def _staying(keys: Iterable[_Key]) -> list[_Key]:
    """Those whose time is not past, in order of time. It is counted from the newest, since a farm
    may stand still; a mistyped year ahead of the clock throws nothing away."""
    in_order = sorted(keys, key=_made_at)
    if not in_order:
        return []
    newest = min(_made_at(in_order[-1]), dt.datetime.now(dt.UTC))
    whole_from = newest - dt.timedelta(days=WHOLE_D)
    judged_from = newest - dt.timedelta(days=JUDGED_D)
    staying, days = list[_Key](), set[tuple[str, str, dt.date]]()
    for bed, zone, made_at in in_order:
        day = (bed, zone, made_at.astimezone(dt.UTC).date())
        if made_at >= whole_from or (made_at >= judged_from and day not in days):
            staying.append((bed, zone, made_at))
        days.add(day)
    return staying


def _outlook(raw: dict[str, object]) -> PastOutlook:
    rows = raw["temp_c"]
    if not isinstance(rows, list) or len(rows) < 2:
        raise ValueError("no outlook")
    return PastOutlook(
        *_key(raw), tuple(tuple(map(float, row)) for row in rows),
        float(str(raw.get("spread", 1.0))),
    )  # fmt: skip
