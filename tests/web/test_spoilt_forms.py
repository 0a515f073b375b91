"""Malformed posts to every form: a sentence beside the field, what was typed kept, never a 500.

``BEDLORE_SPOILT_POSTS`` asks for more than the few of every day; the proof sends 10,000.
"""

from __future__ import annotations

import html
import os
import random
from collections import Counter
from collections.abc import Callable

from django.test import Client

from bedlore.service.morning import Morning
from bedlore.store.db.models import FarmRow, LogEntry
from tests.web.spoilt import Form, spoil, walk

POSTS = int(os.environ.get("BEDLORE_SPOILT_POSTS", "150"))
# What ends the session would only stop the walk; the password form has its own tests.
SIGNS = ('class="fault', 'class="errorlist', 'role="alert"')
NOT_SENT = ("/sign-out/", "/password/")


def forms_of_a_keeper(keeper: Client) -> list[Form]:
    """Every form that a keeper can come to."""
    found = [form for start in ("/farms/mill/today/", "/start/") for form in walk(keeper, start)]
    return [form for form in found if not form.action.startswith(NOT_SENT)]


def test_spoilt_posts(farm_row: FarmRow, told: Morning, as_: Callable[..., Client]) -> None:
    keeper, rng = as_("keeper", raise_request_exception=False), random.Random(20260201)
    forms = forms_of_a_keeper(keeper)
    actions = {form.action.split("?")[0] for form in forms}
    assert {f"/farms/mill/write/{kind}/" for kind in ("feed", "probe", "look", "move")} <= actions
    statuses: Counter[int] = Counter()
    lost: set[tuple[str, str]] = set()
    for number in range(POSTS):
        form = forms[number % len(forms)]
        sent = spoil(form, rng)
        answer = keeper.post(form.action, sent)
        statuses[answer.status_code] += 1
        assert answer.status_code < 500, (form.action, sent)
        if answer.status_code == 422:
            page = answer.content.decode()
            assert any(sign in page for sign in SIGNS), (form.action, "says what is wrong")
            lost |= {(form.action, name) for name in not_kept(form, sent, page)}
    assert not lost, "what was typed is shown again"
    assert statuses[422] > POSTS // 20, statuses
    for entry in LogEntry.objects.filter(farm=farm_row):
        assert "\x00" not in entry.body, "nothing of it spoils the log"


def not_kept(form: Form, sent: dict[str, object], page: str) -> set[str]:
    """Names of what was typed and is not on the answer's page."""
    typed = {name: sent.get(name) for name in form.typed}
    return {
        name for name, text in typed.items()
        if isinstance(text, str) and text.isprintable() and 0 < len(text.strip()) < 60
        and html.escape(text.strip()) not in page
    }  # fmt: skip
