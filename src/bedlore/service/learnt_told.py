"""What was learnt of one bed, its herd with it, in words and short rows for its page.

Read from what is stored; nothing is learnt here.
"""

from __future__ import annotations

from typing import Any

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.learn.herd import Band, stage_mass_kg
from bedlore.learn.record import Learnt, bed_key
from bedlore.say import message, say
from bedlore.say.amounts import number_words
from bedlore.service.learn import (
    Learning,
    herd_account,
    learn_account,
    parameters_account,
)
from bedlore.service.learnt_words import band_words, parameter_title
from bedlore.service.shown import Shown

Account = dict[str, Any]
MOST_ROWS = 12  # parameters told: what the log narrowed most comes first
_STAGES = {
    "adults": message("Adults"), "juveniles": message("Juveniles"),
    "hatchlings": message("Hatchlings"), "cocoons": message("Cocoons"),
}  # fmt: skip


def learnt_told(farm: Farm, bed: Bed, learnt: Learnt | None, shown: Shown) -> Account | None:
    """The bed as its log has shown it; None when it was not learnt, or rebuilt since."""
    if learnt is None or learnt.bed_key != bed_key(bed):
        return None
    learning = Learning(farm, learnt.at, (), {bed.id: learnt})
    (told,) = learn_account(learning)["beds"]
    (herd,) = herd_account(learning)["beds"]
    return {
        "at": learnt.at, "words": told["words"],
        "notes": [shown.sentence(line) for line in told["notes"]],
        "complaints": [shown.sentence(one["sentence"]) for one in told["complaints"]],
        "outliers": [one["entry"] for one in told["outliers"]],
        "rows": [_row(one, learnt, shown) for one in parameters_account(learnt)[:MOST_ROWS]],
        "herd": _herd(herd, stage_mass_kg(learnt), shown),
    }  # fmt: skip


def _row(parameter: Account, learnt: Learnt, shown: Shown) -> tuple[str, str, str]:
    """(what, its range now, its range before)."""
    name, now, before = (parameter[key] for key in ("name", "range", "range_before"))
    return (parameter_title(name, learnt.moved_sd(name)), band_words(name, now, shown),
            band_words(name, before, shown))  # fmt: skip


def _herd(herd: Account, mass_kg: dict[str, Band], shown: Shown) -> Account:
    """The herd in a sentence, by stage and zone, and what counting more would add."""
    stages = [
        (say(name), _span(herd[f"{stage}_n"], number_words),
         _span(_of_band(mass_kg[stage]), shown.mass) if stage in mass_kg else "–")
        for stage, name in _STAGES.items()
    ]  # fmt: skip
    stages.append((say("Worms of all stages"), _span(herd["worms_n"], number_words),
                   _span(herd["worms_kg"], shown.mass)))  # fmt: skip
    zones = [(one["zone_name"], _span(one["worms_kg"], shown.mass))
             for one in herd["zones"] if one["worms_kg"][-1] > 0.0]  # fmt: skip
    daily = say("Food a day at {temp}, with food at hand: {food}.", temp=shown.temp(20.0),
                food=_span(herd["feed_kg_day"], shown.mass))  # fmt: skip
    return {"words": shown.sentence(herd["words"]), "stages": stages, "zones": zones,
            "daily": daily, "counting": shown.sentence(herd["counting"]["words"])}  # fmt: skip


def _of_band(band: Band) -> list[float]:
    return [band.low, band.middle, band.high]


def _span(band: list[float], write: Any) -> str:
    low, middle, high = (write(value) for value in band)
    return say("{middle} ({low} to {high})", middle=middle, low=low, high=high)
