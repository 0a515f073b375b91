"""Advice given on a farm, and what the keeper made of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pydantic import TypeAdapter, ValidationError

from bedlore.decide.records import Advice
from bedlore.service.answer_advice import Answer
from bedlore.service.book import Author
from bedlore.store.db.models import AdviceGiven, FarmRow

_ADVICE = TypeAdapter(Advice)


class DbAdvice:
    """A :class:`~bedlore.service.answer_advice.AdviceBook` over the farm ``row``."""

    def __init__(self, row: FarmRow) -> None:
        self._farm = row

    def advice(self, number: int) -> Advice | None:
        """The advice with this number, unless a version with other records wrote it."""
        row = AdviceGiven.objects.filter(farm=self._farm, pk=number).first()
        try:
            return _ADVICE.validate_json(row.body) if row is not None else None
        except ValidationError:
            return None

    def given(self, run_id: int) -> tuple[Advice, ...] | None:
        """The advice of a run; None when a version with other records wrote it."""
        rows = AdviceGiven.objects.filter(farm=self._farm, run_id=run_id).order_by("pk")
        try:
            return tuple(map(_ADVICE.validate_json, rows.values_list("body", flat=True)))
        except ValidationError:
            return None

    def note_answer(self, number: int, answer: Answer, entry_ids: Sequence[str], by: Author,
                    now: dt.datetime) -> None:  # fmt: skip
        """Keeps what the keeper made of it."""
        AdviceGiven.objects.filter(farm=self._farm, pk=number).update(
            answer=answer, answered_at=now, answered_by=by.name, entry_id=" ".join(entry_ids)
        )

    def of_run(self, run_id: int) -> dict[str, AdviceGiven]:
        """Advice of a run by bed: its number (``pk``) and the answer so far."""
        rows = AdviceGiven.objects.filter(farm=self._farm, run_id=run_id)
        return {row.bed: row for row in rows.defer("body")}
