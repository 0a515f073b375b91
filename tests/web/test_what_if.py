"""The what-if page: its form, both futures side by side, and sentences beside its fields."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
from django.test import Client

from bedlore.service.morning import Morning
from bedlore.store.db.models import FarmRow
from bedlore.web import futures, warmth
from tests import morning_fake

PAGE = "/farms/mill/beds/sluice/what-if/"
As = Callable[..., Client]


@pytest.fixture
def young(farm_row: FarmRow) -> FarmRow:
    """The farm, seen soon after its bed began, so that the model has little to replay."""
    farm_row.as_of = dt.datetime(2024, 11, 20, 8, tzinfo=dt.UTC)
    farm_row.save()
    futures._starts.clear()
    return farm_row


def test_the_form_asks_nothing_of_the_model(as_: As, told: Morning,
                                            monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setattr(futures, "found", lambda *_: pytest.fail("the model was asked"))
    page = as_("viewer").get(PAGE)
    assert page.status_code == 200
    assert b"Both futures" not in page.content


def test_both_futures_stand_side_by_side(as_: As, young: FarmRow) -> None:
    sent = {"go": "1", "foam_walls_m": "5", "foam_lid_m": "5"}
    page = as_("viewer").get(PAGE, sent)
    text = page.content.decode()
    assert page.status_code == 200
    assert "5 cm of foam round walls and floor" in text
    assert text.count("<figure>") == 4
    assert re.search(r"same 60 futures", text)
    # Asked again, the bed is still in memory.
    before = list(futures._starts.values())
    assert (
        as_("viewer").get(PAGE, {"go": "1", "count": "1", "container": "bucket"}).status_code == 200
    )
    assert list(futures._starts.values()) == before


@pytest.mark.parametrize(("sent", "sentence"), [
    ({"count": "many and more"}, "is not"),
    ({"foam_lid_m": "5000"}, "more than the highest"),
    ({"mat": "perhaps"}, "perhaps"),
    ({"cover_m": "<b>", "cover": "on"}, "&lt;b&gt;"),
    ({"zone": "attic", "count": "1"}, "no part called attic"),
    ({}, "Change something"),
])  # fmt: skip
def test_what_cannot_be_used_is_said_and_kept(as_: As, farm_row: FarmRow, sent: dict[str, str],
                                              sentence: str) -> None:  # fmt: skip
    page = as_("viewer").get(PAGE, {"go": "1", **sent})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "<b>x" not in page.content.decode()


def test_steppers_work_without_a_script(as_: As, farm_row: FarmRow) -> None:
    page = as_("viewer").get(PAGE, {"foam_lid_m": "3", "step": "foam_lid_m:2"})
    assert 'name="foam_lid_m" value="5"' in page.content.decode()


def test_a_model_not_yet_ready_is_said(as_: As, farm_row: FarmRow,
                                       monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setattr(warmth, "is_ready", lambda _: False)
    page = as_("viewer").get(PAGE, {"go": "1", "foam_lid_m": "5"})
    assert "still being made ready" in page.content.decode()


def test_a_step_of_the_outlook_swaps_the_drawings_alone(as_: As, told: Morning) -> None:
    whole = as_("viewer").get("/farms/mill/beds/sluice/", {"step": "5"}).content
    part = as_("viewer").get(
        "/farms/mill/beds/sluice/", {"step": "5"}, headers={"hx-request": "true"}
    )
    assert part.status_code == 200
    assert part.content.lstrip().startswith(b'<div id="plan">')
    assert len(part.content) < len(whole) / 2
    assert b"Wed 14 Jan, 19:00" in part.content
    cell = morning_fake.cells(told.farm.beds[0]).temp_c["race-1"][4][0]
    assert f"{round(cell)}".encode().replace(b"-", "−".encode()) in part.content


def test_readings_stand_beside_the_model(as_: As, told: Morning) -> None:
    text = as_("viewer").get("/farms/mill/beds/sluice/").content.decode()
    assert "Your readings beside the model" in text
    assert "8 °C (7 – 9 °C)".replace(" °", "\u00a0°") in text


@pytest.mark.parametrize("step", ["-1", "99999", "abc", "29", "²"])
def test_an_odd_step_is_never_a_fault(as_: As, told: Morning, step: str) -> None:
    assert as_("viewer").get("/farms/mill/beds/sluice/", {"step": step}).status_code == 200
