"""What commands about several beds print: a head, each bed under its mark, what was kept aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from bedlore.errors import Fault
from bedlore.farm.model import Farm
from bedlore.service.account import fault_account
from bedlore.service.marks import marks

Account = dict[str, Any]


@dataclass(frozen=True)
class OfFarm:
    """Something worked out for the beds of ``farm`` at ``now``; ``faults`` as in a morning."""

    farm: Farm
    now: dt.datetime
    faults: tuple[Fault, ...]


def beds_account(found: OfFarm, told: Iterable[tuple[str, Account]], **more: Any) -> Account:
    """``found`` as plain data, from (bed id, what is told of it) in the order to tell them in;
    ``more`` stands in the head."""
    mark = marks(found.farm)
    return {
        "farm": found.farm.name, "made_at": found.now.isoformat(),
        "time_zone": found.farm.site.time_zone, **more,
        "beds": [
            {"bed": bed_id, "name": mark[bed_id].bed.name, "mark": mark[bed_id].number, **account}
            for bed_id, account in told
        ],
        "kept_aside": [fault_account(fault) for fault in found.faults],
    }  # fmt: skip
