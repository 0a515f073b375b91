"""Kitchen measures on the pages: weighed once, known from then on; last values stand ready."""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client

from bedlore.service.book import LogFilter
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow

As = Callable[..., Client]
FEED = "/farms/mill/write/feed/"


def feed(browser: Client, **more: str) -> None:
    sent = {"bed": "sluice", "material": "food_mixed_kitchen", "count": "1", **more}
    assert browser.post(FEED, sent).status_code == 302


def last_kg(row: FarmRow) -> float:
    (found,) = DbLog(row).page(LogFilter(kinds=("feed",)), 1)
    return float(found.entry.parts[0].mass_kg)


def test_a_container_that_was_weighed_is_known_from_then_on(as_: As, farm_row: FarmRow) -> None:
    helper, container = as_("helper"), farm_of_row(farm_row).containers[0]
    feed(helper, container=container.id)
    described = last_kg(farm_row)
    for _ in range(7):
        feed(helper, container=container.id, weighed=f"{described * 1.5}")
    feed(helper, container=container.id)
    assert described * 1.3 < last_kg(farm_row) < described * 1.5
    for page in (f"{FEED}?bed=sluice", "/farms/mill/farm/"):
        assert "learnt from 7 weighings" in helper.get(page).content.decode()


def test_a_weighing_can_be_corrected(as_: As, farm_row: FarmRow) -> None:
    helper, container = as_("helper"), farm_of_row(farm_row).containers[0]
    feed(helper, container=container.id, weighed="44")
    (found,) = DbLog(farm_row).page(LogFilter(), 1)
    page = f"/farms/mill/log/{found.entry.id}/"
    assert 'name="weighed" value="44"' in helper.get(page).content.decode()
    sent = {"material": "food_mixed_kitchen", "count": "1", "container": container.id,
            "weighed": "4.4", "when": "as-written"}  # fmt: skip
    assert helper.post(page, sent).status_code == 302
    assert last_kg(farm_row) == 4.4


def test_last_values_stand_ready_but_not_what_is_seen_anew(as_: As, farm_row: FarmRow) -> None:
    helper = as_("helper")
    core = {"bed": "sluice", "volume_l": "2.5", "adults": "11"}
    assert helper.post("/farms/mill/write/core/", core).status_code == 302
    text = helper.get("/farms/mill/write/core/?bed=sluice").content.decode()
    assert 'name="volume_l" value="2.5"' in text
    assert 'value="11"' not in text
    look = {"bed": "sluice", "food_left": "lots"}
    assert helper.post("/farms/mill/write/look/", look).status_code == 302
    text = helper.get("/farms/mill/write/look/?bed=sluice").content.decode()
    assert 'value="lots" checked' not in text
