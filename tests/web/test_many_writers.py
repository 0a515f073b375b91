"""Many phones at once, and a server that dies while they write.

The long run, 20 phones for a minute and a hundred kills, is tests/prove/test_server_whole.py.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from pathlib import Path

from tests.web.fleet import WRITTEN, Fleet, fleet

WRITERS, EACH = 8, 12


def is_sound(data: Path) -> bool:
    """Whether SQLite finds its file whole and every row's owner there."""
    base = sqlite3.connect(data / "bedlore.sqlite3")
    try:
        whole = base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return whole and base.execute("PRAGMA foreign_key_check").fetchall() == []
    finally:
        base.close()


def kill_when(phones: Fleet, written: int) -> None:
    """Kills the server once ``written`` entries are acknowledged, and starts it again."""
    while len(phones.acknowledged) < written:
        time.sleep(0.005)
    phones.kill()
    phones.start()


def test_nothing_is_lost_or_doubled(tmp_path: Path) -> None:
    with fleet(tmp_path) as phones:
        phones.start()
        killer = threading.Thread(target=kill_when, args=(phones, WRITERS * EACH // 3))
        killer.start()
        phones.write(WRITERS, lambda _, number: number < EACH)
        killer.join()
        phones.kill()
        assert phones.statuses <= WRITTEN
        assert sorted(phones.stored()) == sorted(phones.acknowledged)
        assert len(phones.acknowledged) == WRITERS * EACH
        assert is_sound(phones.data)
