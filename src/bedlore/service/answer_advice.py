"""One tap on advice: done as said, done otherwise, or skipped; with the entries that tell of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Literal, Protocol

from bedlore.decide.action_rows import MOVE_SHARE
from bedlore.decide.records import Action, Advice
from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author, LogBook, Receipt
from bedlore.service.record_entry import record_entries

Answer = Literal["done", "changed", "skipped"]
ANSWERS = ("done", "changed", "skipped")


class AdviceBook(Protocol):
    """Keeps the advice given on one farm."""

    def advice(self, number: int) -> Advice | None:
        """The advice with this number."""
        ...

    def note_answer(self, number: int, answer: Answer, entry_ids: Sequence[str], by: Author,
                    now: dt.datetime) -> None:  # fmt: skip
        """Keeps what the keeper made of it, and the entries that tell of it; a later answer takes
        the place of an earlier."""
        ...


def answer_advice(
    advices: AdviceBook, book: LogBook, farm: Farm, number: int, answer: Answer, by: Author,
    now: dt.datetime, changed: Mapping[str, Any] | None = None, client_id: str = "",
) -> list[Receipt]:  # fmt: skip
    """Keeps the answer and writes what it comes to: for ``done`` an entry for each act of today,
    but for what ``changed`` says otherwise (its moment, say), for ``changed`` the keeper's own
    entry; none for ``skipped``, or when there is nothing to write. All are written or none; the
    second and third are sent under ``client_id`` with their number behind it. Raises
    :class:`FaultList` as ``record_entry`` does."""
    if answer not in ANSWERS:
        raise FaultList([Fault("answer", say("Choose one of {answers}.",
                                             answers=", ".join(ANSWERS)))])
    advice = advices.advice(number)
    if advice is None:
        raise KeeperError(say("There is no such advice."), fix=say("Load the page again."))
    raws: list[Mapping[str, Any]] = []
    if answer == "done":
        said = (entry_of(advice.bed_id, action, now) for action in advice.today)
        raws = [{**one, **(changed or {})} for one in said if one]
    elif answer == "changed":
        raws = [{"bed": advice.bed_id, "at": now, **(changed or {})}]
    names = [f"{client_id}-{place}" if client_id and place > 1 else client_id
             for place in range(1, len(raws) + 1)]  # fmt: skip
    receipts = record_entries(book, farm, list(zip(raws, names, strict=True)), by, now)
    advices.note_answer(number, answer, [one.written.entry.id for one in receipts], by, now)
    return receipts


def entry_of(bed_id: str, action: Action, now: dt.datetime) -> dict[str, Any] | None:
    """The entry that tells that ``action`` was done now; None for doing nothing, and for a look,
    whose outcome only the keeper knows."""
    common = {"bed": bed_id, "zone": action.zone_id or None, "at": now}
    parts = [
        {"material": material, "mass_kg": mass} for material, mass in action.parts
        if material != "water"
    ]  # fmt: skip
    if action.kind in ("feed", "bedding") and parts:
        place = {"place": action.place} if action.kind == "feed" else {}
        return {**common, "kind": action.kind, "parts": parts, **place}
    if action.kind == "water":
        return {**common, "kind": "water", "mass_kg": action.mass_kg}
    if action.kind in ("cover", "insulate"):
        material = {"material": action.material} if action.material else {}
        thickness = {"thickness_m": action.thickness_m} if action.thickness_m else {}
        return {**common, "kind": "cover", "state": "on", **material, **thickness}
    if action.kind == "uncover":
        return {**common, "kind": "cover", "state": "off"}
    if action.kind == "mat":
        setpoint = {} if action.setpoint_c is None else {"setpoint_c": action.setpoint_c}
        return {**common, "kind": "mat", "state": action.material or "on", **setpoint}
    if action.kind == "move":
        return {**common, "kind": "move", "to_zone": action.to_zone, "share": MOVE_SHARE}
    return None
