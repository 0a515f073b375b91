"""Dates of rest, switch and harvest in plain words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bedlore.decide.case import Case
from bedlore.decide.course import Part, reach_d
from bedlore.decide.date_records import (
    LastFeeds,
    Milestone,
    MilestoneKind,
    RestDates,
    Taking,
)
from bedlore.decide.drying import SCREEN_MOISTURE
from bedlore.decide.rescue import LEAST_KG
from bedlore.decide.words import odds_short
from bedlore.say import Said, capital, listed, mass, message, on_day, say, sentences, temp

Dates = Sequence[dt.date | None]
Days = NDArray[np.float64]
_LATER = {
    "worms": message("the worms most often come last"),
    "cocoons": message("the cocoons most often come last"),
    "dry": message("drying most often comes last"),
}  # fmt: skip


# What stands first where all of it is told.
ORDER: tuple[MilestoneKind, ...] = (
    "emptied", "ready", "worms", "cocoons", "dry", "warm", "switch", "add tray", "split",
)  # fmt: skip


def brief(dates: RestDates) -> list[str]:
    """The lines a morning shows: what can be taken when, when to switch, add a tray, split."""
    shown = []
    for each in dates.milestones:
        likely = each.middle is not None
        if (each.kind in ("emptied", "switch", "add tray") and each.dates[0] is not None) or (
            each.kind == "split" and likely
        ):
            shown.append(each.words)
    return shown


def the_rest(dates: RestDates) -> list[str]:
    """Every other date, in order, and where the last feeds before a switch go."""
    told = set(brief(dates))
    ordered = sorted(dates.milestones, key=lambda each: ORDER.index(each.kind))
    last = [dates.last_feeds.words] if dates.last_feeds else []
    return [words for words in (*(each.words for each in ordered), *last) if words not in told]


def range_of(dates: Dates, until: dt.date) -> Said:
    """``between 3 Apr and 2 Jun, most likely 5 May``, from quantiles; open ends are said."""
    early, middle, late = dates[0], dates[2], dates[4]
    end = on_day(until)
    if early is None:
        return say("not before {end}, as far as is looked", end=end)
    if middle is None:
        return say("{early} at the earliest, more likely after {end}", early=on_day(early), end=end)
    if late is None and early == middle:
        return say("most likely about {middle}, perhaps after {end}", middle=on_day(middle),
                   end=end)  # fmt: skip
    if late is None:
        return say("from {early} on, most likely about {middle}, perhaps after {end}",
                   early=on_day(early), middle=on_day(middle), end=end)  # fmt: skip
    if early == late:
        return say("about {middle}", middle=on_day(middle))
    return say("between {early} and {late}, most likely {middle}", early=on_day(early),
               late=on_day(late), middle=on_day(middle))  # fmt: skip


def milestone_words(case: Case, kind: MilestoneKind, part: Part, dates: Dates, within: float,
                    days: Mapping[str, Days]) -> Said:  # fmt: skip
    """One milestone as a sentence; ``within`` is the share of futures that get there."""
    until = (case.now + dt.timedelta(days=reach_d(case))).date()
    when, name = range_of(dates, until), part.name
    match kind:
        case "ready":
            ready = say("{part} is empty of worms and dry: {when}", part=capital(name), when=when)
            return say("{ready}; {last}.", ready=ready, last=last_test(days)) if days else ready
        case "emptied":
            return say("{part} can be taken: {when}. Then its worms are gone and its cocoons"
                       " hatched.", part=capital(name), when=when)  # fmt: skip
        case "worms":
            return say("Worms gone from {part}: {when}.", part=name, when=when)
        case "cocoons":
            return say("Cocoons in {part} hatched: {when}.", part=name, when=when)
        case "dry" if dates[0] is None:
            return say("{part} does not dry enough to screen in the bed by {end}: spread it thin"
                       " under a roof before you screen it.", part=capital(name),
                       end=on_day(until))  # fmt: skip
        case "dry":
            return say("{part} dry enough to screen, with the cover off once the worms are gone:"
                       " {when}.", part=capital(name), when=when)  # fmt: skip
        case "warm":
            return say("{part} at {ten} or more: {when}.", part=capital(name), ten=temp(10.0),
                       when=when)  # fmt: skip
        case "switch":
            return say("Switch from {part} to the next side: {when}. Then the next side is free,"
                       " and this one is full or has been fed for two and a half months.",
                       part=name, when=when)  # fmt: skip
        case "add tray":
            return say("The next tray goes on when {part} is full: {when}.", part=name, when=when)
        case _ if dates[2] is None:
            return say("No split is due: the herd gets crowded by {end} in {odds} futures.",
                       end=on_day(until), odds=odds_short(within, case.twin.members))  # fmt: skip
        case _:
            return say("Split the bed, or sell some worms: {when}. From then on they stand in each"
                       " other's way and lay less.", when=when)  # fmt: skip


def last_test(days: Mapping[str, Days]) -> Said:
    """Which of the tests holds a part up most often."""
    late = np.stack([days[name] for name in _LATER])
    worst = np.where(np.isinf(late).any(axis=0), np.isinf(late).argmax(axis=0),
                     late.argmax(axis=0))  # fmt: skip
    most = list(_LATER)[int(np.bincount(worst, minlength=len(_LATER)).argmax())]
    return say(_LATER[most])


def taking_told(case: Case, taking: Taking, warm: float) -> Taking:
    """``taking`` with its sentences; ``warm`` is the share of futures at 10 degC or more then."""
    def odds(share: float) -> str:
        return odds_short(share, case.twin.members)

    tests = listed([
        say("worms gone {odds}", odds=odds(taking.odds_worms)),
        say("cocoons hatched {odds}", odds=odds(taking.odds_cocoons)),
        say("dry enough in the bed {odds}", odds=odds(taking.odds_dry)),
    ])  # fmt: skip
    head = say("If you take {part} on {day}", part=taking.part_name, day=on_day(taking.on))
    if taking.after_switch:
        head = say("If you switched today and took {part} on {day}", part=taking.part_name,
                   day=on_day(taking.on))  # fmt: skip
    texts: list[str] = [
        say("{head}, of the futures: {tests}.", head=head, tests=tests),
        _loss_words(taking),
    ]
    if taking.drying_d is not None:
        low, middle, high = (max(1, round(d)) for d in taking.drying_d)
        texts.append(say("Spread 5 cm deep under a roof and turned daily it dries in {low} to"
                         " {high} days, most likely {middle}.", low=low, high=high,
                         middle=middle))  # fmt: skip
    elif taking.moisture_frac[1] > SCREEN_MOISTURE:
        texts.append(say("In that air it would not dry within six weeks, even spread thin and"
                         " turned daily."))  # fmt: skip
    if warm < 0.5:
        texts.append(say("It is likely below {ten} then: worms hardly leave by themselves.",
                         ten=temp(10.0)))  # fmt: skip
    return replace(taking, words=sentences(*texts))


def _loss_words(taking: Taking) -> Said:
    """What goes with the castings; a pinch of worms is not told to the gram."""
    values = {"cocoons": round(100 * taking.cocoon_share),
              "water": round(100 * taking.moisture_frac[1])}  # fmt: skip
    if taking.worms_kg[1] < LEAST_KG:
        return say("Less than {kg} of worms and {cocoons} in 100 of the cocoons would go with it;"
                   " it would hold about {water} in 100 water.", kg=mass(LEAST_KG),
                   **values)  # fmt: skip
    return say("About {worms} of worms ({herd} in 100 of the herd) and {cocoons} in 100 of the"
               " cocoons would go with it; it would hold about {water} in 100 water.",
               worms=mass(taking.worms_kg[1]), herd=round(100 * taking.herd_share),
               **values)  # fmt: skip


def last_feeds_told(found: LastFeeds) -> LastFeeds:
    """``found`` with its sentence."""
    share, evenly = round(100 * found.left_share[1]), round(100 * found.left_share_evenly[1])
    if found.days == 0:
        text = say("Where the last feeds before the switch go makes no clear difference: about"
                   " {evenly} in 100 worms are left behind two months later either way.",
                   evenly=evenly)  # fmt: skip
    else:
        text = say("For the last {days} days before the switch (taken as {switch}), from {start}"
                   " on, feed only {zone}, beside the next side: two months later about {share} in"
                   " 100 worms are left behind, against {evenly} when fed evenly.",
                   days=found.days, switch=on_day(found.switch_on), start=on_day(found.start),
                   zone=found.zone_name, share=share, evenly=evenly)  # fmt: skip
    return replace(found, words=text)


def notes(milestones: Sequence[Milestone], now: dt.date) -> list[Said]:
    """What the dates take for granted."""
    said = [
        say("The bed is taken to be kept as now: fed each week at your pace as far as it is eaten,"
            " winter's cover off once it is mild. Weather beyond the forecast is drawn from what is"
            " usual for the season."),
    ]  # fmt: skip
    warm = [m.dates[4] for m in milestones if m.kind == "warm"]
    if any(day is None or (day - now).days > 1 for day in warm):
        said.append(
            say("Below {ten} no date is claimed, since worms hardly move between parts then. A few"
                " handfuls counted tell more than any date.", ten=temp(10.0))
        )  # fmt: skip
    return said
