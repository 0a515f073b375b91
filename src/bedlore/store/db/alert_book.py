"""Wishes for alerts, what was told to whom, and what earlier mornings said, in the database."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable

from bedlore.decide.records import Action
from bedlore.errors import KeeperError
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.alerts import Wishes, began
from bedlore.service.events import Before, Kind
from bedlore.store.db.models import (
    AdviceGiven,
    AlertSent,
    AlertSettings,
    BedOutlookRow,
    FarmRow,
    Membership,
)

_NAMES = ("by_email", "frost", "heat", "chores", "quiet_from", "quiet_until")
# A danger or a chore older than that is not dated further back.
_LOOKED_BACK_D = 120
_MOST_ADVICE = 30


class DbAlerts:
    """A :class:`~bedlore.service.alerts.AlertBook` over the farm ``row``."""

    def __init__(self, row: FarmRow) -> None:
        self._farm = row

    def wishes(self, account_id: int) -> tuple[Wishes, int]:
        """What the person wants, and the version of it (0 when nothing was chosen yet)."""
        row = AlertSettings.objects.filter(farm=self._farm, account_id=account_id).first()
        if row is None:
            return Wishes(), 0
        return Wishes(**{name: getattr(row, name) for name in _NAMES}), int(row.version)

    def save_wishes(self, account_id: int, wishes: Wishes, version: int) -> None:
        """Keeps them; raises :class:`KeeperError` when they were changed since ``version``."""
        told = {name: getattr(wishes, name) for name in _NAMES}
        rows = AlertSettings.objects.filter(farm=self._farm, account_id=account_id)
        if version == 0 and not rows.exists():
            AlertSettings.objects.create(farm=self._farm, account_id=account_id, **told)
        elif not rows.filter(version=version).update(**told, version=version + 1):
            raise KeeperError(say("This was changed on another page meanwhile."),
                              fix=say("Look at it again, then choose."))  # fmt: skip

    def wanted_by(self) -> list[int]:
        """Members with an address who want mail."""
        members = Membership.objects.filter(farm=self._farm).values("account_id")
        rows = AlertSettings.objects.filter(farm=self._farm, by_email=True, account__in=members)
        rows = rows.filter(account__is_active=True).exclude(account__email="")
        return list(rows.order_by("account_id").values_list("account_id", flat=True))

    def claim(self, account_id: int, keys: Iterable[str], now: dt.datetime) -> frozenset[str]:
        """Notes that the person is told of ``keys`` now; returns those not told before."""
        return frozenset(
            key for key in keys
            if AlertSent.objects.get_or_create(farm=self._farm, account_id=account_id, key=key,
                                               defaults={"sent_at": now})[1]
        )  # fmt: skip

    def release(self, account_id: int, keys: Iterable[str]) -> None:
        """Takes it back: the telling failed."""
        rows = AlertSent.objects.filter(farm=self._farm, account_id=account_id)
        rows.filter(key__in=list(keys)).delete()

    def before(self, farm: Farm, made_at: dt.datetime) -> Before:
        """What the mornings up to ``made_at`` said."""
        asked = {bed.id: since for bed in farm.beds
                 if (since := self._asked_since(farm, bed.id, made_at)) is not None}  # fmt: skip
        return Before(asked, self._risky_since(farm, made_at))

    def _risky_since(self, farm: Farm, made_at: dt.datetime) -> dict[tuple[str, Kind], dt.date]:
        """Since when each bed's odds stand above what is accepted, of all beds in one reading."""
        rows = BedOutlookRow.objects.filter(
            run__farm=self._farm, run__made_at__lte=made_at,
            run__made_at__gt=made_at - dt.timedelta(days=_LOOKED_BACK_D),
        ).order_by("-run__made_at")  # fmt: skip
        mornings: dict[str, list[tuple[dt.datetime, float, float]]] = defaultdict(list)
        for bed, *morning in rows.values_list("bed", "run__made_at", "odds_cold", "odds_hot"):
            mornings[bed].append(tuple(morning))
        found: dict[tuple[str, Kind], dt.date] = {}
        for bed in farm.beds:
            limits, zone = farm.limits_of(bed), farm.site.zone_info()
            cold = began((at for at, odds, _ in mornings[bed.id] if odds > limits.risk_cold), zone)
            heat = began((at for at, _, odds in mornings[bed.id] if odds > limits.risk_hot), zone)
            if cold is not None:
                found[bed.id, "cold"] = cold
            if heat is not None:
                found[bed.id, "heat"] = heat
        return found

    def _asked_since(self, farm: Farm, bed: str, made_at: dt.datetime) -> dt.date | None:
        """Since when what was asked last is due: back to the first morning that asked the same,
        or to where somebody answered."""
        rows = AdviceGiven.objects.filter(farm=self._farm, bed=bed, made_at__lte=made_at)
        rows = rows.order_by("-made_at", "-pk").values_list("made_at", "answer", "body")
        zone, asked, since = farm.site.zone_info(), "", None
        last: dt.datetime | None = None
        for moment, answer, body in rows[:_MOST_ADVICE].iterator(10):
            if moment == last and not answer:
                continue  # the plan took the lead of it that same morning
            last, action = moment, _action(body)
            if answer or action is None or (asked and action.key != asked):
                break
            asked = action.key
            since = moment.astimezone(zone).date() + dt.timedelta(days=action.on_day)
        return since


def _action(body: str) -> Action | None:
    """What an advice asks for, without reading all of it; None when a version with other records
    wrote it."""
    try:
        told = json.loads(body)["action"]
        return Action(told["kind"], told["zone_id"], material=told["material"],
                      place=told["place"], on_day=int(told["on_day"]))  # fmt: skip
    except (ValueError, LookupError, TypeError):
        return None
