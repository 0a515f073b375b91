"""Every address, every method, every role: walked from the list of addresses itself."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from bedlore.service.doors import issue_token
from bedlore.service.rights import RIGHTS, SCOPES, may
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from bedlore.web.rights import POLICY
from tests.web.conftest import NOW

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
ROLES = ("nobody", "stranger", "viewer", "helper", "keeper")
REFUSALS = {302, 401, 403, 404, 405}


def walk(patterns: list, prefix: str = "", space: str = "") -> Iterator[tuple[str, str]]:
    for pattern in patterns:
        path = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from walk(pattern.url_patterns, path, inner)
        elif isinstance(pattern, URLPattern):
            yield f"{space}{pattern.name}", path


def addresses() -> list[tuple[str, str]]:
    """(name, path) of every address, with words in place of its variables."""
    words = {"farm": "mill", "secret": "none", "form": "csv", "entry_id": "none", "bed": "sluice",
             "kind": "feed", "part": "store", "digest": "0" * 64}
    found = []
    for name, path in walk(get_resolver().url_patterns):
        filled = re.sub(r"<(?:\w+:)?(\w+)>", lambda match: words[match[1]], path)
        found.append((name, "/" + filled))
    return found


def allowed(name: str, method: str, role: str) -> bool:
    need = POLICY[name].get(method)
    if need is None:
        return False
    if need == "open":
        return True
    if need == "account":
        return role != "nobody"
    return role in RIGHTS and need in RIGHTS[role]


def test_every_address_has_a_line_in_the_policy() -> None:
    names = {name for name, _ in addresses()}
    assert names == set(POLICY)


def test_an_address_without_a_line_is_refused(
    as_: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = as_("keeper")
    assert browser.get("/", {"all": "1"}).status_code == 200
    monkeypatch.delitem(POLICY, "home")
    assert browser.get("/", {"all": "1"}).status_code == 403


@pytest.mark.parametrize("role", ROLES)
def test_each_role_gets_in_where_the_policy_says(
    role: str, as_: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = []
    for name, path in addresses():
        for method in METHODS:
            browser = as_(role)  # a fresh one, as signing out is among the addresses
            browser.raise_request_exception = False
            reached = []
            monkeypatch.setattr("bedlore.web.rights.check_farm", _noting(reached))
            response = browser.generic(method, path, b"{}", content_type="application/json")
            response.close()
            # 404 and 403 may also come from the page itself, which then was reached.
            refused = response.status_code in REFUSALS and "passed" not in reached
            need = POLICY[name].get(method)
            if need in ("open", "account") and role != "nobody":
                refused = response.status_code == 405
            elif need == "open":
                refused = response.status_code in (401, 405)
            if refused == allowed(name, method, role):
                wrong.append((name, method, role, response.status_code))
            if response.status_code >= 500:
                wrong.append((name, method, role, response.status_code))
    assert wrong == []


def _noting(reached: list[str]) -> Callable:
    """The true check, noting when it lets somebody pass."""
    from bedlore.web import rights

    true_check = getattr(rights.check_farm, "true", rights.check_farm)

    def check(*args: object) -> object:
        answer = true_check(*args)
        reached.append("refused" if answer is not None else "passed")
        return answer

    check.true = true_check  # type: ignore[attr-defined]
    return check


def test_a_stranger_cannot_tell_a_farm_from_none(as_: Callable[..., Client]) -> None:
    for path in ("/farms/{}/farm.toml", "/api/v1/farms/{}"):
        there, nowhere = (as_("stranger").get(path.format(slug)) for slug in ("mill", "other"))
        assert there.status_code == nowhere.status_code == 404
        assert there.content.replace(b"mill", b"") == nowhere.content.replace(b"other", b"")


@pytest.mark.parametrize("scope", sorted(SCOPES))
@pytest.mark.parametrize("role", ["viewer", "helper", "keeper"])
def test_a_token_does_no_more_than_its_owner_and_its_scope(
    role: str, scope: str, people: dict[str, Account], farm_row: FarmRow,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr("bedlore.web.tasks.ask_outlook", lambda _: None)
    _, secret = issue_token(wiring.DOORS, people[role].pk, farm_row.pk, "test", [scope], NOW)
    sent = {"Authorization": f"Bearer {secret.text}"}
    client = Client()
    entry = {"entry": {"kind": "note", "at": "2026-01-31 08:00", "bed": "sluice", "note": "x"}}
    got = {
        "view": client.get("/api/v1/farms/mill", headers=sent).status_code,
        "log": client.post("/api/v1/farms/mill/log", entry, "application/json",
                           headers=sent).status_code,
        "keep": client.put("/api/v1/farms/mill", {"description": {}}, "application/json",
                           headers=sent).status_code,
    }  # fmt: skip
    for right, status in got.items():
        assert (status != 403) == may(role, right, frozenset([scope])), (right, status)


def test_a_token_of_one_farm_opens_no_other(
    people: dict[str, Account], farm_row: FarmRow
) -> None:
    from bedlore.service.book import Author
    from bedlore.store.db.doors import give_role
    from bedlore.store.db.farm_store import add_farm, farm_of_row

    other = add_farm(farm_of_row(farm_row), Author(), NOW, slug="second")
    give_role(people["keeper"].pk, other.pk, "keeper", NOW)
    _, secret = issue_token(wiring.DOORS, people["keeper"].pk, farm_row.pk, "t", ["keep"], NOW)
    sent = {"Authorization": f"Bearer {secret.text}"}
    assert Client().get("/api/v1/farms/mill", headers=sent).status_code == 200
    assert Client().get("/api/v1/farms/second", headers=sent).status_code == 404
    assert [f["farm"] for f in Client().get("/api/v1/farms", headers=sent).json()] == ["mill"]
    made = Client().post("/api/v1/farms", {"description": {}}, "application/json", headers=sent)
    assert made.status_code == 403
