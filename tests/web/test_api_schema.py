"""The API against its own description, by schemathesis: whatever is sent, never a 500.

The keeper's token reaches everything that the description names, so that requests get past the
door. ``BEDLORE_API_CASES`` asks for more cases an address than the few of every day.
"""

from __future__ import annotations

import os

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error

from bedlore.service.doors import issue_token
from bedlore.store.db.doors import DbDoors
from bedlore.store.db.models import Account, FarmRow
from bedlore.web.api.doors import api
from bedlore.web.wsgi import application
from tests.web.conftest import NOW

pytestmark = pytest.mark.django_db
CASES = int(os.environ.get("BEDLORE_API_CASES", "8"))
DESCRIPTION = "/api/v1/openapi.json"


@pytest.fixture
def described(monkeypatch: pytest.MonkeyPatch) -> schemathesis.BaseSchema:
    """The description as the API gives it; nobody is slowed down meanwhile."""
    monkeypatch.setattr(api, "throttle", [])
    return schemathesis.openapi.from_wsgi(DESCRIPTION, application)


@pytest.fixture
def token(farm_row: FarmRow, people: dict[str, Account]) -> str:
    scopes = ["read", "log", "keep"]
    keeper = people["keeper"].pk
    return issue_token(DbDoors(), keeper, farm_row.pk, "schema", scopes, NOW)[1].text


def test_no_request_breaks_it(described: schemathesis.BaseSchema, token: str) -> None:
    sender = {"Authorization": f"Bearer {token}"}
    reached: set[tuple[str, int]] = set()

    @settings(max_examples=CASES, deadline=None, derandomize=True, database=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(data=st.data(), there=st.booleans())
    def send(operation: schemathesis.APIOperation, data: st.DataObject, there: bool) -> None:
        case = data.draw(operation.as_strategy())
        if there and "farm" in case.path_parameters:
            case.path_parameters["farm"] = "mill"
        answer = case.call(headers=sender)
        case.validate_response(answer, checks=[not_a_server_error])
        reached.add((operation.label, answer.status_code))

    for found in described.get_all_operations():
        send(found.ok())
    assert len({label for label, _ in reached}) > 10
    assert {200, 422} <= {status for _, status in reached}
