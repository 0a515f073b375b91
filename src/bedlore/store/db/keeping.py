"""Outlooks and advice of a farm in the database; states of beds as files beside it."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import zlib
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from django.db import transaction
from django.db.models import Max
from pydantic import ConfigDict, TypeAdapter, ValidationError

from bedlore import __version__
from bedlore.decide.records import Advice
from bedlore.errors import Fault
from bedlore.learn.verify import PastOutlook
from bedlore.outlook.twin import Snapshot, load_snapshot, save_snapshot
from bedlore.say import to_text
from bedlore.service.account import TOLD, tidy
from bedlore.service.morning import BedMorning, Lead
from bedlore.service.scores_kept import BedScores
from bedlore.service.views import OutlookView
from bedlore.store.db.models import (
    AdviceGiven,
    BedOutlookRow,
    FarmRow,
    LogEntry,
    OutlookRun,
    WeatherPiece,
)
from bedlore.store.db.small_outlooks import outlooks_in
from bedlore.store.durable import replace_file
from bedlore.store.keepsakes import code_hash
from bedlore.store.learnings import FOLDER, JUDGED_D, OUTLOOKS, Learnings

STEP_H = 3
SCORES = "scores.json"
_ADVICE = TypeAdapter(Advice)
_SCORES = TypeAdapter(tuple[BedScores, ...], config=ConfigDict(ser_json_inf_nan="constants"))
# An hour that never comes (a limit never passed) is infinite.
_BEDS = TypeAdapter(tuple[BedMorning, ...], config=ConfigDict(ser_json_inf_nan="constants"))


class DbKeeping(Learnings):
    """A :class:`~bedlore.service.morning.Keeping` for the farm ``row``.

    ``cache`` is a folder for states of beds and for what was learnt, which can be worked out
    again. Advice and outlook of one morning go into the database together; the outlooks that are
    judged lie in the folder, and are taken from the stored mornings when they are lost.
    """

    def __init__(self, row: FarmRow, cache: Path) -> None:
        self._farm = row
        self._cache = cache / f"farm-{row.pk}"
        super().__init__(self._cache)
        self._advice: list[Advice] = []

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """The stored state of a bed, if there is one that can be read."""
        return load_snapshot(self._cache / f"{bed_id}.npz")

    def keep_snapshot(self, bed_id: str, snapshot: Snapshot) -> None:
        """Stores the state of a bed for next time."""
        with contextlib.suppress(OSError):
            self._cache.mkdir(parents=True, exist_ok=True)
            save_snapshot(self._cache / f"{bed_id}.npz", snapshot)

    def advice_before(self, bed_id: str, day: dt.date) -> Advice | None:
        """The last advice given for a bed before ``day`` (UTC)."""
        midnight = dt.datetime.combine(day, dt.time(), dt.UTC)
        rows = AdviceGiven.objects.filter(farm=self._farm, bed=bed_id, made_at__lt=midnight)
        for body in rows.order_by("-made_at", "-pk").values_list("body", flat=True)[:5]:
            with contextlib.suppress(ValidationError):
                return _ADVICE.validate_json(body)
        return None

    def keep_advice(self, advice: Iterable[Advice]) -> None:
        """Holds the advice until the morning it belongs to is stored."""
        self._advice = list(advice)

    def morning(self, now: dt.datetime) -> tuple[BedMorning, ...] | None:
        """The beds of the last morning when nothing has changed since."""
        run = latest_run(self._farm)
        if run is None or run.made_at != now or run.inputs != self.inputs(now):
            return None
        return beds_of_run(run.pk)

    def keep_morning(self, now: dt.datetime, beds: tuple[BedMorning, ...]) -> None:
        """Stores outlook and advice as given, before anyone knows how they turn out."""
        with transaction.atomic():
            run = OutlookRun.objects.create(
                farm=self._farm, made_at=now, worked_at=dt.datetime.now(dt.UTC),
                version=__version__, inputs=self.inputs(now),
            )  # fmt: skip
            _store(run, beds, self._advice)
        self._advice = []

    def lead_morning(self, lead: Lead) -> int:
        """Stores the last morning anew as ``lead`` has it; returns for how many beds that is
        another. Nothing of it is worked out again.

        Not where something was written since, whose own outlook is on its way, and not for a bed
        whose advice somebody answered. Advice that stays keeps its number and goes along.
        """
        run = latest_run(self._farm)
        if run is None or run.inputs != self.inputs(run.made_at):
            return 0
        answered = AdviceGiven.objects.filter(run=run).exclude(answer="")
        open_beds = set(run.beds.values_list("bed", flat=True))
        open_beds -= set(answered.values_list("bed", flat=True))
        told = beds_of_run(run.pk) or ()
        beds = tuple(lead(bed) if bed.bed_id in open_beds else bed for bed in told)
        led = [new.advice for new, old in zip(beds, told, strict=True) if new is not old]
        if not led:
            return 0
        with transaction.atomic():
            given = AdviceGiven.objects.filter(run=run)
            stays = given.exclude(bed__in=[advice.bed_id for advice in led])
            numbers = list(stays.values_list("pk", flat=True))
            run.pk, run._state.adding = None, True  # a copy with a number of its own
            run.worked_at = dt.datetime.now(dt.UTC)
            run.save()
            _store(run, beds, led)
            AdviceGiven.objects.filter(pk__in=numbers).update(run=run)
        return len(led)

    def outlooks(self) -> list[PastOutlook]:
        """Outlooks as they were given, in order of time."""
        if not (self._cache / OUTLOOKS).exists():
            super().keep_outlooks(_stored_outlooks(self._farm))
        return super().outlooks()

    def note(self, weather_note: str, faults: Iterable[Fault]) -> None:
        """Keeps with the latest run what it rests on and what was put aside."""
        run = latest_run(self._farm)
        if run is not None:
            run.weather_note = weather_note
            run.kept_aside = json.dumps([[f.path, to_text(f.sentence)] for f in faults][:200])
            run.save(update_fields=["weather_note", "kept_aside"])

    def scores(self) -> tuple[BedScores, ...]:
        """The score card as it stood with the last morning; empty before the first."""
        with contextlib.suppress(OSError, ValidationError):
            return _SCORES.validate_json((self._cache / SCORES).read_bytes())
        return ()

    def keep_scores(self, scores: tuple[BedScores, ...]) -> None:
        """Keeps the score card in place of the one before."""
        with contextlib.suppress(OSError):
            self._cache.mkdir(parents=True, exist_ok=True)
            replace_file(self._cache / SCORES, [_SCORES.dump_json(scores)])

    def inputs(self, now: dt.datetime) -> str:
        """A digest of everything a morning depends on."""
        row = FarmRow.objects.get(pk=self._farm.pk)
        last_entry = LogEntry.objects.filter(farm=row).aggregate(last=Max("pk"))["last"]
        last_weather = WeatherPiece.objects.filter(farm=row).aggregate(last=Max("pk"))["last"]
        learnt = [(p.name, p.stat().st_mtime_ns) for p in sorted((self._cache / FOLDER).glob("*"))]
        text = f"{code_hash()}|{now.isoformat()}|{row.version}|{last_entry}|{last_weather}|{learnt}"
        return hashlib.sha256(text.encode()).hexdigest()


def _store(run: OutlookRun, beds: Iterable[BedMorning], given: Iterable[Advice]) -> None:
    """Puts beds and the advice given for them under a run."""
    BedOutlookRow.objects.bulk_create(
        BedOutlookRow(
            run=run, bed=bed.bed_id, odds_cold=bed.odds.cold, odds_hot=bed.odds.hot,
            odds_sour=bed.odds.sour, body=packed(bed),
        )
        for bed in beds
    )  # fmt: skip
    AdviceGiven.objects.bulk_create(
        AdviceGiven(
            farm_id=run.farm_id, run=run, bed=advice.bed_id, made_at=advice.made_at,
            action=advice.action.kind, headline=advice.headline,
            body=_ADVICE.dump_json(advice).decode(),
        )
        for advice in given
    )  # fmt: skip


def _stored_outlooks(row: FarmRow) -> list[PastOutlook]:
    """What the mornings in the database that are still judged said of each zone's thermometer."""
    latest = latest_run(row)
    if latest is None:
        return []
    since = latest.made_at - dt.timedelta(days=JUDGED_D)
    rows = BedOutlookRow.objects.filter(run__farm=row, run__made_at__gte=since)
    bodies = rows.order_by("run__made_at", "run_id", "pk").values_list("body", flat=True)
    return [outlook for body in bodies.iterator() for outlook in outlooks_in(bytes(body))]


def packed(bed: BedMorning) -> bytes:
    """A bed's morning as stored; its outlook in steps of ``STEP_H`` hours and four figures."""
    thin = replace(bed, outlook=thinned(bed.outlook))
    return zlib.compress(_BEDS.dump_json((thin,)), 9)


def thinned(view: OutlookView) -> OutlookView:
    """``view`` in steps of ``STEP_H`` hours, by the same rules as the tables of an outlook: of
    a step the coldest, the warmest or worst, or the last hour."""
    size = STEP_H // view.every_h
    if size < 2:
        return view

    def thin(values: Sequence[float], how: str) -> list[float]:
        steps = [values[i : i + size] for i in range(0, len(values) - size + 1, size)]
        pick = {"least": min, "most": max}.get(how, lambda step: step[-1])
        return [tidy(float(pick(step))) for step in steps]

    zones = {
        zone: {name: [thin(row, TOLD.get(name, "last")) for row in rows]
               for name, rows in series.items()}
        for zone, series in view.zones.items()
    }  # fmt: skip
    return replace(view, every_h=size * view.every_h, zones=zones)


def latest_run(row: FarmRow) -> OutlookRun | None:
    """The newest outlook of a farm."""
    return (  # type: ignore[no-any-return]
        OutlookRun.objects.filter(farm=row).order_by("-made_at", "-pk").first()
    )


def beds_of_run(run_id: int,
                beds: Collection[str] | None = None) -> tuple[BedMorning, ...] | None:  # fmt: skip
    """The beds of a run (or those named) as they were told; None when written by a version
    whose records were different."""
    rows = BedOutlookRow.objects.filter(run_id=run_id)
    if beds is not None:
        rows = rows.filter(bed__in=beds)
    try:
        return tuple(
            _BEDS.validate_json(zlib.decompress(bytes(row.body)))[0] for row in rows.order_by("pk")
        )
    except (ValidationError, zlib.error):
        return None
