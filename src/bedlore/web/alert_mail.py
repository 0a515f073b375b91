"""Alerts by mail: written in the reader's language and units, sent through the machine's server."""

from __future__ import annotations

import datetime as dt
import smtplib
from collections.abc import Sequence

from django.conf import settings
from django.core.mail import EmailMessage

from bedlore.errors import KeeperError
from bedlore.farm.model import Farm
from bedlore.say import say, say_many
from bedlore.service.alerts import Alert, NotYet, alerts_of, quiet_ends
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.doors import role_of
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring
from bedlore.web.speech import speaking_to


def has_mail() -> bool:
    """Whether this machine knows a mail server."""
    return not str(settings.EMAIL_BACKEND).endswith("dummy.EmailBackend")


def send_alerts(row: FarmRow, account_id: int, now: dt.datetime) -> str:
    """Tells a member by mail of everything new, in one message; returns a sentence on it.

    Raises :class:`NotYet` in quiet hours and :class:`KeeperError` when the mail server does not
    take it; then it counts as not told.
    """
    account = Account.objects.filter(pk=account_id, is_active=True).first()
    book = DbAlerts(row)
    wishes, _version = book.wishes(account_id)
    if account is None or role_of(account_id, row.pk) is None:
        return say("They are no longer on this farm.")
    if not wishes.by_email or not account.email:
        return say("Mail is switched off.")
    farm = farm_of_row(row)
    quiet = quiet_ends(now, farm.site.zone_info(), wishes)
    if quiet is not None:
        ends = quiet.astimezone(farm.site.zone_info())
        raise NotYet(quiet, say("Waits for the end of the quiet hours at {time}.",
                                time=f"{ends:%H:%M}"))  # fmt: skip
    with speaking_to(account, farm):
        alerts = alerts_of(wiring.calendar_events(row), wishes)
        fresh = book.claim(account_id, [alert.key for alert in alerts], now)
        new = [alert for alert in alerts if alert.key in fresh]
        if not new:
            return say("There was nothing new to tell.")
        try:
            send(account.email, subject_of(farm, new), body_of(row, new))
        except BaseException:  # also when the worker is told to stop: it was not told
            book.release(account_id, fresh)
            raise
    return say_many("{count} alert was mailed.", "{count} alerts were mailed.", len(new))


def send_trial(row: FarmRow, account_id: int) -> str:
    """Sends a message that shows whether mail arrives; raises :class:`KeeperError` when the
    server does not take it."""
    account = Account.objects.get(pk=account_id)
    farm = farm_of_row(row)
    with speaking_to(account, farm):
        text = say("This is the test you asked for. Alerts of {farm} will come to this address,"
                   " such as cold or heat ahead.", farm=farm.name)  # fmt: skip
        send(account.email, say("{farm}: a test", farm=farm.name), f"{text}\n\n{_foot(row)}")
    return say("The mail server took it. Look into your mailbox, and among the junk too.")


def subject_of(farm: Farm, alerts: Sequence[Alert]) -> str:
    """The one alert, or how many there are."""
    if len(alerts) == 1:
        return str(alerts[0].event.title)
    return say_many("{farm}: {alert}, and {count} more", "{farm}: {alert}, and {count} more",
                    len(alerts) - 1, farm=farm.name, alert=alerts[0].event.title)  # fmt: skip


def body_of(row: FarmRow, alerts: Sequence[Alert]) -> str:
    """Each alert with its odds, reasons and page, and why it came."""
    parts = [f"{alert.event.title}\n\n{alert.event.text}" for alert in alerts]
    rule = f"\n\n{'-' * 40}\n\n"
    return f"{rule.join(parts)}{rule}{_foot(row)}"


def _foot(row: FarmRow) -> str:
    return say("You get this because you asked for it. To change or end it: {address}",
               address=wiring.page_address("alerts", row.slug))  # fmt: skip


def send(address: str, subject: str, body: str) -> None:
    """One plain message; raises :class:`KeeperError` with what the mail server said."""
    if not has_mail():
        raise KeeperError(say("This machine knows no mail server."), "BEDLORE_SMTP_URL")
    one_line = " ".join(subject.split())[:150]
    message = EmailMessage(one_line, body, to=[address], headers={
        "Auto-Submitted": "auto-generated", "X-Auto-Response-Suppress": "All"})  # fmt: skip
    try:
        message.send()
    except smtplib.SMTPRecipientsRefused:
        raise KeeperError(say("The mail server refuses the address {address}.",
                              address=address)) from None  # fmt: skip
    except smtplib.SMTPAuthenticationError:
        raise KeeperError(say("The mail server does not take its name and password."),
                          "BEDLORE_SMTP_URL") from None  # fmt: skip
    except (smtplib.SMTPException, OSError) as problem:
        told = getattr(problem, "strerror", None) or str(problem)
        said = " ".join(told.split())[:120] or type(problem).__name__
        raise KeeperError(say("The mail server did not take it ({said}).",
                              said=said)) from None  # fmt: skip
