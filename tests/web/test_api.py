"""The JSON API: writing, reading, what is refused and how, and its description."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from bedlore.farm.log import ENTRY_KINDS
from bedlore.store.db.models import Account, ApiToken, FarmRow, JobRun, LogEntry
from bedlore.store.log_format import COLUMNS
from bedlore.web import wiring
from bedlore.web.api.shapes import entry_schema

LOG = "/api/v1/farms/mill/log"
FEED = {"kind": "feed", "at": "2026-01-30 evening", "bed": "sluice", "zone": "race",
        "material": "bread", "amount": "2 lb"}  # fmt: skip


def post(client: Client, path: str, body: Any, **more: Any) -> Any:
    return client.post(path, json.dumps(body), "application/json", **more)


def test_write_read_correct_undo(as_: Callable[..., Client]) -> None:
    helper = as_("helper")
    got = post(helper, LOG, {"entry": FEED, "client_id": "phone-1"})
    assert got.status_code == 201
    written = got.json()["written"]
    assert written["entry"]["who"] == "helper"
    assert post(helper, LOG, {"entry": FEED, "client_id": "phone-1"}).status_code == 200
    other = {**FEED, "amount": "3 lb"}
    assert post(helper, LOG, {"entry": other, "client_id": "phone-1"}).status_code == 409
    path = f"{LOG}/{written['entry']['id']}"
    fixed = post(helper, f"{path}/corrections", {"changes": {"note": "x"}})
    assert fixed.status_code == 201
    assert post(helper, f"{path}/corrections", {"changes": {"note": "y"}}).status_code == 409
    assert len(helper.get(path).json()["steps"]) == 2
    listed = helper.get(LOG, {"bed": "sluice", "kind": "feed"}).json()["entries"]
    assert [e["entry"]["note"] for e in listed] == ["x"]
    assert post(helper, f"{LOG}/{listed[0]['entry']['id']}/undo", {}).status_code == 201
    assert helper.get(path).json()["current"]["holds"]
    assert JobRun.objects.filter(state="waiting").count() == 1  # one outlook for all of it


def test_what_cannot_be_understood_names_the_field(as_: Callable[..., Client]) -> None:
    got = post(as_("helper"), LOG, {"entry": {"kind": "probe", "at": "tomorrow", "bed": "slice"}})
    assert got.status_code == 422
    assert {f["path"] for f in got.json()["faults"]} >= {"at", "bed"}
    assert LogEntry.objects.count() == 0


def test_one_bad_entry_of_many_does_not_hold_up_the_others(as_: Callable[..., Client]) -> None:
    sent = [{"entry": FEED, "client_id": "a"}, {"entry": {"kind": "x", "at": "y"}},
            {"entry": {**FEED, "at": "2026-01-29"}, "client_id": "c"}]  # fmt: skip
    got = post(as_("helper"), f"{LOG}/many", {"entries": sent}).json()
    assert [one["status"] for one in got] == [201, 422, 201]
    again = post(as_("helper"), f"{LOG}/many", {"entries": sent}).json()
    assert [one["status"] for one in again] == [200, 422, 200]
    assert LogEntry.objects.count() == 2


def test_lists_go_on_to_their_end(as_: Callable[..., Client]) -> None:
    client = as_("helper")
    for day in range(1, 8):
        post(client, LOG, {"entry": {**FEED, "at": f"2026-01-0{day}"}})
    found, behind = [], ""
    for _ in range(9):
        page = client.get(LOG, {"limit": 3, "behind": behind}).json()
        found += [e["entry"]["at"][:10] for e in page["entries"]]
        behind = page["behind"]
        if not behind:
            break
    assert found == [f"2026-01-0{day}" for day in range(7, 0, -1)]


def test_farms_are_described_and_guarded_by_their_version(as_: Callable[..., Client]) -> None:
    keeper = as_("keeper")
    farm = keeper.get("/api/v1/farms/mill").json()
    sent = {"description": {**farm["description"], "name": "Other"}, "version": farm["version"]}
    put = keeper.put("/api/v1/farms/mill", sent, "application/json")
    assert put.json()["name"] == "Other"
    assert put.json()["version"] == 2
    assert keeper.put("/api/v1/farms/mill", sent, "application/json").status_code == 409
    bad = {"description": {**farm["description"], "beds": []}, "version": 2}
    faults = keeper.put("/api/v1/farms/mill", bad, "application/json").json()["faults"]
    assert faults[0]["path"] == "beds"
    made = post(as_("stranger"), "/api/v1/farms", {"description": farm["description"]})
    assert made.status_code == 201
    assert made.json()["role"] == "keeper"


def test_a_session_needs_the_forms_secret(as_: Callable[..., Client]) -> None:
    strict = as_("helper", enforce_csrf_checks=True)
    assert post(strict, LOG, {"entry": FEED}).status_code == 403
    strict.get("/", {"all": "1"})
    secret = strict.cookies["bedlore_csrf"].value
    assert post(strict, LOG, {"entry": FEED}, headers={"X-CSRFToken": secret}).status_code == 201


def test_tokens_are_digests_and_can_be_taken_back(people: dict[str, Account]) -> None:
    from bedlore.service.doors import issue_token

    now = wiring.clock()
    number, secret = issue_token(wiring.DOORS, people["helper"].pk, None, "phone", ["log"], now)
    row = ApiToken.objects.get(pk=number)
    assert secret.text not in str(row.__dict__)
    sent = {"Authorization": f"Bearer {secret.text}"}
    client = Client(enforce_csrf_checks=True)
    assert post(client, LOG, {"entry": FEED}, headers=sent).status_code == 201
    assert client.get("/api/v1/me", headers=sent).json()["scopes"] == ["log"]
    # A token opens the API alone, never a page.
    assert client.get("/farms/mill/farm.toml", headers=sent).status_code == 302
    row.revoked_at = now
    row.save()
    assert client.get("/api/v1/me", headers=sent).status_code == 401
    for _ in range(10):
        status = client.get("/api/v1/me", headers={"Authorization": "Bearer guess"}).status_code
    assert status == 429


def test_the_description_fits_the_records(as_: Callable[..., Client]) -> None:
    told = Client().get("/api/v1/openapi.json").json()
    assert told["openapi"].startswith("3.")
    kinds = entry_schema()["oneOf"]
    assert [kind["properties"]["kind"]["enum"][0] for kind in kinds] == list(ENTRY_KINDS)
    named = {name for kind in kinds for name in kind["properties"]} - {"parts"}
    assert named <= set(COLUMNS)  # the same names as the log file's
    assert "$ref" not in json.dumps(kinds)
    assert {"401", "403", "404", "422"} <= set(told["paths"][f"{LOG[:-9]}/{{farm}}/log"]["post"]
                                               ["responses"])  # fmt: skip


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner,
                                                                max_size=3),
    max_leaves=6,
)  # fmt: skip
FIELDS = st.sampled_from([*COLUMNS, "parts", "amount", "temp", "depth", "wrong", "kind"])
RAW = st.dictionaries(FIELDS, JSON | st.sampled_from(["sluice", "2026-01-01", "feed", "probe"]),
                      max_size=6)  # fmt: skip


@settings(max_examples=50, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(raw=RAW, kind=st.sampled_from(sorted(ENTRY_KINDS)))
def test_nothing_sent_breaks_it(
    people: dict[str, Account], farm_row: FarmRow, raw: dict[str, Any], kind: str
) -> None:
    client = Client()
    client.force_login(people["helper"])
    client.raise_request_exception = False
    entry = {"kind": kind, "at": "2026-01-01", "bed": "sluice", **raw}
    for path, body in ((LOG, {"entry": entry}), (LOG, raw), (f"{LOG}/many", {"entries": [raw]}),
                       (f"{LOG}/none/corrections", {"changes": raw})):  # fmt: skip
        answer = post(client, path, body)
        assert answer.status_code in (200, 201, 409, 422), (path, body, answer.content)
        if answer.status_code == 422:
            told = answer.json()
            assert told["problem"]


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"null", b"\xff\xfe", b"[" * 100_000])
def test_bodies_that_are_no_json(body: bytes, as_: Callable[..., Client]) -> None:
    client = as_("helper")
    client.raise_request_exception = False
    answer = client.post(LOG, body, "application/json")
    assert answer.status_code in (400, 422)
    assert answer.json()["problem"]


@pytest.mark.parametrize("query", ["limit=x", "limit=-5", "behind=zz", "behind=1e400_1",
                                   "behind=1_" + "9" * 40, "since=yesterday", "bed=%00",
                                   "since=0001-01-01T00:00:00%2B00:00", "text=%00%25",
                                   "kind=none", "kind=feed&kind=probe"])  # fmt: skip
def test_odd_queries_are_answered(query: str, as_: Callable[..., Client]) -> None:
    client = as_("helper")
    client.raise_request_exception = False
    assert client.get(f"{LOG}?{query}").status_code in (200, 422)
