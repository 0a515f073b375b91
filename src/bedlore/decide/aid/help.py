"""First aid for one bed: ranked causes with act and check, the next question, careful defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bedlore.decide.aid.causes import CAREFUL, CAUSES, PEOPLE, USUAL, CauseWords
from bedlore.decide.aid.findings import FINDINGS
from bedlore.decide.aid.reason import Judged, judge
from bedlore.decide.aid.signs import Signs
from bedlore.errors import KeeperError
from bedlore.facts.symptoms import kind_of, links, sources
from bedlore.say import Words, say

SURE = 0.80  # odds of a cause at which no more is asked (assumed)
LEAST_BITS = 0.05  # a check that tells less is not worth dirty hands (assumed)
MOST_ASKED = 6
MOST_CAUSES = 4
LEAST_ODDS = 0.05  # rarer causes are not listed
UNSURE = 0.50  # below this for the likeliest cause careful defaults come first
MEMBERS = 200  # what "fewer than 1 in" is counted in


@dataclass(frozen=True)
class Question:
    """A check: what to ask, how to find out, and what it is expected to tell [bits]."""

    finding: str
    question: Words
    how: Words
    gain_bits: float


@dataclass(frozen=True)
class Suspect:
    """A cause with its odds (0..1), what speaks for it, the check that would tell it from its
    rivals (None when all is asked), and where the table has it from."""

    cause: str
    name: Words
    odds: float
    speaks_for: tuple[Words, ...]
    check: Question | None
    act: Words
    later: Words
    cautions: tuple[Words, ...]
    sources: tuple[Words, ...]


@dataclass(frozen=True)
class FirstAid:
    """What to think and do of a bed, given what was found so far.

    ``usual_odds`` that nothing is amiss. ``ask`` is None when asking on is not worth it.
    ``found`` in the log, ``answered`` by the keeper: findings by whether they are there.
    """

    bed_id: str
    suspects: tuple[Suspect, ...]
    usual_odds: float
    usual: CauseWords
    ask: Question | None
    careful: tuple[Words, ...]
    unsure: bool
    cautions: tuple[Words, ...]
    answered: Mapping[str, bool]
    from_log: Mapping[str, bool]


def first_aid(bed_id: str, signs: Signs, answered: Mapping[str, bool],
              skipped: frozenset[str] = frozenset()) -> FirstAid:  # fmt: skip
    """Help for a bed. ``answered`` by the keeper goes before what the log says; ``skipped`` are
    checks that could not be made. Raises KeeperError for a symptom that is not known."""
    for finding in (*answered, *skipped):
        if finding not in FINDINGS or kind_of(finding) == "log":
            raise KeeperError(say("{finding} is not on the list.", finding=repr(finding[:40])),
                              "symptom",
                              say("Choose from {known}.", known=", ".join(symptoms())))  # fmt: skip
    judged = judge(signs.prior, {**signs.found, **answered})
    likely = [one for one in judged.ranked() if one[1] >= LEAST_ODDS][:MOST_CAUSES]
    suspects = tuple(_suspect(judged, cause, odds, skipped) for cause, odds in likely)
    top = max((one.odds for one in suspects), default=0.0)
    cautions = [line for one in suspects[:2] for line in one.cautions]
    asked = len(answered) + len(skipped)
    return FirstAid(
        bed_id, suspects, judged.nothing, USUAL,
        next_question(judged, skipped) if answered and asked < MOST_ASKED + 1 else None,
        CAREFUL, max(top, judged.nothing) < UNSURE,
        tuple(dict.fromkeys(cautions or PEOPLE)), dict(answered),
        {f: present for f, present in signs.found.items() if f not in answered},
    )  # fmt: skip


def symptoms() -> list[str]:
    """What a keeper can begin with."""
    return [finding for finding in FINDINGS if kind_of(finding) == "symptom"]


def next_question(judged: Judged, skipped: frozenset[str] = frozenset()) -> Question | None:
    """The check with the greatest expected drop of doubt; None when sure enough, or when no
    check tells anything worth the walk."""
    if max(judged.ranked()[0][1], judged.nothing) >= SURE:
        return None
    open_ones = [f for f in judged.open_findings() if f not in skipped]
    return _best({f: judged.gain_bits(f) for f in open_ones})


def _best(gains: Mapping[str, float]) -> Question | None:
    finding = max(gains, key=lambda f: gains[f], default=None)
    if finding is None or gains[finding] < LEAST_BITS:
        return None
    words = FINDINGS[finding]
    return Question(finding, words.question, words.how, gains[finding])


def _suspect(judged: Judged, cause: str, odds: float, skipped: frozenset[str]) -> Suspect:
    words = CAUSES[cause]
    there = [f for f, present in judged.found.items() if present and (f, cause) in links()]
    gains = {
        f: judged.gain_about_bits(f, cause) for f in judged.open_findings() if f not in skipped
    }
    shown = [f for f in sources() if f[1] == cause and (f[0] in there or not there)]
    return Suspect(
        cause, words.name, odds,
        tuple(FINDINGS[f].name for f in there), _best(gains), words.act, words.later,
        words.cautions, tuple(dict.fromkeys(sources()[one] for one in shown)),
    )  # fmt: skip

