"""Twenty phones for a minute on both databases, and a server killed a hundred times meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from benchmarks.filing import file_section, table
from tests.web import postgres
from tests.web.fleet import PHONES, WRITTEN, Fleet, fleet
from tests.web.test_many_writers import is_sound

pytestmark = pytest.mark.prove
SECONDS, KILLS = 60.0, 100


@contextmanager
def database(kind: str) -> Iterator[str]:
    if kind == "SQLite":
        yield ""
        return
    with postgres.server() as address:
        yield address


def for_seconds(phones: Fleet, seconds: float) -> float:
    """Lets all phones write for so long; returns entries a second."""
    until = time.monotonic() + seconds
    phones.write(PHONES, lambda *_: time.monotonic() < until)
    return len(phones.acknowledged) / seconds


@pytest.mark.parametrize("kind", ["SQLite", "PostgreSQL"])
def test_twenty_phones_for_a_minute(kind: str, tmp_path: Path) -> None:
    with database(kind) as address, fleet(tmp_path, address) as phones:
        phones.start()
        rate = for_seconds(phones, SECONDS)
        assert phones.statuses <= WRITTEN, "every phone was told that its entry is written"
        stored = phones.stored()
        assert sorted(stored) == sorted(phones.acknowledged)
        file_section(f"Twenty phones writing for a minute, {kind}", table(
            ("figure", "value"),
            [("entries acknowledged", len(phones.acknowledged)), ("entries stored", len(stored)),
             ("other answers than written", 0), ("entries a second", f"{rate:.0f}")],
        ))  # fmt: skip


def test_a_hundred_kills_while_phones_write(tmp_path: Path) -> None:
    """A killed server may have written what it could not acknowledge; never the other way."""
    with fleet(tmp_path) as phones:
        phones.start()
        killed: list[float] = []

        def keep_killing() -> None:
            for _ in range(KILLS):
                seen = len(phones.acknowledged)
                while len(phones.acknowledged) < seen + 3:
                    time.sleep(0.002)
                phones.kill()
                killed.append(time.monotonic())
                phones.start()

        killer = threading.Thread(target=keep_killing)
        killer.start()
        phones.write(PHONES, lambda *_: killer.is_alive())
        killer.join()
        phones.kill()
        assert phones.statuses <= WRITTEN
        assert sorted(phones.stored()) == sorted(phones.acknowledged)
        assert is_sound(phones.data)
        file_section("The server killed while phones write", table(
            ("figure", "value"),
            [("kills (signal 9)", len(killed)), ("entries acknowledged", len(phones.acknowledged)),
             ("of these in the database", len(phones.acknowledged)), ("doubled", 0),
             ("integrity check", "ok")],
        ))  # fmt: skip
