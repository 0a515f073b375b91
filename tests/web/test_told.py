"""What was worked out: stored before its outcome, shown with its age, put into the calendar."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from django.test import Client
from icalendar import Calendar
from pydantic import TypeAdapter

from bedlore.decide.records import Action, Advice
from bedlore.errors import FaultList, KeeperError
from bedlore.service.account import outlook_account, today_account
from bedlore.service.answer_advice import answer_advice, entry_of
from bedlore.service.book import LogFilter
from bedlore.service.doors import open_calendar
from bedlore.service.morning import Morning
from bedlore.service.record_entry import record_entry
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.doors import DbDoors
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.keeping import DbKeeping, thinned
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import (
    Account,
    AdviceGiven,
    BedOutlookRow,
    CalendarFeed,
    FarmRow,
    Membership,
)
from bedlore.web import wiring
from tests import morning_fake
from tests.web.conftest import INES

NOW = morning_fake.NOW
_ADVICE = TypeAdapter(Advice)


def test_a_morning_comes_back_as_it_was_told(farm_row: FarmRow, told: Morning) -> None:
    back = wiring.last_morning(farm_row)
    assert back is not None
    assert back.is_current
    assert back.morning.weather_note == told.weather_note
    assert today_account(back.morning)["beds"][0]["advice"] == (
        today_account(told)["beds"][0]["advice"]
    )
    before = outlook_account(told, 24)["beds"]
    after = outlook_account(back.morning, 24)["beds"]
    assert [bed["whole"] for bed in before] == [bed["whole"] for bed in after]
    assert BedOutlookRow.objects.count() == AdviceGiven.objects.count() == len(told.beds)


def test_thinning_keeps_the_worst_hour_of_each_step(told: Morning) -> None:
    view = told.beds[0].outlook
    hours = {name: [[float(h) for h in range(12)]] * 5 for name in view.zones["bed"]}
    hourly = replace(view, every_h=1, zones={"bed": hours})
    thin = thinned(hourly)
    assert thin.every_h == 3
    assert thin.series("temp_coldest_c")[0] == [0, 3, 6, 9]
    assert thin.series("temp_warmest_c")[0] == [2, 5, 8, 11]
    assert thin.series("food_left_kg")[0] == [2, 5, 8, 11]
    assert thinned(thin) == thin


def test_anything_new_makes_it_old(farm_row: FarmRow, told: Morning) -> None:
    keeping = DbKeeping(farm_row, Path("none"))
    assert keeping.morning(NOW) is not None
    assert keeping.morning(NOW + dt.timedelta(hours=1)) is None
    DbFarmStore(farm_row).save_farm(told.farm, 1, INES)
    assert keeping.morning(NOW) is None
    back = wiring.last_morning(farm_row)
    assert back is not None
    assert not back.is_current


def test_yesterdays_advice_is_found(farm_row: FarmRow, told: Morning) -> None:
    keeping = DbKeeping(farm_row, Path("none"))
    bed = told.beds[0]
    assert keeping.advice_before(bed.bed_id, NOW.date()) is None
    assert keeping.advice_before(bed.bed_id, NOW.date() + dt.timedelta(days=1)) == bed.advice


def test_the_api_tells_the_same_as_the_command_line(
    as_: Callable[..., Client], told: Morning
) -> None:
    got = as_("viewer").get("/api/v1/farms/mill/today").json()
    assert set(got) - {"worked_at", "is_current"} == set(today_account(told))
    ahead = as_("viewer").get("/api/v1/farms/mill/outlook?every_h=6").json()
    assert ahead["every_h"] == 6


def test_without_an_outlook_the_api_says_so(as_: Callable[..., Client]) -> None:
    got = as_("viewer").get("/api/v1/farms/mill/today")
    assert got.status_code == 422
    assert "still being worked out" in got.json()["problem"]


def test_the_calendar_is_a_calendar_and_can_be_closed(
    people: dict[str, Account], farm_row: FarmRow, told: Morning
) -> None:
    now = wiring.clock()
    _, secret = open_calendar(DbDoors(), farm_row.pk, people["viewer"].pk, now)
    assert secret.digest == CalendarFeed.objects.get().digest != secret.text
    path = f"/calendar/{secret.text}.ics"
    answer = Client().get(path)
    assert answer.headers["Content-Type"].startswith("text/calendar")
    calendar = Calendar.from_ical(answer.content)  # an outside reader of RFC 5545
    events = calendar.walk("VEVENT")
    assert len(events) >= len(told.beds)
    assert len({str(event["uid"]) for event in events}) == len(events)
    first = min(event["dtstart"].dt for event in events)
    assert first >= NOW.date()
    assert all(len(line) <= 75 for line in answer.content.split(b"\r\n"))
    assert Client().get(path).content == answer.content
    assert Client().get("/calendar/calendar_guess.ics").status_code == 404
    Membership.objects.filter(account=people["viewer"]).delete()
    assert Client().get(path).status_code == 404  # whoever leaves the farm loses the address


def test_a_revoked_address_is_gone(
    people: dict[str, Account], farm_row: FarmRow, told: Morning
) -> None:
    now = wiring.clock()
    _, secret = open_calendar(DbDoors(), farm_row.pk, people["viewer"].pk, now)
    CalendarFeed.objects.update(revoked_at=now)
    assert Client().get(f"/calendar/{secret.text}.ics").status_code == 404


def test_one_tap_on_advice_writes_what_it_said(
    farm_row: FarmRow, book: DbLog, told: Morning
) -> None:
    action = Action("feed", "race-1", (("food_bread", 1.2),))
    given = AdviceGiven.objects.get(bed=told.beds[0].bed_id)
    given.body = _ADVICE.dump_json(replace(told.beds[0].advice, action=action)).decode()
    given.save()
    advices = DbAdvice(farm_row)
    (got,) = answer_advice(advices, book, told.farm, given.pk, "done", INES, NOW, client_id="tap-1")
    assert got.written.entry.parts[0].mass_kg == 1.2
    (again,) = answer_advice(advices, book, told.farm, given.pk, "done", INES, NOW,
                             client_id="tap-1")
    assert again.repeated
    given.refresh_from_db()
    assert (given.answer, given.answered_by) == ("done", "Ines")
    assert given.entry_id == got.written.entry.id
    assert answer_advice(advices, book, told.farm, given.pk, "skipped", INES, NOW) == []
    with pytest.raises(KeeperError):
        answer_advice(advices, book, told.farm, given.pk + 99, "done", INES, NOW)


def given_with(told: Morning, action: Action, *also: Action) -> AdviceGiven:
    """The advice of the first bed, asking for these acts."""
    given = AdviceGiven.objects.get(bed=told.beds[0].bed_id)
    asks = replace(told.beds[0].advice, action=action, also=also)
    given.body = _ADVICE.dump_json(asks).decode()
    given.save()
    return given


def test_one_tap_writes_every_act_of_today_once(
    farm_row: FarmRow, book: DbLog, told: Morning, as_: Callable[..., Client]
) -> None:
    given = given_with(told, Action("cover", material="bed_straw_general", thickness_m=0.05),
                       Action("feed", "race-1", (("food_bread", 1.2),)),
                       Action("mat", material="on", setpoint_c=7.0))  # fmt: skip
    keeper, before = as_("keeper"), book.page(LogFilter(), 50)
    for _ in range(2):
        keeper.post("/farms/mill/today/answer/", {"advice": given.pk, "answer": "done"})
    written = [one for one in book.page(LogFilter(), 50) if one not in before]
    assert sorted(one.entry.kind for one in written) == ["cover", "feed", "mat"]
    assert len({one.entry.at for one in written}) == 1
    (mat,) = [one.entry for one in written if one.entry.kind == "mat"]
    assert mat.setpoint_c == 7.0
    given.refresh_from_db()
    assert sorted(given.entries) == sorted(one.entry.id for one in written)
    page = keeper.get("/farms/mill/today/").content.decode()
    assert all(f"/log/{name}/" in page for name in given.entries)


def test_when_one_of_the_acts_is_refused_none_is_written(
    farm_row: FarmRow, book: DbLog, told: Morning
) -> None:
    given = given_with(told, Action("cover", material="bed_straw_general", thickness_m=0.05),
                       Action("feed", "race-1", (("no_such_food", 1.2),)))  # fmt: skip
    before = book.page(LogFilter(), 50)
    with pytest.raises(FaultList):
        answer_advice(DbAdvice(farm_row), book, told.farm, given.pk, "done", INES, NOW)
    assert book.page(LogFilter(), 50) == before
    given.refresh_from_db()
    assert given.answer == ""


def test_what_is_meant_for_a_later_day_is_not_written_as_done(
    farm_row: FarmRow, book: DbLog, told: Morning
) -> None:
    given = given_with(told, Action("feed", "race-1", (("food_bread", 1.2),), on_day=3))
    assert DbAdvice(farm_row).advice(given.pk).today == ()  # type: ignore[union-attr]
    assert answer_advice(DbAdvice(farm_row), book, told.farm, given.pk, "done", INES, NOW) == []


@pytest.mark.parametrize(
    ("action", "kind"),
    [
        (Action("nothing"), None), (Action("look"), None), (Action("uncover"), "cover"),
        (Action("water", "", (("water", 2.0),)), "water"),
        (Action("insulate", "", (), material="bed_straw_general", thickness_m=0.1), "cover"),
        (Action("bedding", "race-1", (("bed_corrugated", 0.3),)), "bedding"),
        (Action("mat", material="off"), "mat"), (Action("mat", material="on"), "mat"),
        (Action("move", "race-1", to_zone="race-2"), "move"),
    ],
)  # fmt: skip
def test_every_action_becomes_an_entry_that_is_understood(
    action: Action, kind: str | None, farm_row: FarmRow, book: DbLog
) -> None:
    raw = entry_of("sluice", action, NOW)
    assert (raw or {}).get("kind") == kind
    if raw is not None:
        got = record_entry(book, farm_of_row(farm_row), raw, INES, NOW)
        if action.kind == "mat":
            assert got.written.entry.state == action.material
