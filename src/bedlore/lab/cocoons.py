"""How long cocoons take to hatch, and how many do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from pydantic import Field

from bedlore.bed.layout import Floats, new_herd
from bedlore.bed.worms import COCOON_LOST_N, COCOON_OPENED_N, FLOW_SIZE, HATCHED_N, hatch_one_hour
from bedlore.farm.fields import Record
from bedlore.lab.inputs import Parameters, Series, checked, daily, parameters
from bedlore.lab.result import Result

_COCOONS = 1000.0
_DONE = 1e-3 * _COCOONS


class HatchSpec(Record):
    """Input of :func:`hatch`."""

    temp_c: Series
    days: Annotated[int, Field(ge=1, le=20_000)] | None = None
    params: Parameters = None


@dataclass(frozen=True)
class HatchResult(Result):
    """Hatching of cocoons laid on day 0.

    By day [T]: ``day``, ``hatched_frac`` (opened so far), ``lost_frac`` (died or failed so far),
    ``waiting_frac``. Of those that opened: ``mean_d``, ``sd_d``, ``first_d`` and ``last_d`` (5 and
    95 % points) days to hatching, nan when none opened. ``hatchlings_per_cocoon`` born for each
    cocoon laid.
    """

    day: Floats
    hatched_frac: Floats
    lost_frac: Floats
    waiting_frac: Floats
    mean_d: float
    sd_d: float
    first_d: float
    last_d: float
    hatchlings_per_cocoon: float


def hatch(
    temp_c: float | Sequence[float],
    days: int | None = None,
    params: Mapping[str, float] | None = None,
) -> HatchResult:
    """Incubation of cocoons laid at one time, at ``temp_c`` [degC], a number or daily series.

    Runs ``days`` (default: the series, or until 99.9 % are hatched or lost, 1500 at most).
    ``params`` changes worm parameters by name. Returns a :class:`HatchResult`; raises FaultList
    or KeeperError in sentences. Source: thermal time, docs/worms.md; the incubation of Venter &
    Reinecke 1988 at 25 degC (23 d, 14-44) is checked in tests/exact/test_hatch.py.
    """
    return run_hatch(checked(HatchSpec, locals()))


def run_hatch(spec: HatchSpec) -> HatchResult:
    """:func:`hatch` of a checked ``spec``."""
    p = parameters(spec.params)[0]
    by_itself = isinstance(spec.temp_c, (int, float)) and spec.days is None
    longest = spec.days or (1500 if isinstance(spec.temp_c, (int, float)) else len(spec.temp_c))
    temps = daily(spec.temp_c, longest, "temp_c")
    herd = new_herd(1, 1)
    herd.cocoon_n[0, 0] = _COCOONS
    herd.cocoon_where[:] = 1.0
    flow = np.zeros(FLOW_SIZE)
    here = np.zeros(1)
    opened, lost = [0.0], [0.0]  # hour by hour
    for temp in temps:
        here[:] = temp
        for _ in range(24):
            hatch_one_hour(p, herd, 0, here, 1.0 / 24.0, flow)
            opened.append(float(flow[COCOON_OPENED_N]) / _COCOONS)
            lost.append(float(flow[COCOON_LOST_N]) / _COCOONS)
        if by_itself and herd.cocoon_n.sum() < _DONE:
            break
    return _result(np.array(opened), np.array(lost), float(flow[HATCHED_N]) / _COCOONS)


def _result(opened: Floats, lost: Floats, born: float) -> HatchResult:
    hour_d = np.arange(len(opened)) / 24.0
    mean = sd = first = last = float("nan")
    if opened[-1] > 0.0:
        share = np.diff(opened) / opened[-1]
        middle = 0.5 * (hour_d[1:] + hour_d[:-1])
        mean = float(share @ middle)
        sd = float(np.sqrt(share @ (middle - mean) ** 2))
        first, last = (float(np.interp(q * opened[-1], opened, hour_d)) for q in (0.05, 0.95))
    by_day = slice(None, None, 24)
    return HatchResult(
        day=hour_d[by_day], hatched_frac=opened[by_day], lost_frac=lost[by_day],
        waiting_frac=1.0 - opened[by_day] - lost[by_day], mean_d=mean, sd_d=sd, first_d=first,
        last_d=last, hatchlings_per_cocoon=born,
    )  # fmt: skip
