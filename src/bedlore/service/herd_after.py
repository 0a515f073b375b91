"""What a harvest, a split or a sale leaves of a bed's herd, as plain data."""

from __future__ import annotations

import datetime as dt
from typing import Any

from bedlore.decide.herd_after import PICKED, HerdAfter, Take, herd_after
from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.say import say
from bedlore.service.account import tidy
from bedlore.service.beds_now import BedsNow, StatesKeeping
from bedlore.service.morning import must_live
from bedlore.service.surroundings import Recorded
from bedlore.units import parse_quantity

Account = dict[str, Any]


def take_asked(worms: str, share: str, stage: str, *, split: bool) -> Take:
    """What a keeper asks to take: ``worms`` such as "500 g", or ``share`` such as "50 %".

    ``stage`` is adults, juveniles, or "" for both. Raises :class:`KeeperError`.
    """
    if bool(worms) == bool(share):
        raise KeeperError(say("Say either how much or what share to take."), "--take",
                          say("Write it like --take 500g or --take-share 50%."))  # fmt: skip
    if split and stage:
        raise KeeperError(say("A split takes worms of every size."), "--split",
                          say("Leave out --stage or --split."))  # fmt: skip
    stages = (stage,) if stage else PICKED
    if worms:
        worms_kg = parse_quantity(worms, "mass")
        if worms_kg <= 0.0:
            raise KeeperError(say("Nothing would be taken."), "--take",
                              say("Write it like --take 500g or --take-share 50%."))  # fmt: skip
        return Take(worms_kg=worms_kg, stages=stages, with_bedding=split)
    part = parse_quantity(share, "fraction")
    if not 0.0 < part <= 1.0:
        raise KeeperError(say("A share lies between 0 and 100 %."), "--take-share",
                          say("Write it like --take 500g or --take-share 50%."))  # fmt: skip
    return Take(share=part, stages=stages, with_bedding=split)


def herd_after_account(farm: Farm, bed: Bed, log: LogReading, recorded: Recorded, now: dt.datetime,
                       keeping: StatesKeeping, take: Take) -> Account:  # fmt: skip
    """``take`` out of ``bed`` at ``now``, and the months after it. Raises :class:`KeeperError`
    where no such bed lives."""
    must_live(farm, bed, now)
    case = BedsNow(farm, [bed], log, recorded, now, keeping).long_case(bed)
    found = herd_after(case, take)
    if found is None:
        return {"words": say("There are no worms to take, or next to none.")}
    return _told(found)


def _told(found: HerdAfter) -> Account:
    half, most = found.back_on
    return {
        "taken_kg": [tidy(v) for v in found.taken_kg], "taken_share": tidy(found.share),
        "stages": [
            {"stage": stage, "before_n": [tidy(v) for v in found.before[stage]],
             "after_n": [tidy(v) for v in after]}
            for stage, after in found.after.items()
        ],
        "within_d": found.within_d, "members": found.members,
        "odds_back": tidy(found.odds_back),
        "odds_back_untouched": tidy(found.odds_back_untouched),
        "half_back_by": half.isoformat() if half else None,
        "most_back_by": most.isoformat() if most else None,
        "odds_keeps_up": tidy(found.odds_keeps_up),
        "odds_keeps_up_untouched": tidy(found.odds_keeps_up_untouched),
        "may_take_share": found.most_share,
        "may_take_kg": None if found.most_kg is None else tidy(found.most_kg),
        "words": found.words,
    }  # fmt: skip
