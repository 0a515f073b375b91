"""The fortnight's plan of a bed, said: what to do when, what each part is worth, how sure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bedlore.bed.cells import Air
from bedlore.decide.action_words import NOTHING, words_of, words_of_all
from bedlore.decide.case import Case
from bedlore.decide.cautions import cautions_for
from bedlore.decide.change import causes
from bedlore.decide.explain import SHELTERED, cost_of_ignoring, look_first, would_change
from bedlore.decide.meals import tables
from bedlore.decide.plan_options import Moves
from bedlore.decide.plan_records import Plan, Rival, Worth
from bedlore.decide.plan_search import Effort, Search, Tried, member_points, search, try_plan
from bedlore.decide.plan_value import reading_worths
from bedlore.decide.records import Action, Advice, Band, Effect
from bedlore.decide.standing import standing
from bedlore.decide.words import odds_short
from bedlore.farm.bed import Limits
from bedlore.farm.model import StoreItem
from bedlore.outlook.ahead import Odds
from bedlore.say import Words, kelvin, listed, mass, message, say, sentences

RIVALS = 3
LEAST_K = 0.25  # less of a part's warmth is not named (assumed)
ACCEPTED = (("cold", "risk_cold"), ("hot", "risk_hot"), ("sour", "risk_sour"))
AS_HEAT = message(
    "Food over the whole bed is meant as heat here: it is more than the bed eats now. Watch for a"
    " sour smell, and have dry card ready for spring."
)


@dataclass(frozen=True)
class Told:
    """What the keeper was told: ``quick`` is today's advice, which the plan is held against,
    ``before`` that of the day before, since which causes of a change are looked for, and ``plan``
    the one of before, which stands where nothing speaks against it."""

    quick: Advice | None = None
    before: Advice | None = None
    plan: Plan | None = None


def plan_of(case: Case, fresh_air: Air, told: Told | None = None,
            price_per_kwh: float | None = None, effort: Effort | None = None) -> Plan:  # fmt: skip
    """The plan of ``case``."""
    told = told or Told()
    asked = () if told.quick is None else told.quick.acts
    changed = () if told.before is None else tuple(causes(case, told.before))
    stands = standing(case, told.plan, tables(case), changed)
    found = search(case, fresh_air, asked, effort, stands)
    actions = said(case, found.winner.moves)
    worths = part_worths(case, found)
    points = np.stack([member_points(tried, found.without) for tried in found.pool])
    readings = reading_worths(found.half, points)
    effect = found.fresh.effect
    energy = effect.energy_kwh
    keeps = all(getattr(effect.odds, key) <= getattr(case.limits, risk) for key, risk in ACCEPTED)
    bare = found.fresh_without.score
    return Plan(
        bed_id=case.twin.bed.id, made_at=case.now, actions=actions,
        headline=sentences(_headline(actions), look_first(case)), effect=effect,
        without=found.fresh_without.effect,
        gain_hours=found.without.points - found.winner.points,
        cost=None if price_per_kwh is None else energy * price_per_kwh, keeps=keeps,
        needs=_needs(case, actions), worths=worths, readings=readings,
        rivals=tuple(_rivals(case, found)),
        tried=found.tried, members=found.half.twin.members, fresh=effect.odds.members,
        odds_band=_odds_band(found.fresh),
        cautions=_cautions(actions, case.store, cold=bare.over_risk["cold_risk"] > 0.0,
                           hot=bare.over_risk["heat_risk"] > 0.0),
        words=tuple(_words(case, found, keeps)),
        would_change=tuple(would_change(found.unseen, tables(case), _kind(actions),
                                        found.fresh.score)),
        cost_of_ignoring=cost_of_ignoring(case, found.fresh_without.effect, bare,
                                          acting=bool(found.winner.moves)),
        causes=changed,
    )  # fmt: skip


def _kind(actions: Sequence[Action]) -> str:
    """A feed where any part is one."""
    return "feed" if any(action.kind == "feed" for action in actions) else actions[0].kind


def _rivals(case: Case, found: Search) -> Iterator[Rival]:
    """The plan that was run beside the winner on fresh futures, and the next best."""
    fresh: dict[Moves, Effect] = {(): found.fresh_without.effect}
    if found.rival is not None:
        fresh[found.rival.moves] = found.rival.effect
    # By their acts: what plans came to are arrays, which have no one answer to "the same".
    others = {t.moves: t for t in found.pool if t.moves != found.winner.moves}
    nearest = sorted(others.values(), key=lambda t: found.rival is None
                     or t.moves != found.rival.moves)  # fmt: skip
    for tried in nearest[:RIVALS]:
        yield Rival(said(case, tried.moves), tried.points - found.winner.points,
                    fresh.get(tried.moves), _beyond(found.winner, tried))  # fmt: skip


def _beyond(winner: Tried, other: Tried) -> bool:
    return winner.score.keeps() and not other.score.keeps()


def said(case: Case, moves: Moves) -> Moves:
    """The actions by day, each with its sentence; nothing where there are none."""
    if not moves:
        return (NOTHING,)
    ordered = sorted(moves, key=lambda action: action.on_day)
    words = words_of_all(case, ordered)
    return tuple(replace(a, words=told) for a, told in zip(ordered, words, strict=True))


def part_worths(case: Case, found: Search) -> tuple[Worth, ...]:
    """Each part of the plan against the same plan without it, on the same futures."""
    whole = found.winner
    worths = []
    for part in _parts(whole.moves):
        rest = tuple(action for action in whole.moves if action not in part)
        bare = try_plan(found.half, rest)[0]
        worths.append(_worth(case, part, whole, bare))
    return tuple(sorted(worths, key=lambda worth: -worth.hours))


def _parts(moves: Moves) -> list[Moves]:
    """Feeds together, the mat's acts together, everything else by itself."""
    parts: dict[str, Moves] = {}
    for action in moves:
        name = action.kind if action.kind in ("feed", "mat") else action.key
        parts[name] = (*parts.get(name, ()), action)
    return list(parts.values())


def _worth(case: Case, part: Moves, whole: Tried, bare: Tried) -> Worth:
    with_it, without = whole.effect, bare.effect
    hot = without.odds.hot > without.odds.cold
    warmer = with_it.coldest_c[1] - without.coldest_c[1]
    cooler = without.warmest_c[1] - with_it.warmest_c[1]
    shift = cooler if hot else warmer
    falls = {key: getattr(without.odds, key) - getattr(with_it.odds, key) for key, _ in ACCEPTED}
    castings = with_it.castings_dry_kg - without.castings_dry_kg
    energy = with_it.energy_kwh - without.energy_kwh
    hours = bare.score.points - whole.score.points
    told: list[str] = []
    if abs(shift) >= LEAST_K:
        side = say("milder") if shift >= 0.0 else say("worse")
        told.append(say("the worst living place {amount} {side}", amount=kelvin(shift), side=side))
    # By how much, since the odds themselves are told on other futures than a part is weighed on.
    for key, fall in falls.items():
        if fall >= 0.01:
            told.append(say("odds of {what} {count} in 100 lower", what=_risk(key),
                            count=round(100 * fall)))  # fmt: skip
        elif fall <= -0.01:
            told.append(say("odds of {what} {count} in 100 higher", what=_risk(key),
                            count=round(-100 * fall)))  # fmt: skip
    if abs(castings) >= 0.05:
        more = say("more") if castings > 0 else say("less")
        told.append(say("{kg} {more} dry castings", kg=mass(abs(castings)), more=more))
    if abs(energy) >= 0.05:
        told.append(say("{kwh} kWh more", kwh=round(energy, 1)) if energy > 0
                    else say("{kwh} kWh less", kwh=round(-energy, 1)))  # fmt: skip
    if not told:  # food turned, work, hunger: it counts, but in none of these
        told.append(say("worth about {minutes} minutes of your time", minutes=round(60 * hours)))
    name = listed([_name(case, action) for action in part[:1]])
    words = say("{part}: {what}.", part=name, what=listed(told))
    return Worth(part, shift, falls["cold"], falls["hot"], falls["sour"], castings, energy, hours,
                 words)  # fmt: skip


def _name(case: Case, action: Action) -> Words:
    names = {
        "feed": say("Feeding"), "mat": say("The heat mat"), "cover": say("The cover"),
        "uncover": say("Taking the cover off"), "water": say("Watering"),
        "bedding": say("Dry bedding"), "insulate": say("Foam board"),
        "move": say("Carrying worms over"),
    }  # fmt: skip
    return names.get(action.kind, words_of(case, action))


def _risk(key: str) -> Words:
    return {"cold": say("cold"), "hot": say("heat"), "sour": say("a sour bed")}[key]


def _share(members: int, p: float) -> str:
    return odds_short(p, members, 100)


def _headline(actions: Sequence[Action]) -> Words:
    today = [action.words for action in actions if action.on_day == 0]
    if not today:
        return say("Nothing today. {next}", next=actions[0].words)
    return sentences(*today)


def _needs(case: Case, actions: Sequence[Action]) -> Words:
    for action in actions:
        if action.kind == "insulate":
            return say("Foam board of {thickness}, which would have to be got.",
                       thickness=case.speech.thickness(action.thickness_m))  # fmt: skip
    return ""


def _cautions(actions: Sequence[Action], store: Sequence[StoreItem], *, cold: bool,
              hot: bool) -> tuple[Words, ...]:  # fmt: skip
    found = [caution for a in actions
             for caution in cautions_for(a, store, cold=cold, hot=hot)]  # fmt: skip
    if any(action.kind == "feed" and not action.zone_id for action in actions):
        found.append(say(AS_HEAT))
    return tuple(dict.fromkeys(found))


def _odds_band(fresh: Tried) -> tuple[Band, Band, Band]:
    """How sure the odds are: Wilson's interval of a binomial share at 90 % (from memory)."""
    n, z = fresh.effect.odds.members, 1.6449
    bands = []
    for key, _ in ACCEPTED:
        p = getattr(fresh.effect.odds, key)
        middle = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
        bands.append((max(0.0, middle - half), p, min(1.0, middle + half)))
    return bands[0], bands[1], bands[2]


def _words(case: Case, found: Search, keeps: bool) -> list[Words]:
    """Whether the odds keep to what the keeper accepts, what it gains, and how many were tried."""
    odds = found.fresh.effect.odds
    kept = say("The odds stay within those you accept.") if keeps else _beyond_words(case, found)
    return [kept, _gain_words(found),
            say("{tried} plans were tried; the odds come from {fresh} futures that had no part"
                " in the choice.", tried=found.tried, fresh=odds.members)]  # fmt: skip


def _beyond_words(case: Case, found: Search) -> Words:
    """Why the plan's odds on fresh futures pass those accepted."""
    what = listed(_over(case.limits, found.fresh.effect.odds))
    if found.winner.score.keeps():
        return say("On the futures it was chosen on, the plan keeps the odds you accept. On others,"
                   " which count for more, it does not quite: {what}.", what=what)  # fmt: skip
    if any(tried.score.keeps() for tried in found.pool):
        return say("The odds pass those you accept: {what}. The plan of before still stands, since"
                   " on the futures of the choice it passed them by no more than chance may do.",
                   what=what)  # fmt: skip
    none = say("No plan was found that keeps the odds you accept. With this one: {what}.",
               what=what)  # fmt: skip
    odds = found.fresh.effect.odds
    further = (say(SHELTERED[key]) for key, risk in ACCEPTED
               if key in SHELTERED and getattr(odds, key) > getattr(case.limits, risk))
    return sentences(none, *further)


def _gain_words(found: Search) -> Words:
    """The plan against leaving the bed alone, with the odds that differ."""
    winner, without = found.winner, found.without
    if not winner.moves:
        return (
            say("No plan that keeps the odds you accept beats leaving the bed alone beyond noise.")
            if without.score.keeps()
            else say("No plan beats leaving the bed alone beyond noise.")
        )
    gain_h = round(without.points - winner.points, 1)
    if gain_h <= 0.0 and _beyond(winner, without):
        return _dear_words(-gain_h)
    worth = (
        say("Against leaving the bed alone it is worth about {time} of your time.",
            time=_hours(gain_h)) if gain_h > 0.0
        else say("Leaving the bed alone would come out about as well; the plan of before stands.")
    )  # fmt: skip
    return sentences(worth, *_shifts(found.fresh.effect.odds, found.fresh_without.effect.odds))


def _dear_words(cost_h: float) -> Words:
    """Why a plan is chosen that costs ``cost_h`` hours more than it gains."""
    but = say("It keeps the odds that you accept. Leaving the bed alone would not.")
    if cost_h == 0.0:
        return but
    dear = say("It costs about {time} of your time more than it gains.", time=_hours(cost_h))
    return sentences(dear, but)


def _hours(hours: float) -> Words:
    return say("an hour") if hours == 1.0 else say("{hours} hours", hours=hours)


def _shifts(odds: Odds, bare: Odds) -> Iterator[Words]:
    """The odds that differ by 1 in 100 or more, with the plan and without."""
    for key, _ in ACCEPTED:
        p, alone = getattr(odds, key), getattr(bare, key)
        if abs(p - alone) >= 0.01:
            yield say("Odds of {what} are {odds} instead of {bare}.", what=_risk(key),
                      odds=_share(odds.members, p),
                      bare=_share(bare.members, alone))  # fmt: skip


def _over(limits: Limits, odds: Odds) -> list[str]:
    return [
        say("odds of {what} {odds}, accepted {accepted} in 100", what=_risk(key),
            odds=_share(odds.members, getattr(odds, key)),
            accepted=round(100 * getattr(limits, risk)))
        for key, risk in ACCEPTED if getattr(odds, key) > getattr(limits, risk)
    ]  # fmt: skip
