"""Coming in, and being kept out."""

from __future__ import annotations

import datetime as dt
import re
import time
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from bedlore.errors import FaultList, KeeperError
from bedlore.service.doors import accept, invite, look_at_invitation, set_passcode
from bedlore.service.throttle import MOST_FOR_NAME
from bedlore.store.db.doors import revoke, role_of, set_role
from bedlore.store.db.models import Account, FarmRow, Invitation
from bedlore.web import first_door, wiring
from tests.web.conftest import NOW

WORD = "a word for keeper"
GOOD = {"username": "Mara", "first_name": "Mara", "password1": "seven larch planks",
        "password2": "seven larch planks"}  # fmt: skip


def test_nobody_yet_leads_to_the_first_account(db: None) -> None:
    browser = Client()
    assert browser.get("/sign-in/").url == "/first/"
    assert browser.get("/").url.startswith("/sign-in/")
    assert browser.post("/first/", GOOD).url == "/"
    account = Account.objects.get()
    assert account.username == "mara"
    assert browser.get("/").status_code == 200
    assert Client().get("/first/").status_code == 404
    assert Client().post("/first/", {**GOOD, "username": "eve"}).status_code == 404
    assert Account.objects.count() == 1


def test_the_first_account_is_made_on_the_machine_itself(db: None) -> None:
    browser = Client(REMOTE_ADDR="192.168.1.20")
    assert browser.post("/first/", GOOD).status_code == 403
    assert not Account.objects.exists()


def test_the_terminals_key_opens_the_first_account_from_elsewhere(db: None) -> None:
    assert reverse("first") == first_door.PATH
    browser = Client(REMOTE_ADDR="192.168.1.20")
    key = first_door.new_key()
    assert browser.get(f"/first/?key={key}x").status_code == 403
    assert browser.get(f"/first/?key={key}").status_code == 200
    assert browser.post(f"/first/?key={key}", GOOD).status_code == 302
    assert browser.post(f"/first/?key={key}", {**GOOD, "username": "eve"}).status_code == 404


def test_a_key_ends_after_a_day(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    key = first_door.new_key()
    late = time.time() + first_door.KEY_LIFE.total_seconds() + 60
    monkeypatch.setattr("django.core.signing.time.time", lambda: late)
    assert Client(REMOTE_ADDR="192.168.1.20").get(f"/first/?key={key}").status_code == 403


def test_what_another_server_passes_on_does_not_come_from_here(db: None) -> None:
    passed_on = Client(headers={"X-Forwarded-For": "203.0.113.9"})
    assert passed_on.get("/first/").status_code == 403


def test_the_first_account_keeps_the_farms_of_nobody(farm_row: FarmRow) -> None:
    browser = Client()
    browser.post("/first/", GOOD)
    account = Account.objects.get()
    assert role_of(account.pk, farm_row.pk) == "keeper"
    assert browser.get("/").url == "/farms/mill/today/"


def test_weak_passwords_are_refused_with_a_sentence_and_the_name_is_kept(db: None) -> None:
    page = Client().post("/first/", {**GOOD, "password1": "12345678", "password2": "12345678"})
    assert page.status_code == 200
    assert b'value="Mara"' in page.content
    assert b'role="alert"' in page.content
    assert not Account.objects.exists()


def test_passwords_are_kept_with_argon2(db: None) -> None:
    from django.contrib.auth.hashers import check_password, make_password
    from django.test import override_settings

    from bedlore.web import settings as product

    assert "Argon2" in product.PASSWORD_HASHERS[0]
    with override_settings(PASSWORD_HASHERS=product.PASSWORD_HASHERS):
        kept = make_password("seven larch planks")
        assert kept.startswith("argon2$argon2id$")
        assert check_password("seven larch planks", kept)


def test_signing_in_and_out(people: dict[str, Account]) -> None:
    browser = Client(enforce_csrf_checks=True)
    page = browser.get("/sign-in/")
    secret = page.cookies["bedlore_csrf"].value
    sent = {"username": " KEEPER", "password": WORD, "csrfmiddlewaretoken": secret}
    assert browser.post("/sign-in/", {**sent, "csrfmiddlewaretoken": "x" * 32}).status_code == 403
    answer = browser.post("/sign-in/", sent)
    assert answer.url == "/"
    cookie = answer.cookies["bedlore_session"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert browser.get("/sign-out/").status_code == 405
    page = browser.get("/")
    secret = browser.cookies["bedlore_csrf"].value
    browser.post("/sign-out/", {"csrfmiddlewaretoken": secret})
    assert browser.get("/").status_code == 302


@pytest.mark.parametrize("target", ["https://elsewhere.example/", "//elsewhere.example/",
                                    "/\\elsewhere.example", "javascript:alert(1)"])  # fmt: skip
def test_signing_in_leads_nowhere_else(people: dict[str, Account], target: str) -> None:
    answer = Client().post("/sign-in/", {"username": "keeper", "password": WORD, "next": target})
    assert answer.url == "/"


def test_guessing_is_slowed_down(people: dict[str, Account]) -> None:
    browser = Client()
    for _ in range(MOST_FOR_NAME):
        page = browser.post("/sign-in/", {"username": "keeper", "password": "wrong"})
        assert page.status_code == 200
    page = browser.post("/sign-in/", {"username": "keeper", "password": WORD})
    assert b"quarter of an hour" in page.content
    # The same person from another place is not locked out by a stranger.
    other = Client(REMOTE_ADDR="10.0.0.9")
    assert other.post("/sign-in/", {"username": "keeper", "password": WORD}).url == "/"


def test_an_invitation_works_once(people: dict[str, Account], farm_row: FarmRow) -> None:
    now = wiring.clock()
    _, secret = invite(wiring.DOORS, farm_row.pk, "helper", people["keeper"].pk, now)
    assert secret.text not in str(list(Invitation.objects.values()))
    browser = Client()
    page = browser.get(f"/join/{secret.text}/")
    assert b"Ousel Mill" in page.content
    assert browser.post(f"/join/{secret.text}/", GOOD).url == "/"
    assert role_of(Account.objects.get(username="mara").pk, farm_row.pk) == "helper"
    assert Client().get(f"/join/{secret.text}/").status_code == 404


def test_an_invitation_ends_and_never_lowers_a_role(
    people: dict[str, Account], farm_row: FarmRow
) -> None:
    keeper = people["keeper"].pk
    _, secret = invite(wiring.DOORS, farm_row.pk, "viewer", keeper, NOW)
    accept(wiring.DOORS, secret.text, keeper, NOW)
    assert role_of(keeper, farm_row.pk) == "keeper"
    _, old = invite(wiring.DOORS, farm_row.pk, "viewer", keeper, NOW)
    with pytest.raises(KeeperError, match="no longer good"):
        look_at_invitation(wiring.DOORS, old.text, NOW + dt.timedelta(days=15))
    with pytest.raises(FaultList):
        invite(wiring.DOORS, farm_row.pk, "owner", keeper, NOW)  # type: ignore[arg-type]


def test_a_household_signs_in_with_its_passcode(farm_row: FarmRow) -> None:
    browser = Client()
    sent = {"farm": "mill", "passcode": "race42bank"}
    assert browser.post("/passcode/", sent).status_code == 200  # there is none yet
    set_passcode(wiring.DOORS, farm_row.pk, "race42bank", "helper", NOW)
    assert browser.post("/passcode/", sent).url == "/"
    assert browser.get("/farms/mill/farm.toml").status_code == 200
    assert browser.get("/farms/mill/archive.zip").status_code == 403
    set_passcode(wiring.DOORS, farm_row.pk, "another-77", "helper", NOW)
    assert browser.get("/").status_code == 302  # a new passcode signs everybody out
    wiring.DOORS.set_passcode(farm_row.pk, None, "viewer", NOW)
    assert not Account.objects.filter(is_household=True).exists()
    with pytest.raises(FaultList):
        set_passcode(wiring.DOORS, farm_row.pk, "111111", "helper", NOW)


def test_what_was_given_can_be_taken_back(people: dict[str, Account], farm_row: FarmRow) -> None:
    now, keeper = wiring.clock(), people["keeper"].pk
    number, secret = invite(wiring.DOORS, farm_row.pk, "helper", keeper, now)
    assert not revoke(Invitation, number, now, farm_id=farm_row.pk + 1)
    assert revoke(Invitation, number, now, farm_id=farm_row.pk)
    assert not revoke(Invitation, number, now, farm_id=farm_row.pk)
    with pytest.raises(KeeperError, match="no longer good"):
        look_at_invitation(wiring.DOORS, secret.text, now)


def test_a_farm_keeps_a_keeper(people: dict[str, Account], farm_row: FarmRow) -> None:
    keeper, helper = people["keeper"].pk, people["helper"].pk
    for role in (None, "viewer"):
        with pytest.raises(KeeperError, match="needs a keeper"):
            set_role(farm_row.pk, keeper, role)
    set_role(farm_row.pk, helper, "keeper")
    set_role(farm_row.pk, keeper, None)
    assert role_of(keeper, farm_row.pk) is None


def test_answers_carry_strict_headers(as_: Callable[..., Client]) -> None:
    for path in ("/", "/sign-in/", "/nowhere/", "/api/v1/openapi.json"):
        headers = as_("keeper").get(path).headers
        policy = headers["Content-Security-Policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"


def test_no_page_of_ours_has_script_or_style_in_it() -> None:
    from pathlib import Path

    from bedlore import web

    for page in (Path(web.__file__).parent / "templates").rglob("*.html"):
        text = page.read_text("utf-8")
        assert " style=" not in text, page
        assert not re.search(r"\son\w+\s*=", text), page
        assert "<script>" not in text, page
        assert "<style" not in text, page
