"""What jobs keep for the lower part of a bed's page: a small farm learnt, dates and shelter."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np

from bedlore.decide.date_records import LastFeeds, Milestone, RestDates, Taking, Targets
from bedlore.decide.rescue import rescues
from bedlore.decide.shelter import Shelter, Shelters
from bedlore.farm import log
from bedlore.farm.load import parse_farm
from bedlore.farm.reading import LogReading
from bedlore.learn.record import Learnt
from bedlore.say import mass, say, temp
from bedlore.service.book import ToWrite
from bedlore.service.learn import learn
from bedlore.service.surroundings import Recorded
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from bedlore.store.learnings import Learnings
from tests import morning_fake
from tests.small_farm import SPRING
from tests.web.conftest import INES, tell_morning

LEARNT_AT = dt.datetime(2025, 3, 22, 12, tzinfo=dt.UTC)
NOW = morning_fake.NOW
PAGE = "/farms/spring/beds/sluice/"


def probe(number: str, days_back: float, temp_c: float) -> log.Probe:
    return log.Probe(id=number, at=LEARNT_AT - dt.timedelta(days=days_back), bed="sluice",
                     temp_c=temp_c, device="stick")  # fmt: skip


# Something warms the bed by 10 K after a week, and one reading is a slip.
READ = [*(probe(f"a{i}", 20 - i, 6.0) for i in range(8)),
        *(probe(f"b{i}", 10 - i, 16.0 + 0.3 * (i % 3)) for i in range(9)),
        probe("slip", 12.5, 61.0)]  # fmt: skip


def learnt_bed(folder: Path) -> Learnt:
    """The bed of the small farm as ``READ`` shows it."""
    found = learn(parse_farm(SPRING), LogReading(tuple(READ), (), ()), Recorded(), LEARNT_AT,
                  Learnings(folder), members=24)  # fmt: skip
    return found.beds["sluice"]


def spring_row() -> FarmRow:
    """The small farm in the database, with its log and a made-up morning."""
    row = add_farm(parse_farm(SPRING), INES, NOW, slug="spring", as_of=NOW)
    DbLog(row).write([ToWrite(entry) for entry in READ], INES, NOW)
    tell_morning(row)
    return row


def rest_dates() -> RestDates:
    """A date of every sort that is shown in short, and one that is not; one taking."""
    day = NOW.date() + dt.timedelta(days=40)
    milestones = tuple(
        Milestone(kind, "race", "Race", (day,) * 5, (), f"The {kind} of it: about 21 Feb.")
        for kind in ("emptied", "dry", "switch", "add tray", "split")
    )
    last = LastFeeds("race", "Race", 14, day, day, (0.1,) * 3, (0.2,) * 3,
                     "For the last 14 days feed beside the next side.")  # fmt: skip
    ways = rescues(np.full(8, 0.2), np.full(8, 1.0), 0.4, 1.0)
    taking = Taking("race", "Race", day, 0.5, 0.5, 0.5, 0.5, (0.1,) * 3, 0.1, (9.0,) * 3, 0.1,
                    (0.6,) * 3, None, ways, after_switch=False,
                    words=say("About {worms} of worms would go with it.",
                              worms=mass(0.4536)))  # fmt: skip
    return RestDates("sluice", NOW, day, 60, Targets(), milestones, (taking,), last,
                     ("The bed is taken to be kept as now.",))  # fmt: skip


def shelters(made_at: dt.datetime = NOW) -> Shelters:
    """Two ways through a cold spell."""
    def way(name: Any, words: str) -> Shelter:
        return Shelter(name, 0, 0.1, 2.0, 1.0, helps=True, holds=True, work_h=0.5, energy_kwh=0.0,
                       takes="", words=words)  # fmt: skip

    words = say("Cold ahead, worst about {day}: down to {worst}.", day="Monday", worst=temp(0.0))
    ways = (way("straw", "Straw: 2 K warmer."), way("foam", "Foam: 1 K warmer."))
    return Shelters("sluice", made_at, "cold", made_at.date(), 0.4, (-2.0, 0.0, 1.0), 60, ways,
                    "After a power cut it lasts a day.", "Take in 300 g of worms.",
                    ("Burn nothing in a shed.",), words)  # fmt: skip
