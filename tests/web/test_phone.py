"""Pages on a phone: whose they are, which may stay there, and forms that waited there."""

from __future__ import annotations

import datetime as dt
import gzip
import json
import random
import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from bedlore.farm.model import Farm
from bedlore.service.book import LogFilter
from bedlore.service.morning import Morning
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from bedlore.web.phone import KEPT, account_mark
from bedlore.web.rights import POLICY
from bedlore.web.views import signal
from tests import morning_fake
from tests.unit.farm.test_bed import FARM
from tests.web.conftest import INES, tell_morning
from tests.web.test_rights import addresses

As = Callable[..., Client]
FORM = "/farms/mill/write/probe/?bed=sluice"
PROBE = {"bed": "sluice", "temp_c": "11", "depth_m": "10", "when": "now", "client_id": "phone-1"}


@pytest.fixture(autouse=True)
def _no_jobs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bedlore.web.tasks.ask_outlook", lambda _: None)


def headers(account: Account, waited_s: int = 0) -> dict[str, str]:
    return {"X-Bedlore-Phone": account_mark(account), "X-Bedlore-Waited": str(waited_s)}


def test_the_app_can_be_installed(client: Client, db: None) -> None:
    told = json.loads(client.get("/manifest.webmanifest").content)
    assert told["display"] == "standalone"
    assert told["start_url"] == "/"
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in told["icons"]}
    assert {"any", "maskable"} == {icon["purpose"] for icon in told["icons"]}
    from PIL import Image

    for icon in told["icons"]:
        found = finders.find(icon["src"].removeprefix("/static/"))
        with Image.open(found) as image:
            assert f"{image.width}x{image.height}" == icon["sizes"]
    page = client.get("/no-signal/").content.decode()
    assert 'rel="manifest" href="/manifest.webmanifest"' in page


def test_the_worker_covers_everything_and_is_never_stale(client: Client, db: None) -> None:
    response = client.get("/worker.js")
    assert response["Content-Type"].startswith("text/javascript")
    assert response["Cache-Control"] == "no-cache"
    text = response.content.decode()
    parts = json.loads(re.search(r"^const PARTS = (.*);$", text, re.M)[1])
    assert all(finders.find(part.removeprefix("/static/")) for part in parts)
    assert "worker-src 'self'" in response["Content-Security-Policy"]


def test_pages_say_whose_they_are_and_which_may_stay(as_: As, people: dict[str, Account]) -> None:
    keeper = as_("keeper")
    page = keeper.get("/farms/mill/today/")
    assert page["X-Bedlore-Account"] == account_mark(people["keeper"])
    assert page["X-Bedlore-Keep"] == "1"
    assert page["Cache-Control"] == "private, no-store"
    assert account_mark(people["keeper"]) != account_mark(people["helper"])
    assert account_mark(people["keeper"]) in page.content.decode()
    away = Client().get("/sign-in/")
    assert away["X-Bedlore-Account"] == "-"
    assert "X-Bedlore-Keep" not in away
    assert set(POLICY) >= KEPT


def test_a_page_that_says_something_once_does_not_stay(as_: As, told: Morning) -> None:
    keeper = as_("keeper")
    keeper.post("/farms/mill/today/found/", {"bed": "sluice", "food_left": "some"})
    first, second = (keeper.get("/farms/mill/today/") for _ in range(2))
    assert "Written down." in first.content.decode()
    assert "X-Bedlore-Keep" not in first
    assert "X-Bedlore-Keep" in second


def test_what_waited_is_written_once_at_the_moment_of_writing(
    as_: As, people: dict[str, Account], farm_row: FarmRow, book: DbLog
) -> None:
    helper = as_("helper")
    before = wiring.clock()
    for waited_s in (7200, 7260):
        got = helper.post(FORM, PROBE, headers=headers(people["helper"], waited_s))
        assert got.status_code == 200, got.content
        assert "/log/?written=" in got.json()["next"]
    (one,) = book.page(LogFilter(), 9)
    assert abs((before - one.entry.at) - dt.timedelta(hours=2)) < dt.timedelta(seconds=30)
    assert one.written_by == "helper"


def test_yesterday_is_the_day_before_the_writing(
    as_: As, people: dict[str, Account], farm_row: FarmRow, book: DbLog
) -> None:
    farm_row.as_of = dt.datetime(2026, 1, 12, 10, tzinfo=dt.UTC)
    farm_row.save()
    sent = {**PROBE, "when": "yesterday"}
    got = as_("helper").post(FORM, sent, headers=headers(people["helper"], 86400))
    assert got.status_code == 200
    (one,) = book.page(LogFilter(), 9)
    assert one.entry.at.date() == dt.date(2026, 1, 10)


def test_the_entry_of_somebody_else_is_not_taken(
    as_: As, people: dict[str, Account], book: DbLog
) -> None:
    got = as_("helper").post(FORM, PROBE, headers=headers(people["keeper"]))
    assert got.status_code == 409
    assert got.json()["problem"]
    assert Client().post(FORM, PROBE, headers=headers(people["keeper"])).status_code == 401
    assert as_("viewer").post(FORM, PROBE, headers=headers(people["viewer"])).status_code == 403
    assert book.page(LogFilter(), 9) == []


def test_a_refusal_names_its_field(as_: As, people: dict[str, Account], book: DbLog) -> None:
    sent = {**PROBE, "temp_c": "warmish"}
    got = as_("helper").post(FORM, sent, headers=headers(people["helper"]))
    assert got.status_code == 422
    assert "warmish" in got.json()["faults"]["temp_c"][0]


def test_a_phone_needs_the_forms_secret(people: dict[str, Account], book: DbLog) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(people["helper"])
    mine = headers(people["helper"])
    assert client.post(FORM, PROBE, headers=mine).json()["problem"]
    secret = client.get("/phone/").json()["secret"]
    got = client.post(FORM, {**PROBE, "csrfmiddlewaretoken": secret}, headers=mine)
    assert got.status_code == 200
    assert len(book.page(LogFilter(), 9)) == 1


def test_a_repeated_answer_writes_one_entry(
    as_: As, people: dict[str, Account], told: Morning, farm_row: FarmRow
) -> None:
    from bedlore.store.db.models import AdviceGiven

    helper = as_("helper")
    number = AdviceGiven.objects.filter(farm=farm_row).first().pk
    sent = {"advice": str(number), "answer": "done"}
    for waited_s in (60, 3600):
        got = helper.post("/farms/mill/today/answer/", sent,
                          headers=headers(people["helper"], waited_s))  # fmt: skip
        assert got.status_code == 200, got.content
    assert len(DbLog(farm_row).page(LogFilter(), 9)) == 1


def test_who_is_there(as_: As, people: dict[str, Account], told: Morning) -> None:
    assert Client().get("/phone/?take=1").json() == {"account": "-", "who": "", "secret": ""}
    told_ = as_("viewer").get("/phone/?take=1").json()
    (farm,) = told_["taken"]
    assert told_["farms"] == ["mill"]
    assert reverse("carried", args=["mill"]) in farm["pages"]
    assert not any("/write/" in page for page in farm["pages"])
    helper = as_("helper")
    (farm,) = helper.get("/phone/?take=1").json()["taken"]
    for page in farm["pages"]:
        got = helper.get(page)
        assert (got.status_code, got["X-Bedlore-Keep"]) == (200, "1"), page


def test_the_carried_page_holds_cards_curves_and_first_aid(as_: As, told: Morning) -> None:
    page = as_("viewer").get("/farms/mill/carried/").content.decode()
    assert page.count('class="card"') == len(told.beds)
    assert page.count("The figures behind this curve") == len(told.beds)
    for words in ("With the door open it takes 20 hours", "First aid", "too much food",
                  "where worms live", "Take 250 g of worms"):  # fmt: skip
        assert words.lower() in page.lower(), words


# The first load, and any page after it, as the issue allows them.
FIRST_LOAD_BYTES, LATER_PAGE_BYTES = 200_000, 60_000
_PACKED = re.compile(r'(?:src|href)="(/static/[^"]+)"')


def many_beds(beds_n: int) -> Farm:
    """A farm with so many beds, each of sizes of its own, as compression would hide copies."""
    told = FARM.model_dump(exclude_none=True)
    draw = random.Random(7)
    beds = []
    for place in range(beds_n):
        bed = dict(told["beds"][place % len(told["beds"])])
        bed.update(id=f"bed-{place}", name=f"{bed['name']} {place + 1}",
                   width_m=round(bed["width_m"] * draw.uniform(0.8, 1.2), 3))  # fmt: skip
        beds.append(bed)
    return Farm.model_validate({**told, "beds": beds})


@pytest.fixture
def farm_of_50(people: dict[str, Account]) -> FarmRow:
    farm = many_beds(50)
    row = add_farm(farm, INES, morning_fake.NOW, slug="many", as_of=morning_fake.NOW)
    give_role(people["keeper"].pk, row.pk, "keeper", morning_fake.NOW)
    tell_morning(row)
    return row


def weigh(browser: Client, path: str) -> tuple[int, int]:
    """Compressed bytes of a page as it is sent, and with all files that it and its worker load."""
    response = browser.get(path, headers={"Accept-Encoding": "gzip"})
    if not response["Content-Type"].startswith("text/html"):
        response.close()
        return 0, 0  # a file, not a page
    html, page = response.content, len(response.content)
    if response.get("Content-Encoding") == "gzip":
        html = gzip.decompress(html)
    files = set(_PACKED.findall(html.decode())) | set(signal.parts())
    return page, page + sum(_packed(one) for one in files)


def too_heavy(browser: Client, slug: str, bed: str) -> list[tuple[str, int, int]]:
    """Of all addresses that can be read, so that a new page cannot be forgotten."""
    heavy, light = [], 0
    for name, path in addresses():
        if "GET" not in POLICY[name] or name.startswith("api:"):
            continue
        path = path.replace("/mill/", f"/{slug}/").replace("/sluice/", f"/{bed}/")
        page, whole = weigh(browser, path)
        light = max(light, page)
        if page > LATER_PAGE_BYTES or whole > FIRST_LOAD_BYTES:
            heavy.append((name, page, whole))
    assert light > 5_000, "nothing was weighed"
    return heavy


def test_every_page_is_light(as_: As, told: Morning) -> None:
    assert too_heavy(as_("keeper"), "mill", "sluice") == []


def test_fifty_beds_are_light_and_within_reach(as_: As, farm_of_50: FarmRow) -> None:
    browser = as_("keeper")
    assert too_heavy(browser, "many", "bed-7") == []
    for name, last, beds_n in (("today", 6, 2), ("carried", 3, 2)):
        page = browser.get(f"/farms/many/{name}/?part={last}").content.decode()
        assert len(set(re.findall(r'id="bed-(\d+)"', page))) == beds_n
    taken = browser.get("/phone/?take=1").json()["taken"]
    assert any("/farms/many/carried/?part=3" in farm["pages"] for farm in taken)
    page = browser.get("/farms/many/today/").content.decode()
    parts = re.findall(r'href="(?:\?part=(\d))?#bed-\d+"', page)
    assert Counter(parts) == {"": 8, "1": 8, "2": 8, "3": 8, "4": 8, "5": 8, "6": 2}
    assert "49–50" in browser.get("/farms/many/today/?part=9999").content.decode()


def _packed(address: str) -> int:
    """Bytes of a file of ours as WhiteNoise sends it: compressed where that helps."""
    content = Path(finders.find(address.removeprefix("/static/"))).read_bytes()
    return min(len(content), len(gzip.compress(content, 9)))
