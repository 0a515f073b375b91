"""What is wrong, odd or risky in a farm file and its log, as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bedlore.errors import Fault
from bedlore.farm.cautions import cautions
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading


def check_account(
    farm: Farm | None, log: LogReading | None, faults: Iterable[Fault] = (),
    notes: Iterable[Fault] = (),
) -> dict[str, Any]:  # fmt: skip
    """What ``bedlore check --json`` prints. ``farm`` None means that it could not be used.

    ``faults`` and ``notes`` are those of other files than the log; each thing is told once.
    """
    every = [*(log.faults if log else ()), *faults]
    noted = [*(log.notes if log else ()), *notes]
    return {
        "farm": farm.name if farm else None,
        "beds": [bed.id for bed in farm.beds] if farm else [],
        "entries": len(log.current) if log else 0,
        "faults": [_told(fault) for fault in dict.fromkeys(every)],
        "faults_left_out": log.faults_left_out if log else 0,
        "notes": [_told(note) for note in dict.fromkeys(noted)],
        "cautions": [_told(caution) for caution in (cautions(farm) if farm else ())],
        "kept_aside": [
            {"file": line.file, "line": line.line, "raw": line.raw}
            for line in (log.kept_aside if log else ())
        ],
    }


def _told(fault: Fault) -> dict[str, str]:
    return {"path": fault.path, "sentence": fault.sentence}
