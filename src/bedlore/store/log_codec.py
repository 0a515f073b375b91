"""Log files in memory: what is uploaded and downloaded instead of lying in a folder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory

from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.store.log_format import encode_csv, encode_jsonl
from bedlore.store.log_reader import read_log


class LogFiles:
    """A :class:`~bedlore.service.log_file.LogCodec`."""

    def decode(self, data: bytes, name: str, farm: Farm, now: dt.datetime | None) -> LogReading:
        """What the file ``name`` with the content ``data`` says."""
        # Only the ending of the sender's name is used; the reader streams from a real file.
        ending = ".csv" if PurePath(name).suffix.lower() == ".csv" else ".jsonl"
        with TemporaryDirectory(prefix="bedlore-") as folder:
            path = Path(folder) / f"log{ending}"
            path.write_bytes(data)
            return read_log(path, farm, now)

    def encode(self, entries: Iterable[AnyEntry], form: str) -> Iterator[str]:
        """The lines of a log file (``csv`` or ``jsonl``)."""
        return encode_csv(entries) if form == "csv" else encode_jsonl(entries)
