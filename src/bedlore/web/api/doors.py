"""The addresses of the API. Rights were checked before (``web.rights``)."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI, Query, Status
from ninja.errors import HttpError, ValidationError
from ninja.security import HttpBearer
from ninja.throttling import AnonRateThrottle, AuthRateThrottle
from pydantic import AwareDatetime

from bedlore.errors import KeeperError
from bedlore.farm.load import farm_of
from bedlore.farm.log import ENTRY_KINDS
from bedlore.say import say
from bedlore.service.account import outlook_account, today_account
from bedlore.service.book import LogFilter, Receipt
from bedlore.service.correct_entry import correct_entry, history_of
from bedlore.service.record_entry import record_entry
from bedlore.service.undo import undo
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import DbFarmStore, add_farm, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, JobRun, Membership
from bedlore.store.db.weather_store import DbWeather
from bedlore.web import tasks, wiring
from bedlore.web.api import shapes, telling
from bedlore.web.api.shapes import Problem

MOST_ENTRIES = 500
MOST_JOBS = 50
EVERY_H = (3, 6, 12, 24)
Account = dict[str, Any]
Kinds = Annotated[tuple[str, ...], Query()]
REFUSED = {401: Problem, 403: Problem, 404: Problem, 409: Problem, 422: Problem, 429: Problem}


class Token(HttpBearer):
    """A token of the account; pages use their session instead."""

    def __call__(self, request: HttpRequest) -> Any:
        """Whoever the middleware found (it has checked the rights already)."""
        return request.user if request.user.is_authenticated else None

    def authenticate(self, request: HttpRequest, token: str) -> Any:
        """Not used: the middleware has done it."""
        return self(request)


api = NinjaAPI(
    title="bedlore", version="1", urls_namespace="api", docs_url=None, auth=Token(),
    description="Beds, logs, outlooks and advice. SI units; times in UTC.",
    throttle=[AuthRateThrottle("1200/m"), AnonRateThrottle("120/m")],
)  # fmt: skip


@api.exception_handler(KeeperError)
def keeper_error(request: HttpRequest, error: KeeperError) -> HttpResponse:
    """What the keeper can mend, as sentences."""
    status, body = telling.problem(error)
    return api.create_response(request, body, status=status)


@api.exception_handler(ValidationError)
def shape_error(request: HttpRequest, error: ValidationError) -> HttpResponse:
    """What does not have the shape of a request."""
    faults = [
        {"path": ".".join(str(step) for step in one["loc"][1:]), "sentence": str(one["msg"])}
        for one in error.errors
    ]
    body = {"problem": say("The request cannot be read."), "faults": faults}
    return api.create_response(request, body, status=422)


@api.exception_handler(HttpError)
def http_error(request: HttpRequest, error: HttpError) -> HttpResponse:
    """What the framework refuses: bodies that are no JSON, too many requests."""
    body = {"problem": str(error), "faults": []}
    return api.create_response(request, body, status=error.status_code)


def _line(row: FarmRow, role: str | None) -> Account:
    return {"farm": row.slug, "name": row.name, "role": role or "", "version": row.version}


def _whole(row: FarmRow, role: str | None) -> Account:
    farm = farm_of_row(row)
    description = farm.model_dump(mode="json", exclude_none=True)
    return {**_line(row, role), "description": description}


@api.get("/me", response={200: shapes.Me, **REFUSED}, url_name="me")
def me(request: HttpRequest) -> Account:
    """Who is asking, and what the token allows (null for a session)."""
    account = request.user
    scopes = sorted(request.scopes) if request.scopes is not None else None
    return {"name": account.username, "shown_name": account.shown_name, "units": account.units,
            "language": account.language, "scopes": scopes}  # fmt: skip


@api.get("/farms", response={200: list[shapes.FarmLine], **REFUSED}, url_name="farms")
def farms(request: HttpRequest) -> list[Account]:
    """The farms one belongs to."""
    rows = Membership.objects.filter(account=request.user).select_related("farm")
    only = getattr(request, "token_farm_id", None)
    return [_line(m.farm, m.role) for m in rows.order_by("farm__slug")
            if only in (None, m.farm_id)]  # fmt: skip


@api.post("/farms", response={201: shapes.FarmOut, **REFUSED}, url_name="farms")
def new_farm(request: HttpRequest, sent: shapes.FarmIn) -> Status:
    """A new farm; whoever makes it is its keeper."""
    farm, now = farm_of(sent.description), wiring.clock()
    with transaction.atomic():
        row = add_farm(farm, wiring.author(request), now)
        give_role(request.user.pk, row.pk, "keeper", now)
    tasks.ask_outlook(row)
    return Status(201, _whole(row, "keeper"))


@api.get("/farms/{farm}", response={200: shapes.FarmOut, **REFUSED}, url_name="farm")
def one_farm(request: HttpRequest, farm: str) -> Account:
    """A farm's description, as in the farm file."""
    return _whole(request.farm_row, request.role)


@api.put("/farms/{farm}", response={200: shapes.FarmOut, **REFUSED}, url_name="farm")
def describe_farm(request: HttpRequest, farm: str, sent: shapes.FarmIn) -> Account:
    """A new description; 409 when it was changed since ``version``."""
    row = request.farm_row
    described = farm_of(sent.description)
    DbFarmStore(row).save_farm(described, sent.version, wiring.author(request), "by the API")
    tasks.ask_outlook(row)
    return _whole(row, request.role)


@api.get("/farms/{farm}/log", response={200: shapes.LogPage, **REFUSED}, url_name="log")
def read_log(
    request: HttpRequest, farm: str, bed: str = "", zone: str = "", kind: Kinds = (),
    since: AwareDatetime | None = None, until: AwareDatetime | None = None, written_by: str = "",
    text: str = "", only_held: bool = True, limit: int = 50, behind: str = "",
) -> Account:  # fmt: skip
    """Entries by time, newest first."""
    limit = max(1, min(limit, MOST_ENTRIES))
    kinds = tuple(name for name in kind if name in ENTRY_KINDS)
    if kind and not kinds:
        return {"entries": [], "behind": ""}
    wanted = LogFilter(_clean(bed), _clean(zone), kinds, _near(since), _near(until),
                       _clean(written_by), _clean(text), only_held)  # fmt: skip
    rows = DbLog(request.farm_row).page(wanted, limit, telling.place_of(behind))
    more = telling.place_text(rows[-1]) if len(rows) == limit else ""
    return {"entries": [telling.written(row) for row in rows], "behind": more}


def _clean(text: str) -> str:
    """``text`` without what no database keeps (empty bytes)."""
    return text.replace("\x00", "")


def _near(moment: dt.datetime | None) -> dt.datetime | None:
    """``moment`` within the years that logs know, so that no database stumbles."""
    if moment is None:
        return None
    first, last = dt.datetime(1900, 1, 1, tzinfo=dt.UTC), dt.datetime(2300, 1, 1, tzinfo=dt.UTC)
    return min(max(moment, first), last)


def _write(request: HttpRequest, sent: shapes.ToSend) -> Account:
    row = request.farm_row
    got = record_entry(DbLog(row), farm_of_row(row), sent.entry, wiring.author(request),
                       wiring.now_of(row), sent.client_id)  # fmt: skip
    return telling.receipt(got)


@api.post("/farms/{farm}/log", response={200: shapes.ReceiptOut, 201: shapes.ReceiptOut, **REFUSED},
          url_name="log")  # fmt: skip
def write_entry(request: HttpRequest, farm: str, sent: shapes.ToSend) -> Status:
    """Writes an entry; 200 when it had been written before under the same client id."""
    told = _write(request, sent)
    if told["repeated"]:
        return Status(200, told)
    tasks.ask_outlook(request.farm_row)
    return Status(201, told)


@api.post("/farms/{farm}/log/many", response={200: list[shapes.SentOut], **REFUSED},
          url_name="log-many")  # fmt: skip
def write_many(request: HttpRequest, farm: str, sent: shapes.ManyToSend) -> list[Account]:
    """Writes entries that waited on a phone, each by itself: one that cannot be used does not
    hold up the others."""
    results: list[Account] = []
    for one in sent.entries:
        try:
            told = _write(request, one)
            status = 200 if told["repeated"] else 201
            results.append({"client_id": one.client_id, "receipt": told, "status": status})
        except KeeperError as error:
            status, body = telling.problem(error)
            results.append({"client_id": one.client_id, "problem": body, "status": status})
    if any(result["status"] == 201 for result in results):
        tasks.ask_outlook(request.farm_row)
    return results


@api.get("/farms/{farm}/log/{entry_id}", response={200: shapes.History, **REFUSED},
         url_name="entry")  # fmt: skip
def one_entry(request: HttpRequest, farm: str, entry_id: str) -> Any:
    """An entry and its history."""
    log = DbLog(request.farm_row)
    current = log.find(_clean(entry_id))
    if current is None:
        return api.create_response(
            request, {"problem": say("There is no such entry in this log."), "faults": []},
            status=404,
        )  # fmt: skip
    steps = history_of(log, current.entry.id)
    return {"current": telling.written(current), "steps": [telling.step(s) for s in steps]}


@api.post("/farms/{farm}/log/{entry_id}/corrections",
          response={200: shapes.ReceiptOut, 201: shapes.ReceiptOut, **REFUSED},
          url_name="corrections")  # fmt: skip
def correct(request: HttpRequest, farm: str, entry_id: str,
            sent: shapes.CorrectionToSend) -> Status:  # fmt: skip
    """Corrects an entry; 409 when somebody was faster."""
    row = request.farm_row
    got = correct_entry(
        DbLog(row), farm_of_row(row), _clean(entry_id), sent.changes, wiring.author(request),
        wiring.now_of(row), sent.client_id, sent.strict,
    )  # fmt: skip
    return _mended(row, got)


@api.post("/farms/{farm}/log/{entry_id}/undo",
          response={200: shapes.ReceiptOut, 201: shapes.ReceiptOut, **REFUSED},
          url_name="undo")  # fmt: skip
def take_back(request: HttpRequest, farm: str, entry_id: str,
              sent: shapes.UndoToSend) -> Status:  # fmt: skip
    """Takes an entry back."""
    row = request.farm_row
    got = undo(DbLog(row), _clean(entry_id), wiring.author(request), wiring.now_of(row),
               sent.client_id, sent.wholly, sent.strict)  # fmt: skip
    return _mended(row, got)


def _mended(row: FarmRow, got: Receipt) -> Status:
    tasks.ask_outlook(row)
    return Status(200 if got.repeated else 201, telling.receipt(got))


def _told(request: HttpRequest) -> wiring.Told:
    told = wiring.last_morning(request.farm_row)
    if told is None:
        raise KeeperError(say("The first outlook is still being worked out."),
                          fix=say("Ask again soon."))  # fmt: skip
    return told


@api.get("/farms/{farm}/today", response={200: shapes.Telling, **REFUSED}, url_name="today")
def today(request: HttpRequest, farm: str) -> Account:
    """What to do today, as ``bedlore today --json`` prints it, and when it was worked out."""
    told = _told(request)
    return {**today_account(told.morning), "worked_at": told.worked_at.isoformat(),
            "is_current": told.is_current}  # fmt: skip


@api.get("/farms/{farm}/outlook", response={200: shapes.Telling, **REFUSED}, url_name="outlook")
def outlook(request: HttpRequest, farm: str, every_h: int = 24) -> Account:
    """The coming fortnight, as ``bedlore outlook --json`` prints it, in rows of 3, 6, 12 or 24
    hours."""
    if every_h not in EVERY_H:
        raise KeeperError(say("Rows of 3, 6, 12 or 24 hours can be told."), "every_h")
    told = _told(request)
    return {**outlook_account(told.morning, every_h), "worked_at": told.worked_at.isoformat(),
            "is_current": told.is_current}  # fmt: skip


@api.get("/farms/{farm}/jobs", response={200: list[shapes.JobOut], **REFUSED}, url_name="jobs")
def jobs(request: HttpRequest, farm: str) -> Any:
    """The latest jobs and how they went."""
    return JobRun.objects.filter(farm=request.farm_row).order_by("-asked_at")[:MOST_JOBS]


@api.post("/farms/{farm}/jobs", response={202: shapes.JobOut, **REFUSED}, url_name="jobs")
def ask_for_outlook(request: HttpRequest, farm: str) -> Status:
    """Asks for a fresh outlook."""
    return Status(202, tasks.ask_outlook(request.farm_row))


@api.post("/farms/{farm}/days-ahead", response={201: list[shapes.Telling], **REFUSED},
          url_name="days-ahead")  # fmt: skip
def type_days(request: HttpRequest, farm: str, sent: shapes.DaysAhead) -> Status:
    """Lows and highs typed for coming days."""
    row = request.farm_row
    days = DbWeather(row).type_days(_clean(sent.text), wiring.now_of(row))
    tasks.ask_outlook(row)
    told = [{"day": d.day.isoformat(), "low_c": d.low_c, "high_c": d.high_c} for d in days]
    return Status(201, told)


