"""Alerts by mail, through a real SMTP server that keeps what it is given; and their page."""

from __future__ import annotations

import datetime as dt
import email
import email.policy
from collections.abc import Callable, Iterator
from email.message import EmailMessage
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from bedlore.errors import KeeperError
from bedlore.service.alerts import NotYet, Wishes
from bedlore.service.morning import Morning
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.doors import set_role
from bedlore.store.db.models import Account, AdviceGiven, AlertSent, FarmRow, JobRun
from bedlore.web import errands, tasks, wiring
from bedlore.web.alert_mail import send, send_alerts
from bedlore.web.errands import CLEAR, MAIL, TRIAL, mail_key
from bedlore.web.working import run_worker
from tests import morning_fake
from tests.web import postgres

aiosmtpd = pytest.importorskip("aiosmtpd.controller", reason="aiosmtpd is not installed")
pytestmark = pytest.mark.django_db
with_worker = pytest.mark.django_db(transaction=True)

ANY_TIME = Wishes(by_email=True, quiet_from=dt.time(3), quiet_until=dt.time(3))
NOW = morning_fake.NOW + dt.timedelta(hours=4)  # eleven at the mill


class Sink:
    """Takes mail, or refuses it while ``refuses`` says why."""

    def __init__(self) -> None:
        self.got: list[EmailMessage] = []
        self.refuses = ""

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str,
                          options: Any) -> str:  # fmt: skip
        if self.refuses:
            return self.refuses
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        message = email.message_from_bytes(envelope.content, policy=email.policy.default)
        message["X-Given-To"] = ", ".join(envelope.rcpt_tos)
        self.got.append(message)  # type: ignore[arg-type]
        return "250 OK"


@pytest.fixture
def sink(settings: Any) -> Iterator[Sink]:
    kept = Sink()
    port = postgres.free_port()  # the library tries the port itself, so it must be a real one
    server = aiosmtpd.Controller(kept, hostname="127.0.0.1", port=port)
    server.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_TIMEOUT = "127.0.0.1", 10
    settings.EMAIL_PORT = port
    settings.ADDRESS = "https://larder.local:8021"
    yield kept
    server.stop()


@pytest.fixture
def ines(people: dict[str, Account], farm_row: FarmRow) -> Account:
    account = people["viewer"]
    account.email = "ines@example.org"
    account.save()
    DbAlerts(farm_row).save_wishes(account.pk, ANY_TIME, 0)
    return account


def test_an_alert_goes_out_once_with_odds_reason_and_page(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning
) -> None:
    said = send_alerts(farm_row, ines.pk, NOW)
    assert "mailed" in said
    (mail,) = sink.got
    assert mail["X-Given-To"] == mail["To"] == "ines@example.org"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert "cold ahead" in mail["Subject"]
    body = mail.get_content()
    assert "about 3 in 10" in body
    assert "(measured: your log, 11 January)" in body
    assert "https://larder.local:8021/farms/mill/beds/sluice/" in body
    assert "https://larder.local:8021/farms/mill/alerts/" in body
    assert "nothing new" in send_alerts(farm_row, ines.pk, NOW + dt.timedelta(days=1))
    assert len(sink.got) == 1
    assert AlertSent.objects.filter(account=ines).exists()


def test_a_new_morning_of_the_same_cold_is_not_told_again_but_an_overdue_chore_is(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning
) -> None:
    send_alerts(farm_row, ines.pk, NOW)
    _next_morning(farm_row, told, days=1)
    assert "1 alert" not in send_alerts(farm_row, ines.pk, NOW + dt.timedelta(days=1))
    (_, second) = sink.got
    assert "Overdue" in second["Subject"]
    assert "cold ahead" not in second.get_content()
    AdviceGiven.objects.update(answer="done")  # now somebody says what became of it
    _next_morning(farm_row, told, days=2)
    assert "nothing new" in send_alerts(farm_row, ines.pk, NOW + dt.timedelta(days=2))


def _next_morning(row: FarmRow, told: Morning, days: int) -> None:
    from dataclasses import replace

    later = told.now + dt.timedelta(days=days)
    row.as_of = later
    row.save()
    beds = tuple(
        replace(bed, advice=replace(bed.advice, made_at=later),
                outlook=replace(bed.outlook, start=later)) for bed in told.beds
    )  # fmt: skip
    keeping = wiring.stores_of(row).keeping
    keeping.keep_advice(bed.advice for bed in beds)
    keeping.keep_morning(later, beds)


def test_it_speaks_the_readers_units(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning
) -> None:
    ines.units = "us"
    ines.save()
    send_alerts(farm_row, ines.pk, NOW)
    assert "°F" in sink.got[0].get_content()
    assert "°C" not in sink.got[0].get_content()


def test_quiet_hours_wait(sink: Sink, ines: Account, farm_row: FarmRow, told: Morning) -> None:
    wishes = Wishes(by_email=True)  # from nine in the evening to seven
    DbAlerts(farm_row).save_wishes(ines.pk, wishes, 1)
    zone = told.farm.site.zone_info()
    night = dt.datetime(2026, 1, 12, 23, tzinfo=zone).astimezone(dt.UTC)
    with pytest.raises(NotYet) as wait:
        send_alerts(farm_row, ines.pk, night)
    assert wait.value.until.astimezone(zone) == dt.datetime(2026, 1, 13, 7, tzinfo=zone)
    assert sink.got == []
    assert not AlertSent.objects.exists()
    assert "mailed" in send_alerts(farm_row, ines.pk, wait.value.until)


def test_the_job_waits_for_the_end_of_the_quiet_hours(
    ines: Account, farm_row: FarmRow, told: Morning, monkeypatch: pytest.MonkeyPatch
) -> None:
    until = wiring.clock() + dt.timedelta(hours=3)

    def quiet(*_: object) -> str:
        raise NotYet(until, "Waits for the end of the quiet hours at 07:00.")

    monkeypatch.setattr("bedlore.web.errands.send_alerts", quiet)
    job = tasks.ask(farm_row, MAIL, mail_key("2026-01-12", ines.pk))
    tasks.run_job.call(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries, job.next_try_at) == ("waiting", 0, until)
    assert "quiet hours" in job.sentence


def test_what_the_server_does_not_take_is_tried_again_and_told(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning, as_: Callable[..., Client]
) -> None:
    sink.refuses = "451 come back later"
    job = tasks.ask(farm_row, MAIL, mail_key("2026-01-12", ines.pk))
    tasks.run_job.call(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries) == ("waiting", 1)
    assert job.next_try_at is not None
    assert "refuses the address" in job.sentence
    assert not AlertSent.objects.exists()  # it was not told, so it will be
    assert "refuses the address" in as_("viewer").get("/farms/mill/jobs/").content.decode()
    sink.refuses = ""
    tasks.run_job.call(job.pk)
    job.refresh_from_db()
    assert (job.state, len(sink.got)) == ("done", 1)


def test_a_server_that_is_not_there_is_a_sentence(sink: Sink, settings: Any) -> None:
    settings.EMAIL_PORT = 1
    with pytest.raises(KeeperError, match="did not take it"):
        send("ines@example.org", "a", "b")


def test_a_subject_never_becomes_a_header(sink: Sink) -> None:
    send("ines@example.org", "Sluice:\r\nBcc: eve@example.org", "text")
    assert sink.got[0]["Bcc"] is None
    assert sink.got[0]["X-Given-To"] == "ines@example.org"


@with_worker
def test_after_the_night_everybody_who_wants_it_is_mailed(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning, people: dict[str, Account],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(tasks, "work_out", lambda *_: told)
    monkeypatch.setattr(tasks, "fetch_weather", lambda *_: "")
    for kind in set(errands.ERRANDS) - {MAIL, CLEAR}:  # what takes a model's time is not asked here
        monkeypatch.setitem(errands.ERRANDS, kind, lambda *_: "")
    other = people["helper"]  # wants mail, but gave no address
    DbAlerts(farm_row).save_wishes(other.pk, ANY_TIME, 0)
    tasks.ask(farm_row, tasks.NIGHT, "2026-01-12")
    run_worker(once=True)
    states = dict(JobRun.objects.values_list("kind", "state"))
    assert states[tasks.NIGHT] == states[MAIL] == states[CLEAR] == "done"
    assert JobRun.objects.filter(kind=MAIL).count() == 1
    assert len(sink.got) == 1


def test_whoever_left_is_not_told(
    sink: Sink, ines: Account, farm_row: FarmRow, told: Morning
) -> None:
    set_role(farm_row.pk, ines.pk, None)
    assert "no longer" in send_alerts(farm_row, ines.pk, NOW)
    assert DbAlerts(farm_row).wanted_by() == []
    assert sink.got == []


def test_the_page_keeps_what_is_chosen(as_: Callable[..., Client], people: dict[str, Account],
                                       farm_row: FarmRow) -> None:  # fmt: skip
    browser = as_("viewer")
    page = browser.get("/farms/mill/alerts/").content.decode()
    assert 'value="21:00"' in page
    sent = {"act": "save", "version": "0", "address": "ines@example.org", "by_email": "1",
            "frost": "1", "quiet_from": "20:30", "quiet_until": "06:15"}  # fmt: skip
    assert browser.post("/farms/mill/alerts/", sent).status_code == 302
    wishes, version = DbAlerts(farm_row).wishes(people["viewer"].pk)
    assert wishes == Wishes(True, True, False, False, dt.time(20, 30), dt.time(6, 15))
    assert Account.objects.get(username="viewer").email == "ines@example.org"
    stale = browser.post("/farms/mill/alerts/", sent)
    assert stale.status_code == 422
    assert "another page" in stale.content.decode()
    fresh = browser.post("/farms/mill/alerts/", {**sent, "version": str(version), "heat": "1"})
    assert fresh.status_code == 302
    assert DbAlerts(farm_row).wishes(people["viewer"].pk)[0].heat
    assert not DbAlerts(farm_row).wishes(people["keeper"].pk)[0].by_email  # each for themselves


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [({"address": "not an address"}, "Write a mail address"), ({"address": ""}, "mail address"),
     ({"address": "a@b.example\r\nBcc: c@d.example"}, "Write a mail address"),
     ({"quiet_from": "9 pm"}, "Write a time"), ({"quiet_until": ""}, "Write a time"),
     ({"version": "x"}, "another page"), ({"address": f"{'a' * 300}@b.example"}, "mail address")],
)  # fmt: skip
def test_bad_input_is_a_sentence_and_stays(
    wrong: dict[str, str], sentence: str, as_: Callable[..., Client]
) -> None:
    sent = {"act": "save", "version": "0", "address": "ines@example.org", "by_email": "1",
            "quiet_from": "20:30", "quiet_until": "06:15", **wrong}  # fmt: skip
    page = as_("viewer").post("/farms/mill/alerts/", sent)
    assert page.status_code == 422
    assert sentence in page.content.decode()
    if "quiet_from" not in wrong:
        assert 'value="20:30"' in page.content.decode()
    assert Account.objects.get(username="viewer").email == ""


@with_worker
def test_a_test_can_be_sent_and_not_too_often(
    sink: Sink, ines: Account, as_: Callable[..., Client]
) -> None:
    browser = as_("viewer")
    assert browser.post("/farms/mill/alerts/", {"act": "trial"}).status_code == 302
    assert "on its way" in browser.get("/farms/mill/alerts/").content.decode()
    run_worker(once=True)
    (mail,) = sink.got
    assert "This is the test" in mail.get_content()
    assert "The mail server took it" in browser.get("/farms/mill/alerts/").content.decode()
    sink.refuses = "550 no such box"
    browser.post("/farms/mill/alerts/", {"act": "trial"})
    run_worker(once=True)
    job = JobRun.objects.filter(kind=TRIAL).latest("pk")
    assert (job.state, job.tries) == ("failed", 1)  # somebody waits for it: no second try
    assert "refuses the address" in browser.get("/farms/mill/alerts/").content.decode()
    codes = [browser.post("/farms/mill/alerts/", {"act": "trial"}).status_code for _ in range(2)]
    assert codes[-1] == 422


def test_without_a_mail_server_the_page_says_so(
    ines: Account, as_: Callable[..., Client], settings: Any
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    assert "knows no mail server" in as_("viewer").get("/farms/mill/alerts/").content.decode()
    tried = as_("viewer").post("/farms/mill/alerts/", {"act": "trial"})
    assert tried.status_code == 422


def test_no_migration_is_missing() -> None:
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)
