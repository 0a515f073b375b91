"""Reads log files into :class:`~bedlore.farm.reading.LogReading`, whatever state they are in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from bedlore.errors import Fault, KeeperError
from bedlore.farm.interpret import Interpreter, content_key
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import KeptLine, LogReading
from bedlore.say import say, say_many, sentences
from bedlore.store.lines import Line, read_lines
from bedlore.store.log_sources import RawEntry, Refused, csv_entries, json_entries

MAX_LOG_BYTES = 100_000_000
MAX_ENTRIES = 250_000
MAX_LISTED = 1_000
GAP_NOTED_D = 28


@dataclass
class _Collected:
    """What has been read so far, bounded."""

    entries: list[AnyEntry] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    kept: list[KeptLine] = field(default_factory=list)
    left_out: int = 0
    by_id: dict[str, tuple[bytes, str]] = field(default_factory=dict)
    by_content: dict[bytes, tuple[str, str]] = field(default_factory=dict)

    def fault(self, fault: Fault) -> None:
        if len(self.faults) < MAX_LISTED:
            self.faults.append(fault)
        else:
            self.left_out += 1

    def note(self, note: Fault) -> None:
        if len(self.notes) < MAX_LISTED:
            self.notes.append(note)

    def keep(self, file: str, lines: Iterable[Line]) -> None:
        for line in lines:
            if len(self.kept) < MAX_LISTED:
                self.kept.append(KeptLine(file, line.number, line.shown))

    @property
    def full(self) -> bool:
        return len(self.entries) >= MAX_ENTRIES


def read_log(
    paths: Path | Sequence[Path], farm: Farm, now: dt.datetime | None = None
) -> LogReading:
    """Everything the log files ``paths`` of ``farm`` say (``.csv``, otherwise JSON Lines).

    Never raises for what stands in the files: lines that cannot be used are kept aside with a
    fault. Raises :class:`KeeperError` when a file cannot be opened. Entries that begin after
    ``now`` (aware) are kept aside; None believes any date. Memory is bounded by ``MAX_ENTRIES``
    entries and ``MAX_LOG_BYTES`` a file, each with a sentence when reached.
    """
    every = [paths] if isinstance(paths, Path) else list(paths)
    collected = _Collected()
    interpreter = Interpreter(farm, now)
    for path in every:
        _read_file(path, interpreter, collected)
    entries = sorted(collected.entries, key=lambda entry: entry.at)
    _note_amendments(entries, collected)
    _note_gaps(entries, collected)
    return LogReading(tuple(entries), tuple(collected.faults), tuple(collected.notes),
                      tuple(collected.kept), collected.left_out)


def _read_file(path: Path, interpreter: Interpreter, collected: _Collected) -> None:
    source = csv_entries if path.suffix.lower() == ".csv" else json_entries
    name = path.name
    latest: dt.datetime | None = None
    late = 0
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise KeeperError(say("This is a folder, not a log file."), name)
        for found in source(read_lines(path, MAX_LOG_BYTES)):
            if collected.full:
                collected.fault(Fault(name, say("The log holds more than {max_entries} entries;"
                                                " the rest was not read. Split it by farm.",
                                                max_entries=f"{MAX_ENTRIES:,}")))
                return
            entry = _understood(found, name, interpreter, collected)
            if entry is None:
                continue
            if latest is not None and entry.at < latest:
                late += 1
            latest = entry.at if latest is None else max(latest, entry.at)
    except OSError as problem:
        raise KeeperError(say("The file cannot be read ({strerror}).",
                              strerror=str(problem.strerror)), name) from None
    if size > MAX_LOG_BYTES:
        collected.fault(Fault(name, say("The file is larger than {max_log_bytes} MB; what comes"
                                        " after that was not read. Split it into several.",
                                        max_log_bytes=MAX_LOG_BYTES // 1000000)))
    if late:
        sorted_now = say_many(
            "{count} entry stands after a later one. They were sorted by time.",
            "{count} entries stand after a later one. They were sorted by time.", late,
        )  # fmt: skip
        collected.note(Fault(name, sorted_now))


def _understood(
    found: RawEntry | Refused, name: str, interpreter: Interpreter, collected: _Collected
) -> AnyEntry | None:
    if isinstance(found, Refused):
        collected.fault(Fault(f"{name} line {found.line}", found.sentence))
        collected.keep(name, found.lines)
        return None
    where = f"{name} line {found.lines[0].number}"
    try:
        understood = interpreter.read(found.raw, where)
    except RecursionError:
        collected.fault(Fault(where, say("The line is nested too deeply for an entry.")))
        collected.keep(name, found.lines)
        return None
    for fault in understood.faults:
        collected.fault(fault)
    for remark in understood.remarks:
        collected.note(remark)
    entry = understood.entry
    if entry is None or _repeats(entry, "id" in found.raw, where, collected):
        collected.keep(name, found.lines)
        return None
    collected.entries.append(entry)
    return entry


def _repeats(entry: AnyEntry, has_id: bool, where: str, collected: _Collected) -> bool:
    """Whether ``entry`` was there before; says so."""
    key = content_key(entry)
    same_id = collected.by_id.get(entry.id)
    if same_id is not None:
        if same_id[0] == key:
            sentence = say("It is the same as {same_id} and was counted once.",
                           same_id=same_id[1])
            if not has_id:
                sentence = sentences(sentence, say("If it happened twice, give each an id."))
        else:
            sentence = say("Another entry has the id {id} already ({same_id}). Give it an id of"
                           " its own; to correct the first one, write that id under amends.",
                           id=repr(entry.id), same_id=same_id[1])  # fmt: skip
        collected.fault(Fault(where, sentence))
        return True
    twin = collected.by_content.get(key)
    if twin is not None and not has_id:
        collected.fault(Fault(where, say("It says the same as {twin} and was counted once. If"
                                         " it happened twice, give each an id.", twin=twin[1])))
        return True
    if twin is not None:
        collected.note(Fault(where, say("It says the same as {twin} under another id. Both were"
                                        " counted; void one if it happened once.",
                                        twin=twin[1])))
    collected.by_id[entry.id] = (key, where)
    collected.by_content.setdefault(key, (entry.id, where))
    return False


def _note_amendments(entries: Sequence[AnyEntry], collected: _Collected) -> None:
    seen: dict[str, str] = {}
    for entry in entries:
        if entry.amends is None:
            continue
        where = collected.by_id[entry.id][1]
        if entry.amends not in collected.by_id:
            amends = repr(entry.amends)
            collected.note(Fault(where, (
                say("It amends {amends}, which is not in the log; it changes nothing.",
                    amends=amends) if entry.kind == "void"
                else say("It amends {amends}, which is not in the log; it was taken as a new"
                         " entry.", amends=amends))))  # fmt: skip
        elif entry.amends in seen:
            collected.note(Fault(where, say("{amends} is corrected more than once ({seen}). The"
                                            " correction with the greater id holds.",
                                            amends=repr(entry.amends), seen=seen[entry.amends])))
        seen.setdefault(entry.amends, where)


def _note_gaps(entries: Sequence[AnyEntry], collected: _Collected) -> None:
    last: dict[str, dt.datetime] = {}
    for entry in entries:
        before = last.get(entry.bed)
        if before is not None and (entry.at - before).days >= GAP_NOTED_D:
            collected.note(Fault(f"bed {entry.bed}", say("Nothing was written for {days} days,"
                                                         " from {since} to {until}."
                                                         " What is worked out for that time is"
                                                         " less sure.",
                                                         days=(entry.at - before).days,
                                                         since=before.date().isoformat(),
                                                         until=entry.at.date().isoformat())))
        last[entry.bed] = entry.at
