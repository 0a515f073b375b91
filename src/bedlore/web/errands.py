"""Small jobs beside the outlook: mail to those who want it, and clearing away what is done with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

from bedlore.say import say
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.clearing import clear
from bedlore.store.db.models import JobRun
from bedlore.web.alert_mail import has_mail, send_alerts, send_trial

MAIL, TRIAL, CLEAR = "mail", "trial", "clear"
ONCE = frozenset({TRIAL})  # somebody waits for the answer: no second try behind their back


def mail_key(about: str, account_id: int) -> str:
    """The key of a job of mail: what it is about, and to whom it goes."""
    return f"{about}-{account_id}"


def _account_of(job: JobRun) -> int:
    return int(job.key.rsplit("-", 1)[1])


def _mail(job: JobRun, now: dt.datetime) -> str:
    return send_alerts(job.farm, _account_of(job), now)


def _trial(job: JobRun, now: dt.datetime) -> str:
    return send_trial(job.farm, _account_of(job))


def _clear(job: JobRun, now: dt.datetime) -> str:
    gone = clear(job.farm, now)
    return say("{outlooks} old outlooks were made small, {jobs} old notes of jobs cleared away.",
               outlooks=gone.outlooks, jobs=gone.jobs)  # fmt: skip


ERRANDS: dict[str, Callable[[JobRun, dt.datetime], str]] = {
    MAIL: _mail, TRIAL: _trial, CLEAR: _clear,
}  # fmt: skip


def after_night(job: JobRun) -> Iterator[tuple[str, str]]:
    """Kind and key of what follows a night's outlook."""
    yield CLEAR, job.key
    if has_mail():
        for account_id in DbAlerts(job.farm).wanted_by():
            yield MAIL, mail_key(job.key, account_id)
