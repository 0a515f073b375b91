"""The plan of before as it stands today: what was done is taken off, the rest is a day nearer.

A plan made anew each morning would change with nothing but the draw of the weather, and a keeper
who is told to feed on Tuesday, then on Wednesday, stops listening. What stood for today stands
unless something that can be named has changed, or another plan is clearly better.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from bedlore.decide.candidates import waters
from bedlore.decide.case import Case
from bedlore.decide.meals import Table
from bedlore.decide.plan_options import ROUNDING_KG, Moves, is_there, unsaid
from bedlore.decide.plan_records import Plan
from bedlore.decide.records import Action
from bedlore.decide.score import STAY_MARGIN
from bedlore.farm.log import AnyEntry, CoverChange, MatChange

MOST_DAYS = 3  # an older plan is no longer what the keeper has in mind (assumed)
UNNAMED = 4  # times the margin, where nothing that can be named has changed (assumed)
# What the log calls an act; foam is written down as a cover.
_WRITTEN = {"uncover": "cover", "insulate": "cover"}


@dataclass(frozen=True)
class Standing:
    """What is left of a plan, and by how many points [h] another must beat it."""

    moves: Moves
    margin: float

    def holds_today(self, moves: Moves) -> bool:
        """Whether ``moves`` asks for the same acts today."""
        return _today(self.moves) == _today(moves)


def standing(case: Case, before: Plan | None, tables: Sequence[Table],
             causes: Sequence[str]) -> Standing | None:  # fmt: skip
    """What stands of the plan ``before``; None where it is too old, or asks for more than there is
    or than a zone may be given, or for water where there may be none. ``causes`` are what has
    changed since."""
    if before is None:
        return None
    passed = (case.day(case.now) - case.day(before.made_at)).days
    if not 0 <= passed <= MOST_DAYS:
        return None
    left = unsaid(
        replace(action, on_day=max(0, action.on_day - passed))
        for action in before.actions
        if action.kind != "nothing" and not _done(case, action, passed, before.made_at)
    )
    if not _may_be_fed(case, left, tables) or not is_there(case, left):
        return None
    if any(action.kind == "water" for action in left) and not waters(case):
        return None
    return Standing(left, STAY_MARGIN * (1 if causes else UNNAMED))


def _today(moves: Moves) -> list[str]:
    return sorted(action.key for action in moves if action.on_day == 0)


def _done(case: Case, action: Action, passed: int, since: dt.datetime) -> bool:
    """Whether an act that was due is written down: for where it was meant, for the whole bed, or
    for every zone in turn where the whole bed was meant."""
    zones = {entry.zone for entry in case.entries if entry.at > since and _means(entry, action)}
    wanted = {action.zone_id} if action.zone_id else {case.zone(z).id for z in case.living}
    return action.on_day <= passed and (None in zones or wanted <= zones)


def _means(entry: AnyEntry, action: Action) -> bool:
    """Whether an entry says what an act asks for: its kind, and on or off where there are both."""
    if entry.kind != _WRITTEN.get(action.kind, action.kind):
        return False
    if isinstance(entry, MatChange):
        return entry.state == action.material
    if isinstance(entry, CoverChange):
        return entry.state == ("off" if action.kind == "uncover" else "on")
    return True


def _may_be_fed(case: Case, moves: Moves, tables: Sequence[Table]) -> bool:
    """Whether the first feed of each zone keeps to its ceiling."""
    cap_kg = {case.twin.zone_ids[table.position]: table.cap_kg for table in tables}
    first: dict[str, Action] = {}
    for action in sorted(moves, key=lambda a: a.on_day):
        if action.kind == "feed" and action.zone_id:
            first.setdefault(action.zone_id, action)
    return all(a.on_day > 0 or a.mass_kg <= cap_kg.get(zone, 0.0) + ROUNDING_KG
               for zone, a in first.items())  # fmt: skip
