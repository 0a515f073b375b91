"""Writing that survives a power cut: append with fsync, replace whole files or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from bedlore.errors import KeeperError
from bedlore.say import say

LOCK_WAIT_S = 10.0


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Holds the lock of ``folder``; raises :class:`KeeperError` when another keeps it."""
    try:
        with FileLock(folder / ".bedlore.lock", timeout=LOCK_WAIT_S):
            yield
    except Timeout:
        raise KeeperError(
            say("Another program is writing to this farm."), folder.name, say("Try again in a"
                                                                         " moment.")
        ) from None


def append_bytes(path: Path, data: bytes) -> None:
    """Adds ``data`` to ``path`` (made when missing); on disk when this returns. A write that
    fails half-way is taken back. May raise :class:`OSError`."""
    is_new = not path.exists()
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        size = os.fstat(handle).st_size
        try:
            view = memoryview(data)
            while view:
                view = view[os.write(handle, view):]
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, size)
            raise
    finally:
        os.close(handle)
    if is_new:
        sync_folder(path.parent)


def replace_file(path: Path, parts: Iterable[bytes], mode: int = 0o644) -> None:
    """Makes ``path`` hold ``parts``, all of it or nothing, with the rights ``mode``. May raise
    :class:`OSError`."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    new = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            for part in parts:
                file.write(part)
            file.flush()
            os.fsync(file.fileno())
        new.chmod(mode)
        new.replace(path)
    except BaseException:
        new.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Makes new names in ``folder`` survive a power cut, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # some systems do not open folders
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
