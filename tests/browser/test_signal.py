"""Without a signal, in a real browser: the network is cut, answers are lost, accounts change."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.test import Client
from PIL import Image
from playwright.sync_api import expect

from bedlore.service.book import LogFilter, Written
from bedlore.store.db.doors import give_role
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.web.views.photos import photos_of
from tests import morning_fake
from tests.browser.conftest import ARGS, CHROMIUM, PATIENCE_S, SIZES
from tests.browser.network import Network, network_to
from tests.web.postgres import free_port
from tests.web.started import environment, started

ROOT = Path(__file__).parents[2]

_TAKEN = """async () => {
  for (const name of await caches.keys()) {
    if (!name.startsWith("bedlore-pages-")) continue;
    const keys = await (await caches.open(name)).keys();
    if (keys.some((key) => key.url.includes("/phone/taken/"))) return true;
  }
  return false;
}"""
_SAVES_DATA = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}})"
_CONTROLLED = "Boolean(navigator.serviceWorker.controller)"
_PRIVATE = """async () => (await caches.keys()).filter((one) => one.startsWith("bedlore-pages-"))"""
_WAITING = """async () => (await Queue.all()).map((one) => [one.state, one.label])"""


@pytest.fixture
def net(live_server: Any) -> Iterator[Network]:
    parts = urlsplit(live_server.url)
    with network_to(parts.hostname, parts.port) as net:
        yield net


@pytest.fixture
def phone(chromium: Any, keeper: Account, net: Network, static_files: None) -> Iterator[Any]:
    """Phones of their own, each signed in as somebody (the keeper)."""
    opened = []

    def one(account: Account = keeper, url: str = net.url, browser: Any = chromium,
            saves_data: bool = True) -> Any:  # fmt: skip
        width, height = SIZES["phone"]
        context = browser.new_context(viewport={"width": width, "height": height}, base_url=url)
        context.set_default_timeout(1000.0 * PATIENCE_S)
        sign_in(context, account, url)
        if saves_data:  # then no pages are taken along unasked, which takes its time
            context.add_init_script(_SAVES_DATA)
        opened.append(context)
        tab = context.new_page()
        tab.said = []
        tab.on("pageerror", lambda e: tab.said.append(str(e)))
        return tab

    yield one
    for context in opened:
        context.close()


def sign_in(context: Any, account: Account, url: str) -> None:
    client = Client()
    client.force_login(account)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": url}])


def until(tab: Any, script: str, wanted: Callable[[Any], bool]) -> Any:
    found = None
    ends = time.monotonic() + PATIENCE_S
    while time.monotonic() < ends:
        try:
            found = tab.evaluate(script)
        except Exception as error:  # the page was left while it was asked
            if "context was destroyed" not in str(error):
                raise
        else:
            if wanted(found):
                return found
        tab.wait_for_timeout(100)
    raise AssertionError(f"still {found}")


def one_waits(left: Any) -> bool:
    return [state for state, _ in left] == ["waiting"]


def see(tab: Any, *paths: str) -> None:
    """Opens pages one after the other; the worker keeps them."""
    tab.goto("/farms/mill/write/")
    until(tab, _CONTROLLED, bool)
    for path in paths:
        tab.goto(f"/farms/mill/{path}")


def written(row: FarmRow, *kinds: str) -> list[Written]:
    return DbLog(row).page(LogFilter(kinds=kinds), 20)


def probe(tab: Any, taps: int = 1) -> None:
    tab.goto("/farms/mill/write/probe/?bed=sluice")
    tap_probe(tab, taps)


def tap_probe(tab: Any, taps: int = 1) -> None:
    for _ in range(taps):
        tab.get_by_role("button", name="It reads +1").click()
    tab.get_by_role("button", name="Write it down for").click()


def test_pages_open_again_without_a_signal_and_say_so(
    phone: Any, net: Network, pictures: Path
) -> None:
    tab = phone(saves_data=False)
    tab.goto("/farms/mill/today/")
    until(tab, _TAKEN, bool)
    browser = tab.context.new_cdp_session(tab)  # Chromium's own judgement; contexts are incognito
    found = browser.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in found if one["errorId"] != "in-incognito"] == []
    tab.goto("/farms/mill/beds/sluice/")  # seen once
    net.cut()
    for path, words in (
        ("today/", "The if-you-find card"), ("beds/sluice/", "Lately written"),
        ("carried/", "First aid"), ("carried/", "With the door left open"),
        ("write/feed/?bed=sluice", "How much"), ("write/?bed=weir", "Less often"),
        ("log/", "Nothing is written"),
    ):  # fmt: skip
        tab.goto(f"/farms/mill/{path}")
        expect(tab.get_by_text(words).first, path).to_be_visible()
        tab.locator("#carry", has_text="This page is the copy stored on").wait_for()
    tab.goto("/farms/mill/today/")
    tab.get_by_role("link", name="Changed").first.click()  # the form for that very advice
    tab.get_by_role("button", name="Write it down for Sluice").wait_for()
    tab.goto("/")  # as the app on the home screen opens
    assert tab.url.endswith("/farms/mill/today/")
    tab.locator("#carry", has_text="Its outlook was worked out on").wait_for()
    expect(tab.locator(".age")).to_be_hidden()  # its hours were counted when it was stored
    tab.screenshot(path=pictures / "copy-phone.png")
    tab.goto("/farms/mill/build/")
    tab.get_by_text("This page is not on the phone").wait_for()
    tab.locator("#on-phone a", has_text="Without a signal").wait_for()
    looks_right(tab, pictures / "no-signal-phone.png")
    net.mend()
    tab.goto("/farms/mill/today/")
    expect(tab.locator("#carry")).to_be_hidden()
    assert tab.said == []


def looks_right(tab: Any, picture: Path) -> None:
    """Keeps a picture, and lets axe-core look for what bars people."""
    tab.screenshot(path=picture, full_page=True)
    axe_api = pytest.importorskip("axe_playwright_python.sync_playwright",
                                  reason="axe-playwright-python is not installed")  # fmt: skip
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa"]}
    found = axe_api.Axe().run(tab, options=rules).response["violations"]
    assert [(one["id"], one["nodes"][0]["target"]) for one in found] == []


def test_an_entry_waits_and_is_sent_once(
    phone: Any, net: Network, farm_row: FarmRow, pictures: Path
) -> None:
    tab = phone()
    see(tab, "today/", "carried/", "write/probe/?bed=sluice")
    net.cut()
    probe(tab, taps=2)
    tab.get_by_text("Kept on this phone.").wait_for()
    tab.screenshot(path=pictures / "kept-phone.png")
    tab.goto("/farms/mill/today/")
    tab.locator(".find button", has_text="some").first.click()
    tab.get_by_text("Kept on this phone.").wait_for()
    tab.screenshot(path=pictures / "kept-found-phone.png")
    tab.goto("/farms/mill/carried/")
    rows = tab.locator("#waiting li")
    rows.nth(1).wait_for()
    looks_right(tab, pictures / "waiting-phone.png")
    expect(rows.first).to_contain_text("Probe")
    expect(rows.first).to_contain_text("It reads")
    assert written(farm_row) == []
    tab.wait_for_timeout(1100)
    net.mend()
    tab.goto("/farms/mill/log/")
    until(tab, _WAITING, lambda left: left == [])
    probed, looked = written(farm_row, "probe"), written(farm_row, "look")
    assert len(probed) == len(looked) == 1
    assert probed[0].entry.temp_c == 12.0
    assert probed[0].client_id.startswith("phone-")
    waited_s = (morning_fake.NOW - probed[0].entry.at).total_seconds()
    assert 1 <= waited_s < 60  # it says when it was written, not when it came
    assert tab.said == []


def test_an_answer_lost_on_the_way_doubles_nothing(
    phone: Any, net: Network, farm_row: FarmRow
) -> None:
    tab = phone()
    tab.goto("/farms/mill/write/look/?bed=sluice")
    tab.locator("label", has_text="lots").click()
    tab.locator("label", has_text="a drop or two").click()
    net.lose_answers = (b"POST",)
    tab.get_by_role("button", name="Write it down for").click()
    assert net.lost.wait(PATIENCE_S)
    tab.get_by_text("Kept on this phone.").wait_for()
    assert len(written(farm_row)) == 2  # the look and its squeeze are there, unknown to the phone
    until(tab, _WAITING, one_waits)
    net.mend()
    tab.goto("/farms/mill/today/")
    until(tab, _WAITING, lambda left: left == [])
    assert len(written(farm_row, "look")) == len(written(farm_row, "squeeze")) == 1


def test_one_tap_on_advice_is_answered_once(phone: Any, net: Network, farm_row: FarmRow) -> None:
    tab = phone()
    tab.goto("/farms/mill/today/")
    net.lose_answers = (b"POST",)
    tab.locator(".do button", has_text="Done").first.click()
    assert net.lost.wait(PATIENCE_S)
    tab.get_by_text("Kept on this phone.").wait_for()
    net.mend()
    tab.wait_for_timeout(1100)
    tab.goto("/farms/mill/today/")
    until(tab, _WAITING, lambda left: left == [])
    assert len(written(farm_row, "cover")) == 1


def test_two_phones_write_to_one_bed(phone: Any, net: Network, farm_row: FarmRow) -> None:
    helper = Account.objects.create_user("tomas", password="a long word for tomas")
    give_role(helper.pk, farm_row.pk, "helper", morning_fake.NOW)
    phones = [phone(), phone(helper)]
    for tab in phones:
        tab.goto("/farms/mill/write/probe/?bed=sluice")
    net.cut()
    for taps, tab in enumerate(phones, start=1):
        tap_probe(tab, taps)
        tab.get_by_text("Kept on this phone.").wait_for()
    net.mend()
    for tab in phones:
        tab.goto("/farms/mill/today/")
    for tab in phones:
        until(tab, _WAITING, lambda left: left == [])
    told = {(one.written_by, one.entry.temp_c) for one in written(farm_row, "probe")}
    assert told == {("ines", 11.0), ("tomas", 12.0)}


def test_a_refused_entry_keeps_its_words(
    phone: Any, net: Network, farm_row: FarmRow, pictures: Path, tmp_path: Path
) -> None:
    tab = phone()
    tab.goto("/farms/mill/write/probe/?bed=sluice")
    net.cut()
    tab.get_by_label("It reads [°C]").fill("warmish")
    tab.get_by_label("Note").fill("by hand")
    Image.new("RGB", (40, 30), "#38522A").save(tmp_path / "bed.jpg")
    tab.locator("[name=photo]").set_input_files(tmp_path / "bed.jpg")
    tab.get_by_role("button", name="Write it down for").click()
    tab.get_by_text("Kept on this phone.").wait_for()
    net.mend()
    tab.goto("/farms/mill/carried/")
    fault = tab.locator("#waiting .fault", has_text="warmish")
    fault.wait_for()
    assert "temp_c" not in fault.inner_text()
    looks_right(tab, pictures / "refused-phone.png")
    tab.get_by_role("link", name="Open it again").click()
    tab.locator("fieldset .fault", has_text="warmish").wait_for()
    tab.screenshot(path=pictures / "again-phone.png", full_page=True)
    expect(tab.get_by_label("Note")).to_have_value("by hand")
    expect(tab.get_by_label("It reads [°C]")).to_have_value("warmish")
    tab.get_by_label("It reads [°C]").fill("12")
    tab.get_by_role("button", name="Write it down for").click()
    tab.wait_for_url("**/log/?written=*")
    (one,) = written(farm_row, "probe")
    assert (one.entry.temp_c, one.entry.note) == (12.0, "by hand")
    assert len(photos_of(farm_row).of_entries([one.entry.id])[one.entry.id]) == 1
    until(tab, _WAITING, lambda left: left == [])


def test_a_sign_out_clears_pages_and_sends_nothing_of_others(
    phone: Any, net: Network, farm_row: FarmRow, keeper: Account
) -> None:
    other = Account.objects.create_user("mara", password="a long word for mara")
    give_role(other.pk, farm_row.pk, "helper", morning_fake.NOW)
    tab = phone()
    see(tab, "today/", "carried/", "write/probe/?bed=sluice")
    net.cut()
    probe(tab)
    tab.get_by_text("Kept on this phone.").wait_for()
    net.mend()
    net.keep_out = (b"POST /farms",)  # it must still wait when she signs out
    tab.goto("/?all=1")
    tab.get_by_role("button", name="Sign out").click()
    tab.wait_for_url("**/sign-in/**")
    net.mend()
    until(tab, _PRIVATE, lambda left: left == [])
    tab.locator("#carry", has_text="written by ines").wait_for()
    sign_in(tab.context, other, net.url)
    tab.goto("/farms/mill/today/")
    tab.locator("#carry", has_text="written by ines").wait_for()
    tab.wait_for_timeout(500)
    assert written(farm_row) == []
    until(tab, _WAITING, one_waits)
    tab.goto("/farms/mill/carried/")
    expect(tab.locator("#waiting li")).to_have_count(0)  # what she typed is not shown to others
    tab.context.clear_cookies()
    sign_in(tab.context, keeper, net.url)
    tab.goto("/farms/mill/today/")
    until(tab, _WAITING, lambda left: left == [])
    (one,) = written(farm_row, "probe")
    assert one.written_by == "ines"


def test_an_ended_session_lets_entries_wait(phone: Any, farm_row: FarmRow, net: Network) -> None:
    tab = phone()
    tab.goto("/farms/mill/write/probe/?bed=sluice")
    tab.context.clear_cookies()
    tab.get_by_role("button", name="Write it down for").click()
    tab.get_by_text("Kept on this phone.").wait_for()
    tab.locator("#carry", has_text="You are signed out").wait_for()
    assert written(farm_row) == []
    tab.locator("#carry").get_by_role("link", name="Sign in").click()
    tab.locator("[name=username]").fill("ines")
    tab.locator("[name=password]").fill("a long word for ines")
    tab.get_by_role("button", name="Sign in").click()
    until(tab, _WAITING, lambda left: left == [])
    assert len(written(farm_row, "probe")) == 1


def test_plain_http_keeps_entries_while_the_page_is_open(
    chromium: Any, phone: Any, net: Network, farm_row: FarmRow, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "shed.test"]
    rules = "--host-resolver-rules=MAP shed.test 127.0.0.1"
    browser = chromium.browser_type.launch(executable_path=CHROMIUM, args=[*ARGS, rules])
    try:
        tab = phone(url=f"http://shed.test:{net.port}", browser=browser)
        tab.goto("/farms/mill/carried/")
        assert tab.evaluate("isSecureContext") is False
        assert tab.evaluate("'serviceWorker' in navigator") is False
        tab.get_by_text("will not open here without a signal").wait_for()
        tab.goto("/farms/mill/write/probe/?bed=sluice")
        net.cut()
        tab.get_by_role("button", name="It reads +1").click()
        tab.get_by_role("button", name="Write it down for").click()
        tab.get_by_text("Kept on this phone.").wait_for()
        net.mend()
        tab.evaluate("dispatchEvent(new Event('online'))")
        tab.get_by_text("Entries sent from this phone").wait_for()
        assert len(written(farm_row, "probe")) == 1
        assert tab.said == []
    finally:
        browser.close()


_FARM = """
from bedlore.cli.serve import set_up
set_up("")
from django.conf import settings
from django.test import Client
from bedlore.service.book import Author
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.models import Account
from bedlore.web.wiring import clock
from tests.unit.farm.test_bed import FARM
row = add_farm(FARM, Author("Ines"), clock(), slug="mill")
account = Account.objects.create_user("ines", password="a long word for ines")
give_role(account.pk, row.pk, "keeper", clock())
client = Client()
client.force_login(account)
print(client.cookies[settings.SESSION_COOKIE_NAME].value)
"""


def probes_in(data: Path) -> int:
    base = sqlite3.connect(data / "bedlore.sqlite3")
    try:
        (count,) = base.execute("SELECT count(*) FROM store_logentry").fetchone()
        return int(count)
    finally:
        base.close()


def test_a_server_killed_before_it_answers_doubles_nothing(chromium: Any, tmp_path: Path) -> None:
    data, port = tmp_path / "data", free_port()
    done = subprocess.run([sys.executable, "-c", _FARM], env=environment(BEDLORE_DATA=str(data)),
                          cwd=ROOT, capture_output=True, text=True, timeout=120)  # fmt: skip
    assert done.returncode == 0, done.stderr
    words = ("--no-worker", "--port", str(port))
    with network_to("127.0.0.1", port) as net:
        context = chromium.new_context(base_url=net.url)
        cookie = {"name": "bedlore_session", "value": done.stdout.strip(), "url": net.url}
        context.set_default_timeout(1000.0 * PATIENCE_S)
        context.add_cookies([cookie])
        tab = context.new_page()
        with started(data, *words) as server:
            tab.goto("/farms/mill/write/probe/?bed=sluice")
            net.lose_answers = (b"POST",)
            tap_probe(tab)
            assert net.lost.wait(PATIENCE_S)
            server.stop(signal.SIGKILL)
        tab.get_by_text("Kept on this phone.").wait_for()
        assert probes_in(data) == 1
        until(tab, _WAITING, one_waits)
        net.mend()
        with started(data, *words):
            tab.goto("/farms/mill/log/")
            until(tab, _WAITING, lambda left: left == [])
        assert probes_in(data) == 1
        context.close()
