"""The dial of a heat mat: turned down as far as the odds allow, or up until they do.

The search tries few settings, since each costs it as much as a plan. Odds and energy go one way
with the setting (the futures are the same), so that a short walk from the best plan finds a better
one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from bedlore.decide.case import Case
from bedlore.decide.plan_options import Moves
from bedlore.decide.records import Action

STRIDES_K = (1.0, 0.5)  # a dial is set to half a degree (assumed)
WEEK_D = 7
MOST_ABOVE_K = 10.0  # of the cold limit; warmer is no protection from cold (assumed)

Found = TypeVar("Found")


def setting_c(case: Case, moves: Moves) -> float | None:
    """The thermostat [degC] in the first days of a plan; None where no mat is on then."""
    if case.twin.bed.heat_mat is None:
        return None
    first = next((a for a in moves if a.kind == "mat" and a.on_day == 0), None)
    if first is None:
        return _stands_at(case) if case.mat_on else None
    if first.material != "on":
        return None
    mat = case.twin.bed.heat_mat
    return mat.setpoint_c if first.setpoint_c is None else first.setpoint_c


def set_to(case: Case, moves: Moves, temp_c: float) -> Moves:
    """The same plan with the thermostat at ``temp_c`` from today; nothing is said where it stands
    there already."""
    rest = tuple(a for a in moves if not (a.kind == "mat" and a.on_day == 0))
    if case.mat_on and abs(temp_c - _stands_at(case)) < 0.05:
        return rest
    return (Action("mat", material="on", setpoint_c=temp_c), *rest)


def tuned(case: Case, moves: Moves, found: Found, weigh: Callable[[Moves], Found],
          better: Callable[[Found, Found], bool], *, up: bool) -> Moves:  # fmt: skip
    """``moves`` with the best setting that a walk ``up`` or down comes to; then with a lower one in
    the first week, where that does and the second asks for more.

    ``found`` is what ``moves`` came to; ``weigh`` tries another plan, ``better`` compares two.
    """
    walker = _Walker(case, weigh, better)
    moves, found = walker.walk(moves, found, 1.0 if up else -1.0)
    at = setting_c(case, moves)
    if at is None or any(a.kind == "mat" and a.on_day > 0 for a in moves):
        return moves
    raised = (*moves, Action("mat", material="on", setpoint_c=at, on_day=WEEK_D))
    lower = walker.walk(raised, found, -1.0)[0]
    return moves if lower == raised else lower


@dataclass(frozen=True)
class _Walker(Generic[Found]):
    case: Case
    weigh: Callable[[Moves], Found]
    better: Callable[[Found, Found], bool]

    def walk(self, moves: Moves, found: Found, sign: float) -> tuple[Moves, Found]:
        """Change the setting of the first days stride by stride for as long as that is better."""
        at = setting_c(self.case, moves)
        if at is None:
            return moves, found
        for stride in STRIDES_K:
            while (tried_c := round(2.0 * (at + sign * stride)) / 2.0) in self:
                other = set_to(self.case, moves, tried_c)
                came = self.weigh(other)
                if not self.better(came, found):
                    break
                at, moves, found = tried_c, other, came
        return moves, found

    def __contains__(self, temp_c: float) -> bool:
        return 0.0 <= temp_c - self.case.limits.cold_c <= MOST_ABOVE_K


def _stands_at(case: Case) -> float:
    return float(np.median(case.twin.state.zones.mat_set_c[:, list(case.living)]))
