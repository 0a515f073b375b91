"""Alerts by mail: switched on by each for themselves; and how the machine's jobs went."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.service.alerts import Wishes
from bedlore.store.db.alert_book import DbAlerts
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import Account, JobRun
from bedlore.web import tasks, wiring
from bedlore.web.alert_mail import has_mail
from bedlore.web.entry_fields import Values
from bedlore.web.errands import MAIL, TRIAL, mail_key
from bedlore.web.views.common import faults_by_field, frame, number_of
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
MOST_TRIALS = 3
TRIALS_WITHIN = dt.timedelta(minutes=15)
MOST_ADDRESS = 254  # RFC 5321, 4.5.3.1.3 less the angle brackets
MOST_JOBS = 40


def alerts(request: HttpRequest, farm: str) -> HttpResponse:
    """What the reader wants to be told of, where to, and when not; and a test of it."""
    sent: Values = {}
    faults: dict[str, list[str]] = {}
    if request.method == "POST":
        try:
            if request.POST.get("act") == "trial":
                _trial(request)
            else:
                sent = sent_values(request)
                _save(request, sent)
        except KeeperError as problem:
            faults = faults_by_field(problem)
        else:
            return redirect("alerts", farm=farm)
    wishes, version = DbAlerts(request.farm_row).wishes(request.user.pk)
    context = {
        "wishes": wishes, "version": version, "address": request.user.email, "sent": sent,
        "faults": faults, "has_mail": has_mail(), "trial": _last(request, TRIAL),
        "mailed": _last(request, MAIL), "zone": farm_of_row(request.farm_row).site.zone_info(),
        "kinds": _kinds(wishes, sent),
    }  # fmt: skip
    return render(request, "pages/alerts.html", frame(request, "farm", **context),
                  status=422 if faults else 200)  # fmt: skip


def _kinds(wishes: Wishes, sent: Values) -> list[tuple[str, str, bool]]:
    """Name, words and state of each box."""
    words = {
        "by_email": _("Send me mail"), "frost": _("Cold and frost ahead"),
        "heat": _("Heat ahead"), "chores": _("Overdue chores"),
    }  # fmt: skip
    return [(name, said, bool(sent.get(name)) if sent else getattr(wishes, name))
            for name, said in words.items()]  # fmt: skip


def _save(request: HttpRequest, sent: Values) -> None:
    """Keeps address and wishes; raises :class:`FaultList` beside the fields."""
    faults: list[Fault] = []
    read = [_time_of(name, sent.get(name, ""), faults) for name in ("quiet_from", "quiet_until")]
    address = sent.get("address", "").strip()
    wants_mail = bool(sent.get("by_email"))
    if address or wants_mail:
        _check_address(address, faults)
    if faults:
        raise FaultList(faults)
    wishes = Wishes(wants_mail, bool(sent.get("frost")), bool(sent.get("heat")),
                    bool(sent.get("chores")), *read)  # fmt: skip
    version = number_of(sent.get("version", ""))
    with transaction.atomic():
        DbAlerts(request.farm_row).save_wishes(request.user.pk, wishes,
                                               -1 if version is None else version)  # fmt: skip
        Account.objects.filter(pk=request.user.pk).update(email=address)
    messages.success(request, _("Noted."))


def _time_of(name: str, text: str, faults: list[Fault]) -> dt.time:
    """The time of day that was typed; adds to ``faults`` when it is none."""
    try:
        return dt.time.fromisoformat(text.strip()[:5])
    except ValueError:
        faults.append(Fault(name, _("Write a time such as 21:00.")))
        return dt.time()


def _check_address(address: str, faults: list[Fault]) -> None:
    try:
        validate_email(address)
        if len(address) > MOST_ADDRESS:
            raise ValidationError("long")
    except ValidationError:
        faults.append(Fault("address", _("Write a mail address such as ines@example.org.")))


def _trial(request: HttpRequest) -> None:
    """Asks for a test, a few in a while."""
    row, now = request.farm_row, wiring.clock()
    if not request.user.email:
        raise FaultList([Fault("address", _("Keep a mail address first."))])
    if not has_mail():
        raise KeeperError(_("This machine knows no mail server yet."))
    recent = _jobs(request, TRIAL).filter(asked_at__gt=now - TRIALS_WITHIN).count()
    if recent >= MOST_TRIALS:
        raise KeeperError(_("There were several tests just now. Wait a quarter of an hour."))
    tasks.ask(row, TRIAL, mail_key(f"{now:%Y%m%dT%H%M%S%f}", request.user.pk))
    messages.success(request, _("The test is on its way."))


def _jobs(request: HttpRequest, kind: str) -> QuerySet[JobRun]:
    """The reader's own jobs of mail."""
    return JobRun.objects.filter(farm=request.farm_row, kind=kind,
                                 key__endswith=f"-{request.user.pk}")  # fmt: skip


def _last(request: HttpRequest, kind: str) -> JobRun | None:
    return _jobs(request, kind).order_by("-asked_at", "-pk").first()


def jobs(request: HttpRequest, farm: str) -> HttpResponse:
    """The latest jobs of the farm, newest first."""
    rows = JobRun.objects.filter(farm=request.farm_row).order_by("-asked_at", "-pk")[:MOST_JOBS]
    kinds: dict[str, str] = {
        "night": _("night's outlook"), "outlook": _("outlook"), "learn": _("learning"),
        "mail": _("mail"), "trial": _("test of mail"), "clear": _("clearing away"),
        "further": _("dates and plans"), "shelter": _("shelter from cold and heat"),
    }  # fmt: skip
    states = {"waiting": _("waits"), "running": _("under way"), "done": _("done"),
              "failed": _("given up")}  # fmt: skip
    told = [(row, kinds.get(row.kind, row.kind), states[row.state]) for row in rows]
    zone = farm_of_row(request.farm_row).site.zone_info()
    context = frame(request, "farm", told=told, zone=zone)
    return render(request, "pages/jobs.html", context)
