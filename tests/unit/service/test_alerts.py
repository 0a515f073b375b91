"""Quiet hours by the farm's clock, when a danger began, and what is worth a mail."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from bedlore.farm.load import load_farm
from bedlore.service.alerts import Wishes, alerts_of, began, quiet_ends
from bedlore.service.events import Before, Event, events_of
from bedlore.service.morning import BedMorning
from tests import morning_fake

VIENNA = ZoneInfo("Europe/Vienna")
NIGHT = Wishes(quiet_from=dt.time(21), quiet_until=dt.time(7))


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=VIENNA)


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2026-01-12 20:59", None),
        ("2026-01-12 21:00", "2026-01-13 07:00"),
        ("2026-01-13 00:00", "2026-01-13 07:00"),
        ("2026-01-13 06:59", "2026-01-13 07:00"),
        ("2026-01-13 07:00", None),
        # Summer time begins on 29 March and ends on 25 October 2026: the clock counts, not hours.
        ("2026-03-28 22:00", "2026-03-29 07:00"),
        ("2026-10-24 22:00", "2026-10-25 07:00"),
    ],
)  # fmt: skip
def test_quiet_hours_over_midnight(now: str, ends: str | None) -> None:
    assert quiet_ends(at(now), VIENNA, NIGHT) == (at(ends) if ends else None)


def test_the_night_of_the_change_is_an_hour_shorter_or_longer() -> None:
    spring = quiet_ends(at("2026-03-28 22:00"), VIENNA, NIGHT)
    autumn = quiet_ends(at("2026-10-24 22:00"), VIENNA, NIGHT)
    assert spring is not None
    assert autumn is not None
    assert spring - at("2026-03-28 22:00").astimezone(dt.UTC) == dt.timedelta(hours=8)
    assert autumn - at("2026-10-24 22:00").astimezone(dt.UTC) == dt.timedelta(hours=10)


def test_quiet_hours_within_a_day_and_none() -> None:
    noon = Wishes(quiet_from=dt.time(12), quiet_until=dt.time(14))
    assert quiet_ends(at("2026-01-12 13:00"), VIENNA, noon) == at("2026-01-12 14:00")
    assert quiet_ends(at("2026-01-12 15:00"), VIENNA, noon) is None
    never = Wishes(quiet_from=dt.time(7), quiet_until=dt.time(7))
    assert quiet_ends(at("2026-01-12 07:00"), VIENNA, never) is None


def test_a_danger_goes_on_over_a_calm_night_or_two() -> None:
    days = [at(f"2026-01-{day:02d} 04:00") for day in (20, 19, 16, 13, 9, 8)]
    assert began(days, VIENNA) == dt.date(2026, 1, 13)  # from the 9th on four days were calm
    assert began([], VIENNA) is None


def _events(before: Before | None = None) -> tuple[Event, ...]:
    told = morning_fake.morning(load_farm(morning_fake.FARM_FILE))
    beds = tuple(BedMorning(**vars(bed)) for bed in told.beds)
    return events_of(told.farm, beds, told.now, before, lambda bed: f"https://here/{bed}/")


def test_an_event_tells_odds_reason_and_page() -> None:
    (cold, *_) = [e for e in _events() if e.kind == "cold" and e.bed_id == "sluice"]
    # 0.32 of 200 members: 3 in 10, "less likely than not" (job.md 4, decide.words)
    assert "about 3 in 10 fortnights like this one" in cold.text
    assert "if nothing is done" in cold.text
    assert "your log, 11 January" in cold.text  # a reason with its source
    assert "https://here/sluice/" in cold.text
    assert "degC" not in cold.text
    assert not [e for e in _events() if e.bed_id == "ladder" and e.kind in ("cold", "heat")]


def test_a_chore_left_open_is_overdue_the_day_after() -> None:
    today = morning_fake.NOW.date()
    kinds = {e.bed_id: e.kind for e in _events() if e.kind in ("chore", "late")}
    assert kinds == {"sluice": "chore", "weir": "chore"}  # nothing is asked of ladder
    before = Before(asked={"sluice": today, "weir": today - dt.timedelta(days=1)})
    late = {e.bed_id: e for e in _events(before) if e.kind in ("chore", "late")}
    assert late["sluice"].kind == "chore"
    assert late["weir"].kind == "late"
    assert "Sunday 11 January" in late["weir"].text


def test_only_what_is_wanted_is_told_and_each_once() -> None:
    since = morning_fake.NOW.date() - dt.timedelta(days=2)
    before = Before(asked={"weir": since}, risky={("sluice", "cold"): since})
    wishes = Wishes(by_email=True)
    keys = [alert.key for alert in alerts_of(_events(before), wishes)]
    assert f"cold-sluice-{since}" in keys
    assert f"late-weir-{since}" in keys
    assert keys[-1].startswith("late")  # a chore is told after a danger
    assert not any("chore" in key for key in keys)
    no_cold = alerts_of(_events(before), replace(wishes, frost=False))
    assert [alert.event.kind for alert in no_cold] == ["late"]
    assert alerts_of(_events(before), Wishes(frost=False, heat=False, chores=False)) == ()
