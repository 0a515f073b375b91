"""A farm kept as files in a folder: ``farm.toml`` and one or more ``log*.csv``, ``log*.jsonl``.

The simplest adapter of the store ports: everything can be read and written with an editor.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from bedlore.errors import Fault, KeeperError
from bedlore.farm.load import dump_farm, load_farm
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.say import say
from bedlore.store.durable import locked, replace_file
from bedlore.store.log_reader import read_log
from bedlore.store.log_writer import append_entries, takes

FARM_FILE = "farm.toml"
FIRST_LOG = "log.jsonl"


class FarmFolder:
    """A :class:`~bedlore.service.ports.FarmStore` and
    :class:`~bedlore.service.ports.LogStore` in the folder ``folder``."""

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(folder)

    @property
    def farm_path(self) -> Path:
        """The farm file."""
        return self.folder / FARM_FILE

    def log_paths(self) -> list[Path]:
        """The log files there are, by name: log.csv, log.jsonl, log-2025.csv and the like."""
        try:
            found = [
                path for path in self.folder.iterdir()
                if path.name.lower().startswith("log")
                and path.suffix.lower() in (".csv", ".jsonl") and path.is_file()
            ]
        except OSError as problem:
            raise KeeperError(say("The folder cannot be read ({strerror}).",
                                  strerror=str(problem.strerror)),
                              str(self.folder)) from None
        return sorted(found, key=lambda path: path.name)

    def load_farm(self) -> Farm:
        """The farm; raises :class:`KeeperError` with sentences."""
        if not self.folder.is_dir():
            raise KeeperError(say("There is no such folder."), str(self.folder))
        if not self.farm_path.exists():
            raise KeeperError(say("There is no {farm_file} in this folder.",
                                  farm_file=FARM_FILE), str(self.folder),
                              say("Describe the farm in a file of that name."))
        return load_farm(self.farm_path)

    def save_farm(self, farm: Farm) -> None:
        """Replaces the farm file. Comments in the old file are lost, so it is kept beside the
        new one as ``farm.toml.before``."""
        try:
            with locked(self.folder):
                if self.farm_path.exists():
                    before = self.farm_path.read_bytes()
                    replace_file(self.folder / f"{FARM_FILE}.before", [before])
                replace_file(self.farm_path, [dump_farm(farm).encode("utf-8")])
        except OSError as problem:
            raise KeeperError(say("The farm file cannot be written ({strerror}).",
                                  strerror=str(problem.strerror)),
                              str(self.folder)) from None

    def read_log(self, farm: Farm, now: dt.datetime | None = None) -> LogReading:
        """All log files together; see :func:`bedlore.store.log_reader.read_log`. A file that
        cannot be opened is a fault, and the others are read."""
        readable, faults = [], []
        for path in self.log_paths():
            try:
                with path.open("rb"):
                    readable.append(path)
            except OSError as problem:
                faults.append(Fault(path.name, say("The file cannot be read ({strerror}).",
                                                   strerror=str(problem.strerror))))
        found = read_log(readable, farm, now)
        return LogReading(found.entries, (*faults, *found.faults), found.notes, found.kept_aside,
                          found.faults_left_out)

    def append(self, entries: Sequence[AnyEntry]) -> None:
        """Adds ``entries``; on disk when this returns. They go to the newest-named log file that
        has columns for them, else to ``log.jsonl``."""
        if not entries:
            return
        try:
            with locked(self.folder):
                append_entries(self._log_for(entries), entries)
        except OSError as problem:
            raise KeeperError(say("The log cannot be written ({strerror}).",
                                  strerror=str(problem.strerror)),
                              str(self.folder)) from None

    def _log_for(self, entries: Sequence[AnyEntry]) -> Path:
        fitting = [path for path in self.log_paths() if takes(path, entries)]
        return fitting[-1] if fitting else self.folder / FIRST_LOG
