"""What pages show of a morning is made ahead, for every way of reading, and goes with it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from bedlore.decide.records import Advice
from bedlore.say import plain, say
from bedlore.service.account import chores_account, today_account
from bedlore.service.morning import Morning
from bedlore.store.db.advice_book import DbAdvice
from bedlore.store.db.models import Account, AdviceGiven, BedOutlookRow, FarmRow
from bedlore.web import wiring
from bedlore.web.leaves import ahead, kept
from tests.web.conftest import tell_morning

pytestmark = pytest.mark.django_db
Browser = Callable[..., Client]
PAGES = ("today/", "carried/", "beds/sluice/")


def drawn(row: FarmRow) -> Path:
    return Path(settings.DATA_FOLDER) / "drawn" / f"farm-{row.pk}"


def test_pages_find_everything_made(
    as_: Browser, told: Morning, farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    Account.objects.filter(email="", memberships__role="helper").update(language="es", units="us")
    ahead.draw_ahead(farm_row)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("made again")

    monkeypatch.setattr("bedlore.web.leaves.today.report_account", never)
    monkeypatch.setattr("bedlore.web.leaves.carried.report_account", never)
    monkeypatch.setattr("bedlore.web.leaves.bed.report_account", never)
    monkeypatch.setattr("bedlore.web.pictures.section_svg", never)
    for role in ("keeper", "helper", "viewer"):
        for page in PAGES:
            assert as_(role).get(f"/farms/mill/{page}").status_code == 200, (role, page)


def test_a_page_is_the_same_from_what_is_kept(as_: Browser, told: Morning) -> None:
    for page in PAGES[1:]:
        first, second = (as_("viewer").get(f"/farms/mill/{page}").content for _ in range(2))
        assert first == second


def test_older_mornings_are_thrown_away(told: Morning, farm_row: FarmRow, people: object) -> None:
    ahead.draw_ahead(farm_row)
    first = set(drawn(farm_row).iterdir())
    tell_morning(farm_row)
    ahead.draw_ahead(farm_row)
    second = set(drawn(farm_row).iterdir())
    assert len(second) == 1
    assert not first & second


def test_a_damaged_file_is_made_again(told: Morning, farm_row: FarmRow) -> None:
    last = wiring.last_morning(farm_row, ())
    assert last is not None
    assert kept.kept(last, "words", lambda: [say("Today")]) == ["Today"]
    for path in drawn(farm_row).rglob("*.djcache"):
        path.write_bytes(b"\x00 nothing that was kept")
    assert kept.kept(last, "words", lambda: ["again"]) == ["again"]


def test_sentences_are_kept_as_plain_text() -> None:
    found = plain({"a": [say("Today")], "b": (say("Log"), 1.5)})
    assert found == {"a": ["Today"], "b": ("Log", 1.5)}
    assert type(found["a"][0]) is type(found["b"][0]) is str


def test_a_morning_of_other_records_counts_as_none(
    as_: Browser, told: Morning, farm_row: FarmRow
) -> None:
    BedOutlookRow.objects.update(body=b"of another version")
    for page in ("today/", "carried/", "beds/sluice/"):
        assert as_("viewer").get(f"/farms/mill/{page}").status_code == 200
    AdviceGiven.objects.update(body="{}")
    assert DbAdvice(farm_row).given(AdviceGiven.objects.all()[0].run_id) is None
    assert "being worked out" in as_("viewer").get("/farms/mill/today/").content.decode()


def test_chores_are_the_head_of_todays_account(told: Morning) -> None:
    advice: list[Advice] = [bed.advice for bed in told.beds]
    chores = chores_account(reversed(advice), told.farm)
    whole = today_account(told)["beds"]
    assert [one.pop("headline") for one in chores] == [bed["advice"]["headline"] for bed in whole]
    assert chores == [{name: bed[name] for name in chores[0]} for bed in whole]


def test_a_job_draws_even_when_drawing_fails(
    farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(row: FarmRow) -> None:
        raise OSError("no room")

    monkeypatch.setattr(ahead, "draw_ahead", broken)
    ahead.draw_safely(farm_row.pk)
    assert "not drawn ahead" in caplog.text


