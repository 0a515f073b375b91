"""What a bed's model cannot explain in its log, as one of the reasons behind its advice."""

from __future__ import annotations

from dataclasses import replace

from bedlore.decide.records import Advice, Reason
from bedlore.farm.bed import Bed
from bedlore.learn.misfit import complaints
from bedlore.learn.record import Learnt
from bedlore.say import Words, say


def unexplained(learnt: Learnt, bed: Bed) -> Words:
    """The strongest complaint of learning that bears on ``bed``; "" where all is explained."""
    found = complaints(learnt, [zone.called for zone in bed.zones])
    if not found:
        return ""
    return say("The twin does not explain all of this bed's readings: {complaint}",
               complaint=found[0].sentence)  # fmt: skip


def bearing(advice: Advice, doubt: Words) -> Advice:
    """``advice`` with ``doubt`` as its last reason: whoever reads why shall know."""
    if not doubt:
        return advice
    reason = Reason(doubt, "worked out", say("your log beside the bed's twin"))
    return replace(advice, reasons=(*advice.reasons, reason))
