"""Pages over people, invitations, the household, and one's own account."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections.abc import Callable

import pytest
from django.test import Client

from bedlore.store.db.doors import role_of
from bedlore.store.db.models import Account, ApiToken, CalendarFeed, FarmRow, Invitation, Passcode
from bedlore.web import wiring
from tests.web.test_entrance import GOOD
from tests.web.test_pages import Outline

Browser = Callable[..., Client]
PEOPLE = "/farms/mill/people/"


def once(text: str, name: str) -> str:
    """What is shown once in the field ``name``."""
    found = re.search(rf'<input id="{name}" value="([^"]+)" readonly>', text)
    assert found is not None
    return html.unescape(found[1])


@pytest.mark.parametrize("address", [PEOPLE, "/account/"])
def test_pages_are_well_formed(address: str, as_: Browser) -> None:
    token = {"act": "token", "scope": "read", "name": "scale"}
    for sent in (None, {"act": "invite", "role": "viewer"}, {"act": "calendar", "farm": "mill"},
                 token, {"act": "nothing"}):  # fmt: skip
        browser = as_("keeper")
        answer = browser.post(address, sent) if sent else browser.get(address)
        assert answer.status_code in (200, 422)
        outline = Outline(answer.content.decode())
        assert (outline.faults, outline.open) == ([], [])
        assert len(outline.ids) == len(set(outline.ids))
        assert set(outline.fields) <= outline.labels


def test_an_invitation_is_shown_once_and_joins_once(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    keeper = as_("keeper")
    page = keeper.post(PEOPLE, {"act": "invite", "role": "helper"})
    assert page.headers["Cache-Control"] == "no-store"
    text = page.content.decode()
    address = once(text, "once-address")
    assert '<svg role="img"' in text
    assert address not in keeper.get(PEOPLE).content.decode()
    assert Invitation.objects.get().digest not in text
    path = address.removeprefix("http://testserver")
    assert as_("stranger").post(path).url == "/"
    assert role_of(people["stranger"].pk, farm_row.pk) == "helper"
    assert Client().get(path).status_code == 404


def test_an_invitation_taken_back_or_too_old_opens_nothing(as_: Browser, farm_row: FarmRow) -> None:
    keeper = as_("keeper")
    addresses = [once(keeper.post(PEOPLE, {"act": "invite", "role": role}).content.decode(),
                      "once-address") for role in ("viewer", "keeper")]  # fmt: skip
    numbers = re.findall(r'name="invitation" value="(\d+)"', keeper.get(PEOPLE).content.decode())
    assert len(numbers) == 2
    row = Invitation.objects.get(role="viewer")
    assert keeper.post(PEOPLE, {"act": "revoke", "invitation": row.pk}).status_code == 302
    assert keeper.post(PEOPLE, {"act": "revoke", "invitation": row.pk}).status_code == 422
    Invitation.objects.filter(role="keeper").update(ends_at=wiring.clock() - dt.timedelta(days=1))
    for address in addresses:
        assert Client().post(address.removeprefix("http://testserver"), GOOD).status_code == 404
    assert 'name="invitation"' not in keeper.get(PEOPLE).content.decode()


def test_roles_change_and_end_but_never_the_last_keepers(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    keeper, numbers = as_("keeper"), {name: one.pk for name, one in people.items()}
    for act in ({"act": "role", "role": "helper"}, {"act": "remove"}):
        refused = keeper.post(PEOPLE, {**act, "member": numbers["keeper"]})
        assert refused.status_code == 422
        assert "A farm needs a keeper" in refused.content.decode()
    assert keeper.post(PEOPLE, {"act": "role", "role": "keeper",
                                "member": numbers["helper"]}).status_code == 302  # fmt: skip
    assert role_of(numbers["helper"], farm_row.pk) == "keeper"
    gone = keeper.post(PEOPLE, {"act": "remove", "member": numbers["keeper"]})
    assert gone.url == "/"
    assert keeper.get(PEOPLE).status_code == 404
    second = as_("helper")
    assert second.post(PEOPLE, {"act": "remove", "member": numbers["viewer"]}).url == PEOPLE
    assert role_of(numbers["viewer"], farm_row.pk) is None
    assert second.post(PEOPLE, {"act": "role", "role": "king",
                                "member": numbers["helper"]}).status_code == 422  # fmt: skip


@pytest.mark.parametrize("role", ["helper", "viewer", "stranger"])
def test_only_keepers_look_at_people_and_change_them(
    role: str, as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    status = 404 if role == "stranger" else 403
    browser = as_(role)
    assert browser.get(PEOPLE).status_code == status
    for act in ("role", "remove", "invite", "revoke", "passcode", "close"):
        sent = {"act": act, "role": "keeper", "member": people[role].pk, "passcode": "sleepers 7"}
        assert browser.post(PEOPLE, sent).status_code == status
    assert role_of(people["keeper"].pk, farm_row.pk) == "keeper"
    assert not Invitation.objects.exists()
    assert not Passcode.objects.exists()


def test_people_of_another_farm_are_out_of_reach(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    refused = as_("keeper").post(PEOPLE, {"act": "role", "role": "viewer",
                                          "member": people["stranger"].pk})  # fmt: skip
    assert refused.status_code == 422
    for odd in ("", "x", "9" * 40, "-1", "\x00", "٣"):
        for sent in ({"act": "remove", "member": odd}, {"act": "revoke", "invitation": odd}):
            assert as_("keeper").post(PEOPLE, sent).status_code == 422


def test_the_household_comes_in_by_passcode_until_it_is_turned_off(
    as_: Browser, farm_row: FarmRow
) -> None:
    keeper = as_("keeper")
    weak = keeper.post(PEOPLE, {"act": "passcode", "role": "helper", "passcode": "aaa"})
    assert weak.status_code == 422
    assert "at least" in weak.content.decode()
    assert keeper.post(PEOPLE, {"act": "passcode", "role": "keeper",
                                "passcode": "sleepers 7"}).status_code == 422  # fmt: skip
    keeper.post(PEOPLE, {"act": "passcode", "role": "helper", "passcode": "sleepers 7"})
    home = Client()
    assert home.post("/passcode/", {"farm": "mill", "passcode": "sleepers 7"}).url == "/"
    assert home.get("/farms/mill/write/").status_code == 200
    assert home.get(PEOPLE).status_code == 403
    mine = home.get("/account/")
    assert mine.status_code == 200
    assert "household" in mine.content.decode()
    for sent in ({"act": "token", "scope": "log", "name": "x"}, {"act": "name", "shown_name": "x"},
                 {"act": "calendar", "farm": "mill"}):  # fmt: skip
        assert home.post("/account/", sent).status_code == 422
    assert not ApiToken.objects.exists()
    keeper.post(PEOPLE, {"act": "close"})
    assert home.get("/farms/mill/write/").status_code == 302


def test_a_token_is_shown_once_works_and_is_taken_back(as_: Browser) -> None:
    browser = as_("helper")
    wrong = browser.post("/account/", {"act": "token", "scope": "log", "name": "", "days": "soon"})
    assert wrong.status_code == 422
    assert 'value="soon"' in wrong.content.decode()
    page = browser.post("/account/", {"act": "token", "scope": "log", "name": "scale",
                                      "farm": "mill", "days": "30"})  # fmt: skip
    secret = once(page.content.decode(), "secret")
    assert page.headers["Cache-Control"] == "no-store"
    assert secret not in browser.get("/account/").content.decode()
    bearer = {"Authorization": f"Bearer {secret}"}
    assert Client().get("/api/v1/farms/mill", headers=bearer).status_code == 200
    row = ApiToken.objects.get()
    assert row.ends_at - row.made_at == dt.timedelta(days=30)
    assert as_("keeper").post("/account/", {"act": "token-back",
                                            "number": row.pk}).status_code == 422  # fmt: skip
    browser.post("/account/", {"act": "token-back", "number": row.pk})
    assert Client().get("/api/v1/farms/mill", headers=bearer).status_code == 401
    other = browser.post("/account/", {"act": "token", "scope": "log", "name": "x",
                                       "farm": "elsewhere"})  # fmt: skip
    assert other.status_code == 422


def test_a_calendar_address_is_made_and_taken_back(as_: Browser, told: object) -> None:
    browser = as_("viewer")
    page = browser.post("/account/", {"act": "calendar", "farm": "mill"})
    path = once(page.content.decode(), "feed").removeprefix("http://testserver")
    assert Client().get(path).headers["Content-Type"].startswith("text/calendar")
    number = CalendarFeed.objects.get().pk
    assert as_("helper").post("/account/", {"act": "calendar-back",
                                            "number": number}).status_code == 422  # fmt: skip
    browser.post("/account/", {"act": "calendar-back", "number": number})
    assert Client().get(path).status_code == 404
    assert as_("stranger").post("/account/", {"act": "calendar",
                                              "farm": "mill"}).status_code == 422  # fmt: skip


def test_one_may_leave_a_farm_but_not_as_its_last_keeper(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    stays = as_("keeper").post("/account/", {"act": "leave", "farm": "mill"})
    assert stays.status_code == 422
    assert "A farm needs a keeper" in stays.content.decode()
    as_("helper").post("/account/", {"act": "leave", "farm": "mill"})
    assert role_of(people["helper"].pk, farm_row.pk) is None


def test_name_and_password_are_ones_own(as_: Browser, people: dict[str, Account]) -> None:
    browser = as_("helper")
    assert browser.post("/account/", {"act": "name", "shown_name": " "}).status_code == 422
    browser.post("/account/", {"act": "name", "shown_name": "Ines  of the mill"})
    people["helper"].refresh_from_db()
    assert people["helper"].shown_name == "Ines of the mill"
    sent = {"old_password": "a word for helper", "new_password1": "seven larch planks",
            "new_password2": "seven larch planks"}  # fmt: skip
    assert browser.post("/password/", sent).url == "/account/"
    assert "password is changed" in browser.get("/account/").content.decode()
    people["helper"].refresh_from_db()
    assert people["helper"].check_password("seven larch planks")


def test_addresses_for_others_are_what_others_can_open(
    as_: Browser, farm_row: FarmRow, settings: object
) -> None:
    told = {}
    mill = "https://mill.local"
    for host, known in (("127.0.0.1:8021", "http://127.0.0.1:8021"), ("localhost", mill),
                        ("mill.lan", mill)):  # fmt: skip
        settings.ADDRESS, settings.ALLOWED_HOSTS = known, ["*"]  # type: ignore[attr-defined]
        page = as_("keeper").post(PEOPLE, {"act": "invite", "role": "helper"},
                                  headers={"host": host})  # fmt: skip
        text = page.content.decode()
        told[host] = (once(text, "once-address").split("/join/")[0], "machine itself" in text)
    assert told == {"127.0.0.1:8021": ("http://127.0.0.1:8021", True),
                    "localhost": ("https://mill.local", False),
                    "mill.lan": ("http://mill.lan", False)}  # fmt: skip
