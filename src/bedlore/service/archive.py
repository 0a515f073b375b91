"""A whole farm as a zip of open formats, which another bedlore restores exactly.

``manifest.json`` lists every member with its SHA-256. The same farm at the same moment always
gives the same bytes. On the way in nothing is written to the file system by name, members are
counted and measured before they are unpacked, and every digest must fit.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from typing import IO, Protocol

from bedlore import __version__
from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.say import say

FORMAT = 1
MANIFEST = "manifest.json"
MAX_MEMBERS = 20_000
MAX_MEMBER_BYTES = 400_000_000
MAX_TOTAL_BYTES = 2_000_000_000
MAX_RATIO = 200
_STAMP = (1980, 1, 1, 0, 0, 0)
_MEMBER = re.compile(
    r"(farm\.toml|log\.jsonl|log\.csv|written\.jsonl|farm-versions\.jsonl|bed-versions\.jsonl|"
    r"weather\.jsonl|runs\.jsonl|outlooks\.jsonl|advice\.jsonl|photos\.jsonl|people\.json|"
    r"photos/[0-9a-f]{64}\.jpg)"
)


class FarmParts(Protocol):
    """Gives all of a farm as named members, and makes a farm of them."""

    def parts(self) -> Iterator[tuple[str, bytes]]:
        """Name and content of every member, in a fixed order."""
        ...

    def restore(self, parts: Mapping[str, bytes], now: dt.datetime) -> int:
        """Makes a new farm, all of it or nothing; returns its number."""
        ...


def export_archive(parts: Iterable[tuple[str, bytes]], now: dt.datetime, target: IO[bytes]) -> None:
    """Writes the archive to ``target``."""
    digests: dict[str, str] = {}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name, content in parts:
            if not _MEMBER.fullmatch(name):
                raise ValueError(f"{name} is no member of an archive")
            digests[name] = hashlib.sha256(content).hexdigest()
            archive.writestr(_entry(name), content)
        manifest = {"format": FORMAT, "program": "bedlore", "version": __version__,
                    "made_at": now.astimezone(dt.UTC).isoformat(), "members": digests}  # fmt: skip
        archive.writestr(_entry(MANIFEST), json.dumps(manifest, indent=1, sort_keys=True))


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _STAMP)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry


def read_archive(source: IO[bytes]) -> dict[str, bytes]:
    """The members of an archive, checked; raises :class:`KeeperError` with sentences."""
    try:
        with zipfile.ZipFile(source) as archive:
            _check_sizes(archive.infolist())
            manifest = _manifest(archive)
            return _members(archive, manifest)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError,
            RuntimeError, OSError, UnicodeDecodeError):  # fmt: skip
        raise KeeperError(say("The file is no zip archive, or it is damaged."), "archive",
                          say("Fetch it again.")) from None  # fmt: skip
    except zipfile.zlib.error:  # type: ignore[attr-defined]
        raise KeeperError(say("The archive is damaged."), "archive",
                          say("Fetch it again.")) from None  # fmt: skip


def restore_archive(store: FarmParts, source: IO[bytes], now: dt.datetime) -> int:
    """Makes a farm of an archive; returns its number."""
    return store.restore(read_archive(source), now)


def _check_sizes(entries: list[zipfile.ZipInfo]) -> None:
    names = [entry.filename for entry in entries]
    if len(entries) > MAX_MEMBERS or len(set(names)) != len(names):
        raise KeeperError(say("The archive holds too many files, or one of them twice."), "archive")
    odd = [name for name in names if name != MANIFEST and not _MEMBER.fullmatch(name)]
    if odd:
        raise FaultList(
            Fault("archive", say("{name} is no file of a bedlore archive.",
                                 name=repr(name[:80]))) for name in odd[:20]
        )
    total = 0
    for entry in entries:
        total += entry.file_size
        swollen = entry.file_size > MAX_RATIO * max(entry.compress_size, 1000)
        if entry.file_size > MAX_MEMBER_BYTES or total > MAX_TOTAL_BYTES or swollen:
            raise KeeperError(say("Unpacked, the archive would be far larger than any farm."),
                              "archive", say("Nothing was unpacked."))  # fmt: skip


def _manifest(archive: zipfile.ZipFile) -> dict[str, str]:
    try:
        found = json.loads(_content(archive, MANIFEST))
        members = found["members"]
        if found["program"] != "bedlore" or not isinstance(members, dict):
            raise KeyError
    except (KeyError, ValueError, TypeError, RecursionError):
        raise KeeperError(say("It has no list of contents: this is no bedlore archive."),
                          "archive") from None  # fmt: skip
    if found.get("format") != FORMAT:
        raise KeeperError(say("It is of format {found}; this version reads format {known}.",
                              found=str(found.get("format"))[:20], known=FORMAT), "archive",
                          say("Use a newer bedlore."))  # fmt: skip
    return members


def _members(archive: zipfile.ZipFile, digests: dict[str, str]) -> dict[str, bytes]:
    there = {name for name in archive.namelist() if name != MANIFEST}
    if there != set(digests):
        raise KeeperError(say("Its list of contents does not fit what is in it."), "archive",
                          say("Fetch it again."))  # fmt: skip
    members = {}
    for name in sorted(there):
        content = _content(archive, name)
        if hashlib.sha256(content).hexdigest() != digests[name]:
            raise KeeperError(say("{name} was changed or damaged.", name=name), "archive",
                              say("Fetch it again."))  # fmt: skip
        members[name] = content
    return members


def _content(archive: zipfile.ZipFile, name: str) -> bytes:
    """One member, never more than it said it would be."""
    entry = archive.getinfo(name)
    with archive.open(entry) as file:
        content = file.read(entry.file_size + 1)
    if len(content) > entry.file_size:
        raise KeeperError(say("{name} is larger than it says.", name=name), "archive",
                          say("Nothing was restored."))  # fmt: skip
    return content
