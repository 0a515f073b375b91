"""What was learnt, in a keeper's words."""

from __future__ import annotations

import datetime as dt

from bedlore.bed.history import start_of
from bedlore.service.learnt_words import unfed_words
from tests.unit.decide.conftest import bed_of, feed

BED = bed_of()
START = start_of(BED, dt.UTC)


def test_weeks_without_a_feed_in_the_log_are_said_to_be_perhaps_the_logs() -> None:
    """A twin that nobody feeds starves, also where the keeper only stopped writing."""
    fed = [feed(day, BED, 1.0) for day in (2, 9, 16, 60, 80)]
    (said,) = unfed_words(BED, fed, START, START + dt.timedelta(days=90))
    assert said.startswith("For 44 days no feed is in the log.")
    assert unfed_words(BED, fed[:3], START, START + dt.timedelta(days=30)) == ()
    (never,) = unfed_words(BED, [], START, START + dt.timedelta(days=42))
    assert never.startswith("For 42 days")
    other = [feed(day, bed_of(id="ladder"), 1.0) for day in (10, 20, 30)]
    assert unfed_words(BED, other, START, START + dt.timedelta(days=42)) == (never,)
