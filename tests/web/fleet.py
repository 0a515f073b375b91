"""Phones that write to a really running server, which may be killed while they do."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from bedlore.demo import write_demo
from tests.web.postgres import free_port
from tests.web.started import environment

STARTS_IN_S = 60
WRITTEN = {200, 201}
PHONES = 20
_TOKENS = f"""
import django; django.setup()
from bedlore.service.doors import issue_token
from bedlore.store.db.doors import DbDoors, give_role
from bedlore.store.db.models import Account, FarmRow
from bedlore.web.wiring import clock
row = FarmRow.objects.get()
print(row.slug)
for phone in range({PHONES}):
    account = Account.objects.create_user(f"helper-{{phone}}", password="x")
    give_role(account.pk, row.pk, "helper", clock())
    print(issue_token(DbDoors(), account.pk, row.pk, "phone", ["log"], clock())[1].text)
"""
_STORED = """
import django; django.setup()
from bedlore.store.db.models import LogEntry
for one in LogEntry.objects.exclude(client_id=None).values_list("client_id", flat=True):
    print(one)
"""


@dataclass
class Fleet:
    """The invented farm behind a server; ``acknowledged`` are the entries the phones were told
    are written, ``statuses`` every answer they got."""

    data: Path
    env: dict[str, str]
    address: str
    slug: str
    tokens: list[str]  # each phone is another person's, as each may only ask so often
    acknowledged: list[str] = field(default_factory=list)
    statuses: set[int] = field(default_factory=set)
    _server: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Starts the server and waits until it answers."""
        words = [sys.executable, "-m", "bedlore", "serve", "--no-worker", "--port",
                 self.address.rsplit(":", 1)[1], "--data", str(self.data)]  # fmt: skip
        nowhere = subprocess.DEVNULL
        self._server = subprocess.Popen(words, env=self.env, stdout=nowhere, stderr=nowhere,
                                        start_new_session=True)  # fmt: skip
        until = time.monotonic() + STARTS_IN_S
        while True:
            try:
                assert httpx.get(f"{self.address}/up/").json()["up"] is True
                return
            except httpx.HTTPError:
                assert time.monotonic() < until, "the server did not start"
                time.sleep(0.05)

    def kill(self) -> None:
        """Ends the server as a power cut would."""
        if self._server is not None:
            os.killpg(self._server.pid, signal.SIGKILL)
            self._server.wait(30)
            self._server = None

    def write(self, writers: int, wanted: Callable[[int, int], bool]) -> None:
        """``writers`` phones write one entry after the other, each again and again until it is
        acknowledged, as long as ``wanted`` (writer, number of its entry)."""
        path = f"{self.address}/api/v1/farms/{self.slug}/log"
        lock = threading.Lock()

        def phone(writer: int) -> None:
            headers = {"Authorization": f"Bearer {self.tokens[writer]}"}
            with httpx.Client(headers=headers, timeout=60) as client:
                number = 0
                while wanted(writer, number):
                    name = f"w{writer}-{number}"
                    entry = {"kind": "note", "at": "2026-01-01 08:00", "bed": "sluice",
                             "note": name}  # fmt: skip
                    status = _send(client, path, {"entry": entry, "client_id": name})
                    with lock:
                        self.statuses.add(status)
                        if status in WRITTEN:
                            self.acknowledged.append(name)
                            number += 1

        with ThreadPoolExecutor(writers) as pool:
            list(pool.map(phone, range(writers)))

    def stored(self) -> list[str]:
        """Client ids of what the database holds."""
        return _run(_STORED, self.env).split()


def _send(client: httpx.Client, path: str, body: object) -> int:
    while True:  # the server may be gone for a while
        try:
            return client.post(path, json=body).status_code
        except httpx.HTTPError:
            time.sleep(0.05)


def _run(script: str, env: dict[str, str]) -> str:
    done = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True,
                          timeout=120)  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


@contextmanager
def fleet(folder: Path, database_url: str = "") -> Iterator[Fleet]:
    """A fleet over the invented farm in ``folder``, its server not yet started."""
    data = folder / "data"
    env = environment(BEDLORE_DATA=str(data), DJANGO_SETTINGS_MODULE="bedlore.web.settings")
    if database_url:
        env["BEDLORE_DATABASE_URL"] = database_url
    write_demo(folder / "demo")
    words = [sys.executable, "-m", "bedlore", "import", str(folder / "demo"), "--data", str(data)]
    done = subprocess.run(words, env=env, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    slug, *tokens = _run(_TOKENS, env).split()
    phones = Fleet(data, env, f"http://127.0.0.1:{free_port()}", slug, tokens)
    try:
        yield phones
    finally:
        phones.kill()
