"""Small jobs beside the outlook: mail to those who want it, and clearing away what is done with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

from bedlore.say import say, say_many
from bedlore.service.further import look_further
from bedlore.service.lead import leading
from bedlore.service.shelter import keep_shelters
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.clearing import clear
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import JobRun
from bedlore.store.db.weather_store import DbWeather
from bedlore.web import wiring
from bedlore.web.alert_mail import has_mail, send_alerts, send_trial
from bedlore.web.leaves.ahead import draw_safely

MAIL, TRIAL, CLEAR, FURTHER, SHELTER = "mail", "trial", "clear", "further", "shelter"
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


def _further(job: JobRun, now: dt.datetime) -> str:
    """Dates of rest and harvest and the fortnights' plans, after the night's outlook; from then on
    the plans lead."""
    farm = farm_of_row(job.farm)
    now = job.farm.as_of or now
    keeping = wiring.keeping_of(job.farm)
    log, recorded = DbLog(job.farm).read_log(farm, now), DbWeather(job.farm).recorded(now)
    beds = look_further(farm, log, recorded, now, keeping)
    if keeping.lead_morning(leading(farm, log, recorded, now, keeping)):
        draw_safely(job.farm_id)
    return say_many("{count} bed was planned ahead.", "{count} beds were planned ahead.", beds)


def _shelter(job: JobRun, now: dt.datetime) -> str:
    """What would carry each bed through the coming cold or heat, for its page."""
    farm = farm_of_row(job.farm)
    now = job.farm.as_of or now
    log, recorded = DbLog(job.farm).read_log(farm, now), DbWeather(job.farm).recorded(now)
    beds = keep_shelters(farm, log, recorded, now, wiring.keeping_of(job.farm))
    return say_many("Shelter from cold and heat was looked at for {count} bed.",
                    "Shelter from cold and heat was looked at for {count} beds.",
                    beds)  # fmt: skip


ERRANDS: dict[str, Callable[[JobRun, dt.datetime], str]] = {
    MAIL: _mail, TRIAL: _trial, CLEAR: _clear, FURTHER: _further, SHELTER: _shelter,
}  # fmt: skip


def after_night(job: JobRun) -> Iterator[tuple[str, str]]:
    """Kind and key of what follows a night's outlook."""
    yield CLEAR, job.key
    if has_mail():
        for account_id in DbAlerts(job.farm).wanted_by():
            yield MAIL, mail_key(job.key, account_id)
    # Last: they take minutes, and mail must not wait for them.
    yield from ahead(job.key)


def ahead(key: str) -> Iterator[tuple[str, str]]:
    """Kind and key of what looks further than a morning: advice leads, the rest comes after."""
    yield FURTHER, key
    yield SHELTER, key
