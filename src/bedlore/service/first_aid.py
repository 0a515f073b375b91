"""First aid as plain data, for the terminal and the page."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Mapping
from typing import Any

from bedlore.decide.aid.causes import CAREFUL, CAUSES, PEOPLE
from bedlore.decide.aid.findings import FINDINGS
from bedlore.decide.aid.help import MEMBERS, FirstAid, Question, Suspect, first_aid, symptoms
from bedlore.decide.aid.signs import Now, signs_of
from bedlore.decide.words import odds_words
from bedlore.errors import KeeperError
from bedlore.facts.symptoms import USUAL, kind_of, links
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.say import again, message, say, speaking
from bedlore.service.views import OutlookView

Account = dict[str, Any]
MOST_UNASKED = 3  # causes told of a symptom where nothing can be asked
REFERENCE = message("beds like this one with such signs")


def now_of(outlook: OutlookView) -> Now:
    """The first hour of an outlook, as first aid reads it."""
    names = ("temp_coldest_c", "temp_warmest_c", "moisture_frac", "food_left_kg", "ammonia_mg_g",
             "sour_index", "worms_kg")
    return Now(**{name: [row[0] for row in outlook.series(name)] for name in names})


def careful_account() -> Account:
    """What first aid says before anything is known: the list of symptoms and careful defaults."""
    listed = [{"finding": one, "words": FINDINGS[one].name} for one in symptoms()]
    return again({"symptoms": listed, "careful": list(CAREFUL), "cautions": list(PEOPLE)})  # type: ignore[no-any-return]


def unasked_account() -> Account:
    """First aid for where nothing can be asked: :func:`careful_account`, with the causes most
    often behind each symptom."""
    told = careful_account()
    for one in told["symptoms"]:
        weight = {cause: USUAL[cause] * share for (finding, cause), share in links().items()
                  if finding == one["finding"]}  # fmt: skip
        likely = sorted(weight, key=lambda cause: -weight[cause])[:MOST_UNASKED]
        one["suspects"] = again([
            {"cause": cause, "words": CAUSES[cause].name, "act": CAUSES[cause].act,
             "later": CAUSES[cause].later} for cause in likely
        ])  # fmt: skip
    return told


def aid_account(farm: Farm, bed: Bed, outlook: OutlookView | None, entries: Iterable[AnyEntry],
                now: dt.datetime, answered: Mapping[str, bool],
                skipped: frozenset[str] = frozenset()) -> Account:  # fmt: skip
    """What ``bedlore aid --json`` prints of a bed. ``outlook`` None: before the first morning."""
    seen = now_of(outlook) if outlook is not None else None
    signs = signs_of(bed, farm.limits_of(bed), seen, entries, now)
    told = first_aid(bed.id, signs, answered, skipped)
    return again({"bed": bed.id, "name": bed.name, **careful_account(), **_told(told)})  # type: ignore[no-any-return]


def _told(told: FirstAid) -> Account:
    return {
        "suspects": [_suspect(one) for one in told.suspects],
        "usual_odds": round(told.usual_odds, 3),
        "usual": {"words": told.usual.name, "act": told.usual.act, "later": told.usual.later,
                  "odds_words": odds_words(told.usual_odds, MEMBERS, REFERENCE, 10)},
        "ask": _question(told.ask),
        "unsure": told.unsure,
        "cautions": list(told.cautions),
        "answered": dict(told.answered),
        "from_log": [
            {"finding": f, "present": there, "words": FINDINGS[f].name}
            for f, there in told.from_log.items() if there
        ],
    }  # fmt: skip


def _suspect(one: Suspect) -> Account:
    return {
        "cause": one.cause, "words": one.name, "odds": round(one.odds, 3),
        "odds_words": odds_words(one.odds, MEMBERS, REFERENCE, 10),
        "speaks_for": list(one.speaks_for), "check": _question(one.check), "act": one.act,
        "later": one.later, "cautions": list(one.cautions), "sources": list(one.sources),
    }  # fmt: skip


def _question(one: Question | None) -> Account | None:
    if one is None:
        return None
    return {"finding": one.finding, "question": one.question, "how": one.how,
            "gain_bits": round(one.gain_bits, 3)}  # fmt: skip


def _names() -> dict[str, str]:
    """What each finding that can be asked for is called by whoever listens, in small letters."""
    found = {f: one.name for f, one in FINDINGS.items() if kind_of(f) != "log"}
    return {f: again(name).lower() for f, name in found.items()}


def finding_called(words: str) -> str:
    """The finding that the keeper means: its id, its name in the own language or in English, or
    nearly so. Raises KeeperError."""
    asked = _names()
    wanted = " ".join(words.strip().lower().replace("_", " ").split())
    with speaking("en"):
        by_word = {name: f for f, name in _names().items()}
    by_word |= {f.replace("_", " "): f for f in asked} | {name: f for f, name in asked.items()}
    if wanted in by_word:
        return by_word[wanted]
    holding = [f for name, f in by_word.items() if len(wanted) > 2 and wanted in name]
    near = holding or [by_word[n] for n in difflib.get_close_matches(wanted, by_word, 1, 0.75)]
    if len(set(near)) == 1:
        return near[0]
    some = ", ".join(asked[one] for one in (set(near) or symptoms()))
    raise KeeperError(say("{words} is not clear.", words=repr(words[:40])), "--symptom",
                      say("Choose from: {some}.", some=some))  # fmt: skip


