"""From records to what the API gives."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.errors import FaultList, KeeperError
from bedlore.say import say
from bedlore.service.book import Changed, Place, Receipt, TakenId, Written
from bedlore.service.correct_entry import Change
from bedlore.store.log_format import entry_to_dict

Account = dict[str, Any]


def written(found: Written) -> Account:
    """An entry as it stands in the log."""
    return {
        "number": found.number, "written_at": found.written_at, "written_by": found.written_by,
        "client_id": found.client_id, "holds": found.holds, "entry": entry_to_dict(found.entry),
    }  # fmt: skip


def receipt(got: Receipt) -> Account:
    """What became of an entry."""
    remarks = [{"path": path, "sentence": sentence} for path, sentence in got.remarks]
    return {"written": written(got.written), "repeated": got.repeated, "remarks": remarks}


def step(change: Change) -> Account:
    """One step in the life of an entry."""
    changes = [
        {"field": name, "before": _plain(before), "after": _plain(after)}
        for name, before, after in change.fields
    ]
    return {"written": written(change.written), "changes": changes}


def _plain(value: object) -> object:
    if isinstance(value, (dt.datetime, dt.date)):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def problem(error: KeeperError) -> tuple[int, Account]:
    """Status and body for what the keeper can mend."""
    faults = error.faults if isinstance(error, FaultList) else ()
    told = [{"path": fault.path, "sentence": fault.sentence} for fault in faults]
    status = 409 if isinstance(error, (Changed, TakenId)) else 422
    return status, {"problem": str(error), "faults": told}


def place_text(found: Written) -> str:
    """Where a list goes on, as text."""
    return f"{found.entry.at.timestamp():.6f}_{found.number}"


def place_of(text: str) -> Place | None:
    """The place that ``text`` names; raises :class:`KeeperError`."""
    if not text:
        return None
    try:
        stamp, number = text.split("_")
        at = dt.datetime.fromtimestamp(float(stamp), dt.UTC)
        if abs(int(number)) >= 2**62:
            raise ValueError
        return Place(at, int(number))
    except (ValueError, OverflowError, OSError):
        raise KeeperError(say("This is no place in the list."), "behind",
                          say("Leave it out.")) from None  # fmt: skip
