"""Times and temperatures that rules ask for before compost counts as sanitised.

They are here so that the tool can say that a worm bed does not meet them. Local rules differ and
go before these figures.
"""

from __future__ import annotations

from dataclasses import dataclass

from bedlore.errors import KeeperError
from bedlore.say import message, say

PATHOGEN_CAUTION = message(
    "A worm bed never gets as warm for as long, all through, as the rules for sanitised compost"
    " ask, so nothing can be said about germs from its temperature. Wash hands, keep manure-fed"
    " castings and any liquid from the bed off leaves that are eaten raw, and follow the rules of"
    " the place."
)


@dataclass(frozen=True)
class HeatRule:
    """A rule that compost stays at ``temp_c`` or more for ``days``."""

    name: str
    temp_c: float
    days: float
    source: str
    known: str


HEAT_RULES = (
    HeatRule("in a vessel or aerated heap, US", 55.0, 3.0, "US 40 CFR 503 app. B", "memory"),
    HeatRule("windrow, five turnings, US", 55.0, 15.0, "US 40 CFR 503 app. B", "memory"),
    HeatRule("EU, 70 degC", 70.0, 3.0, "EU 2019/1009", "memory"),
    HeatRule("EU, 65 degC", 65.0, 5.0, "EU 2019/1009", "memory"),
    HeatRule("EU, 60 degC", 60.0, 7.0, "EU 2019/1009", "memory"),
    HeatRule("EU, 55 degC", 55.0, 14.0, "EU 2019/1009", "memory"),
)


def time_at_temperature_d(temp_c: float) -> float:
    """Days at ``temp_c`` that US 40 CFR 503 asks of a sludge of 7 % solids or more.

    ``D = 131 700 000 / 10**(0.14 t)``, only from 50 degC up (formula read in 15A NCAC 02T
    .1106). By hand: 55 degC gives 2.63 d. Raises KeeperError below 50 degC, where the rule says
    nothing and every worm bed is.
    """
    if temp_c < 50.0:
        raise KeeperError(say("the rule starts at 50 degC, not at {temp_c}.", temp_c=float(temp_c)),
                          fix=say(PATHOGEN_CAUTION))  # fmt: skip
    return 131_700_000.0 / float(10.0 ** (0.14 * temp_c))
