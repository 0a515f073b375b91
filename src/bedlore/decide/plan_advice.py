"""The advice of a day as the fortnight's plan has it, in place of a quick weighing of single acts.

The plan says what to do, how sure, and what each part is worth; the quick advice lends the facts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from bedlore.decide.change import sentence
from bedlore.decide.explain import futures_words
from bedlore.decide.plan_records import Plan, Rival
from bedlore.decide.records import Action, Advice, Effect, Reason
from bedlore.say import Words, clause, figures, message, say, sentences

FROM_HOURS_MIN = 100
SAME_DOSE = 0.05  # share by which two doses may differ and be told as one (assumed)

OUTDATED = message(
    "Something was written down or changed since the fortnight's plan was made. Until it is planned"
    " anew, this is the quick advice, which weighs single acts."
)


def led_by(plan: Plan, quick: Advice, before: Advice | None = None) -> Advice:
    """``quick`` with the plan in the lead; ``before`` is the advice of the day before.

    With nothing to do today the first act is one of a later day, or there is none.
    """
    first, *rest = plan.actions
    together = tuple(act for act in rest if act.on_day == 0)
    later = tuple(act for act in rest if act.on_day > 0)
    return replace(
        quick,
        action=first, also=together, later=later, headline=plan.headline,
        reasons=tuple(_reasons(plan, quick)), effect=plan.effect, without=plan.without,
        rivals=tuple(_rivals(plan, quick)), would_change=(*plan.would_change, *_reading(plan)),
        cost_of_ignoring=plan.cost_of_ignoring,
        cautions=tuple(dict.fromkeys((*plan.cautions, *quick.cautions))),
        would_help=(*quick.would_help, *((plan.needs,) if plan.needs else ())),
        cause_of_change=_cause(plan, before), members=plan.fresh,
        ahead_words=_ahead(later, quick), leads="plan", lead_words=_lead_words(plan, quick),
    )  # fmt: skip


def outdated(quick: Advice) -> Advice:
    """``quick`` leads, though there was a plan for today: it no longer fits."""
    return replace(quick, lead_words=say(OUTDATED))


def _reasons(plan: Plan, quick: Advice) -> Iterator[Reason]:
    """What the plan gains and each part is worth, then the facts of the quick advice."""
    fresh, chosen = futures_words(plan.fresh), futures_words(plan.members)
    yield from (Reason(words, "worked out", fresh) for words in plan.words[:-1])
    yield from (Reason(worth.words, "worked out", chosen) for worth in plan.worths)
    gained = futures_words(quick.members)  # what the quick act gains is not what the plan does
    yield from (reason for reason in quick.reasons if reason.source != gained)
    yield from (Reason(words, "worked out", fresh) for words in plan.words[-1:])  # how many tried


def _rivals(plan: Plan, quick: Advice) -> Iterator[tuple[Action, Effect]]:
    """The quick act where it is another one, and other plans, on the same futures as the plan."""
    for rival in plan.rivals:
        if rival.effect is not None:
            words = sentences(*(act.words for act in rival.actions))
            yield replace(rival.actions[0], words=words), rival.effect
    if not _agree(plan.actions, quick.today) and _tried(plan, quick) is None:
        yield quick.action, quick.effect


def _reading(plan: Plan) -> Iterator[Words]:
    """What the reading that is worth most would do."""
    if plan.readings:
        yield max(plan.readings, key=lambda worth: worth.hours).words


def _ahead(later: Sequence[Action], quick: Advice) -> Words:
    if not later:
        return quick.ahead_words
    again = say("It is planned again each morning.")
    return sentences(*(act.words for act in later), again)


# --- Which leads, and why ----------------------------------------------------------------------


def _lead_words(plan: Plan, quick: Advice) -> Words:
    """That the plan leads, and how it stands to the quick advice."""
    follows = say("This follows the fortnight's plan.")
    if _agree(plan.actions, quick.today):
        return sentences(follows, say("The quick advice says the same for today."))
    today = [act for act in plan.actions if act.on_day == 0]
    if any(_agree([act], quick.today) for act in today):
        part = say("The quick advice weighs single acts and asks for a part of this.")
        return sentences(follows, part, _worth(plan, quick))
    other = say("The quick advice weighs single acts and says: {quick}.",
                quick=clause(quick.action.words))  # fmt: skip
    return sentences(follows, other, _worth(plan, quick))


def _worth(plan: Plan, quick: Advice) -> Words:
    """What following the plan instead of the quick act is worth, where both were weighed."""
    rival = _tried(plan, quick)
    behind = plan.gain_hours if quick.action.kind == "nothing" else None
    behind = rival.behind_hours if rival is not None else behind
    if behind is None:
        return ""
    minutes = round(60 * behind)
    if rival is not None and rival.beyond and minutes < 1:
        return say("The quick act may gain as much, but does not keep the odds that you accept.")
    if minutes < 1 and rival is not None and _acts(plan.actions) < _acts(rival.actions):
        return say("Over the fortnight both are worth the same; the plan asks for less.")
    if minutes < 1:
        return say("Over the fortnight both are worth about the same.")
    if minutes < FROM_HOURS_MIN:
        return say("Over the fortnight the plan is worth about {minutes} minutes of your time"
                   " more.", minutes=minutes)  # fmt: skip
    return say("Over the fortnight the plan is worth about {hours} hours of your time more.",
               hours=figures(behind))  # fmt: skip


def _acts(actions: Sequence[Action]) -> int:
    """How many acts are asked for."""
    return sum(act.kind != "nothing" for act in actions)


def _tried(plan: Plan, quick: Advice) -> Rival | None:
    """The quick act among the plans that were tried to the end."""
    wanted = (quick.action,)
    for rival in plan.rivals:
        days = [act.on_day for act in rival.actions]
        if days == [quick.action.on_day] and _agree(rival.actions, wanted, day=days[0]):
            return rival
    return None


def _agree(planned: Sequence[Action], others: Sequence[Action], day: int = 0) -> bool:
    """Whether both ask for the same acts on ``day``, in about the same amounts."""
    one, other = (
        sorted((act.key, act.mass_kg) for act in acts
               if act.on_day == day and act.kind != "nothing")
        for acts in (planned, others)
    )  # fmt: skip
    return [key for key, _ in one] == [key for key, _ in other] and all(
        math.isclose(a, b, rel_tol=SAME_DOSE) for (_, a), (_, b) in zip(one, other, strict=True)
    )


def _cause(plan: Plan, before: Advice | None) -> Words:
    """Why the plan asks for something else today than was said the day before."""
    if before is None:
        return ""
    passed = (plan.made_at.date() - before.made_at.date()).days
    mine = sorted(act.key for act in plan.actions if act.on_day == 0 and act.kind != "nothing")
    # What stood for yesterday may still be open; what stood for today comes as planned.
    kept = ([act.key for act in before.acts if act.on_day == day]
            for day in ((0, passed) if mine else (0,)))  # fmt: skip
    if any(sorted(keys) == mine for keys in kept):
        return ""
    return sentence(plan.causes) or say(
        "Changed because the fortnight was planned anew; nothing else that can be named changed."
    )
