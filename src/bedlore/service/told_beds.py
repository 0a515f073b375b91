"""What commands about several beds print: a head, each bed under its mark, what was kept aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from bedlore.errors import Fault
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.account import fault_account

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
    beds: dict[str, tuple[int, Bed]] = {
        bed.id: (place, bed) for place, bed in enumerate(found.farm.beds)
    }
    return {
        "farm": found.farm.name, "made_at": found.now.isoformat(),
        "time_zone": found.farm.site.time_zone, **more,
        "beds": [
            {"bed": bed_id, "name": beds[bed_id][1].name, "mark": beds[bed_id][0] + 1, **account}
            for bed_id, account in told
        ],
        "kept_aside": [fault_account(fault) for fault in found.faults],
    }  # fmt: skip
