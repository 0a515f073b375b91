"""The page for being away, with a stand-in for the model."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from bedlore.errors import KeeperError
from bedlore.web import absences
from bedlore.web.absences import Work
from tests import morning_fake
from tests.web.conftest import Morning

TODAY = morning_fake.NOW.date()
LEAVE, BACK = TODAY + dt.timedelta(days=3), TODAY + dt.timedelta(days=24)
DATES = f"?from={LEAVE.isoformat()}&to={BACK.isoformat()}"
PAGE = "/farms/mill/beds/sluice/away/"


def account() -> dict[str, Any]:
    odds = {"odds_cold": 0.1, "odds_hot": 0.0, "odds_sour": 0.0, "odds_dry": 0.0, "odds_wet": 0.0,
            "members": 60}  # fmt: skip
    way = {"words": "feed 1.2 kg before, a neighbour looks and feeds once a week", "chosen": True,
           "odds": odds, "hungry_d": [0, 1, 3], "herd_kept": [0.8, 0.9, 1.1]}  # fmt: skip
    return {
        "bed": "sluice", "name": "Sluice", "mark": 1, "mark_shape": "round",
        "leave": LEAVE.isoformat(), "return": BACK.isoformat(), "headline": "Feed and go.",
        "leave_with": ["Feed race: 1.2 kg scraps."], "visits": [LEAVE.isoformat()],
        "cup": ["0.9 kg scraps"], "finds": [{"words": "no food left", "act": "One cup."}],
        "watch": ["Over 30 degC shade it."], "call_if": ["worms leave"], "call": "",
        "never": ["More than the cup."], "cautions": ["Gloves."], "members": 60,
        "weighed": [way, {**way, "words": "nothing", "chosen": False}],
    }  # fmt: skip


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> Work:
    work = Work(account=account())
    work.done.set()
    monkeypatch.setattr(absences, "found", lambda *_: work)
    return work


def test_the_form_alone_asks_for_two_dates(told: Morning, as_: Callable[..., Client]) -> None:
    page = as_("viewer").get(PAGE).content.decode()
    assert f'value="{TODAY.isoformat()}"' in page
    assert 'type="date"' in page


def test_two_dates_give_the_advice(
    told: Morning, as_: Callable[..., Client], worked: Work
) -> None:
    page = as_("viewer").get(PAGE + DATES).content.decode()
    for said in ("Feed and go.", "One cup.", "1 in 10", "advised", "30\N{NO-BREAK SPACE}°C"):
        assert said in page
    assert "every 3s" not in page


def test_what_is_not_ready_is_asked_for_again(
    told: Morning, as_: Callable[..., Client], worked: Work
) -> None:
    worked.account = None
    page = as_("viewer").get(PAGE + DATES).content.decode()
    assert "every 3s" in page
    assert "Look again" in page
    sheet = as_("viewer").post(PAGE + "sheet.pdf", {"from": LEAVE.isoformat(),
                                                    "to": BACK.isoformat()})  # fmt: skip
    assert sheet.status_code == 302
    worked.problem = "There is no bed."
    answer = as_("viewer").get(PAGE + DATES)
    assert answer.status_code == 422
    assert "There is no bed." in answer.content.decode()


def test_the_sheet_carries_whom_to_call_and_nothing_keeps_it(
    told: Morning, as_: Callable[..., Client], worked: Work
) -> None:
    sent = {"from": LEAVE.isoformat(), "to": BACK.isoformat(), "call": "Ines 555 0142 #let x"}
    sheet = as_("viewer").post(PAGE + "sheet.pdf", sent)
    assert sheet.headers["Content-Type"] == "application/pdf"
    assert sheet.content.startswith(b"%PDF")
    assert worked.account is not None
    assert worked.account["call"] == ""


@pytest.mark.parametrize("dates", ["?from=soon&to=later", "?from=2019-01-01&to=2019-02-01",
                                   f"?from={BACK}&to={LEAVE}", "?from=&to=2026-99-99"])
def test_odd_dates_are_answered_with_a_sentence(
    dates: str, told: Morning, as_: Callable[..., Client]
) -> None:
    answer = as_("viewer").get(PAGE + dates)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()


def test_work_that_fails_ends_in_a_sentence() -> None:
    def refuse() -> dict[str, Any]:
        raise KeeperError("The bed begins later.")

    for told, said in ((refuse, "begins later"), (lambda: {}["x"], "KeyError")):
        work = Work()
        absences._do(work, told)  # type: ignore[arg-type]
        assert work.done.is_set()
        assert said in work.problem
    work = Work()
    absences._do(work, account)
    assert work.account == account()
