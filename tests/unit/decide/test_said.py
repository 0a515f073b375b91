"""Every word of a decision can be said again in another language: none is plain text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

import pytest

from bedlore.decide.advise import advise
from bedlore.decide.card import find_card
from bedlore.decide.case import Case
from bedlore.decide.harm import harms_of
from bedlore.decide.lifeboat import lifeboat_of
from bedlore.decide.pantry import pantry_of
from bedlore.decide.plan import Told, plan_of
from bedlore.decide.plan_advice import led_by, outdated
from bedlore.decide.plan_search import Effort
from bedlore.say import Said, again, speaking
from tests.unit.decide.conftest import bed_of, feed, weather

# Names and keys of the records; everything else that is text is told to the keeper.
KEYS = frozenset(("bed_id", "kind", "zone_id", "material", "place", "basis", "food_left", "band",
                  "event", "limit", "inputs", "parts", "leads",
                  "reading"))  # fmt: skip


def texts(record: Any) -> Iterator[str]:
    if isinstance(record, str):
        yield record
    elif is_dataclass(record):
        for field in fields(record):
            if field.name not in KEYS:
                yield from texts(getattr(record, field.name))
    elif isinstance(record, (tuple, list)):
        for one in record:
            yield from texts(one)


@pytest.mark.parametrize("ahead_c", [-5.0, 33.0])
def test_every_text_is_said(
    make_case: Callable[..., Case], ahead_c: Sequence[float] | float
) -> None:
    bed = bed_of(cover=True, heat_mat={"watts": 40, "setpoint_c": 10})
    case = make_case(bed, feeds=[feed(12.0, bed, 2.0)], past_c=10.0, ahead_c=ahead_c)
    quick = advise(case)
    few = Effort(few=3, some=4, together=4, least=0, kept_some=4, feeds=6, fresh=20)
    told = Told(quick, before=quick)
    plan = plan_of(case, weather(ahead_c, 14, members=36), told, 0.3, few)
    new = make_case(bed, feeds=[feed(20.0, bed, 0.45)], past_c=10.0)
    given = (quick, find_card(case), find_card(new), pantry_of(case), lifeboat_of(case),
             harms_of(case), plan, led_by(plan, quick), outdated(quick))  # fmt: skip
    found = [text for text in texts(given) if text]
    assert len(found) > 25
    assert [text for text in found if not isinstance(text, Said)] == []
    with speaking("es", "us"):
        there = again(found)
    same = {ours for ours, theirs in zip(found, there, strict=True) if ours == theirs}
    assert same == set(), "said alike in both languages"
    assert not any("degC" in text or " kg" in text for text in there)
