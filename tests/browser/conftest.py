"""A server over a made-up morning, and a real Chromium to look at its pages with."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client
from playwright.sync_api import expect, sync_playwright

from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.models import Account, FarmRow
from tests import morning_fake
from tests.unit.farm.test_bed import FARM
from tests.web.conftest import INES, tell_morning

SIZES = {"phone": (390, 844), "table": (1280, 800)}
# A busy machine is slow, not wrong: what is waited for may take its time.
PATIENCE_S = 90.0
expect.set_options(timeout=1000.0 * PATIENCE_S)
CHROMIUM = next((path for name in ("chromium", "chromium-browser", "google-chrome")
                 if (path := shutil.which(name))), None)  # fmt: skip
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking",
        "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
# Playwright's loop runs in the test's own thread; Django would take that for an async view.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    if CHROMIUM is None:
        pytest.skip("No Chromium is installed here; install it to look at the pages.")
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def farm_row(transactional_db: None) -> FarmRow:
    row = add_farm(FARM, INES, morning_fake.NOW, slug="mill", as_of=morning_fake.NOW)
    tell_morning(row)
    return row


@pytest.fixture
def keeper(farm_row: FarmRow) -> Account:
    account = Account.objects.create_user("ines", password="a long word for ines")
    give_role(account.pk, farm_row.pk, "keeper", morning_fake.NOW)
    return account


@pytest.fixture
def static_files() -> None:
    call_command("collectstatic", verbosity=0, interactive=False)


@pytest.fixture
def page_at(chromium: Any, keeper: Account, live_server: Any, static_files: None) -> Iterator[Any]:
    """A page of the given size, signed in as the keeper; ``page.said`` is what the console
    complained of."""
    client = Client()
    client.force_login(keeper)
    # Signing in leaves the forms' secret too. Without it the first page and what its script asks
    # for at once would each be given one, and a form sent under the other's is stale.
    client.get("/phone/")
    cookies = {
        name: client.cookies[name].value
        for name in (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
    }
    opened = []

    def page(size: str, **more: Any) -> Any:
        width, height = SIZES[size]
        context = chromium.new_context(
            viewport={"width": width, "height": height}, base_url=live_server.url, **more
        )
        context.set_default_timeout(1000.0 * PATIENCE_S)
        context.add_cookies([{"name": name, "value": value, "url": live_server.url}
                             for name, value in cookies.items()])  # fmt: skip
        opened.append(context)
        tab = context.new_page()
        tab.said = []
        tab.on("console", lambda m: tab.said.append(m.text) if m.type == "error" else None)
        tab.on("pageerror", lambda e: tab.said.append(str(e)))
        return tab

    yield page
    for context in opened:
        context.close()


@pytest.fixture
def pictures(tmp_path: Path) -> Path:
    """Where pictures of pages go: ``BEDLORE_PICTURES``, or a folder that goes away."""
    folder = Path(os.environ.get("BEDLORE_PICTURES", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    return folder
