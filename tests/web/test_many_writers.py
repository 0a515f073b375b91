"""Many phones at once, and a server that dies while they write."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx

from bedlore.demo import write_demo
from tests.web.postgres import free_port
from tests.web.test_commands import _wait_for, bedlore, environment

WRITERS, EACH = 8, 12
TOKEN = """
import django, sys; django.setup()
from bedlore.service.doors import issue_token
from bedlore.store.db.doors import DbDoors, give_role
from bedlore.store.db.models import Account, FarmRow
from bedlore.web.wiring import clock
row = FarmRow.objects.get()
account = Account.objects.create_user("mara", password="x")
give_role(account.pk, row.pk, "helper", clock())
print(row.slug, issue_token(DbDoors(), account.pk, row.pk, "t", ["log"], clock())[1].text)
"""


def start(data: Path, port: int) -> subprocess.Popen[bytes]:
    words = [sys.executable, "-m", "bedlore", "serve", "--no-worker", "--port", str(port),
             "--data", str(data)]  # fmt: skip
    return subprocess.Popen(words, env=environment(), stdout=subprocess.DEVNULL,
                            stderr=subprocess.DEVNULL, start_new_session=True)  # fmt: skip


def end(process: subprocess.Popen[bytes], number: int) -> None:
    os.killpg(process.pid, number)
    process.wait(30)


def test_nothing_is_lost_or_doubled(tmp_path: Path) -> None:
    data, port = tmp_path / "data", free_port()
    write_demo(tmp_path / "demo")
    assert bedlore(data, "import", str(tmp_path / "demo")).returncode == 0
    env = {**environment(), "BEDLORE_DATA": str(data),
           "DJANGO_SETTINGS_MODULE": "bedlore.web.settings"}  # fmt: skip
    done = subprocess.run([sys.executable, "-c", TOKEN], env=env, capture_output=True, text=True,
                          check=True, timeout=60)  # fmt: skip
    slug, token = done.stdout.split()
    address = f"http://127.0.0.1:{port}"
    path, headers = f"{address}/api/v1/farms/{slug}/log", {"Authorization": f"Bearer {token}"}
    server = [start(data, port)]
    _wait_for(address)
    acknowledged: list[str] = []
    statuses: set[int] = set()

    def write(writer: int) -> None:
        with httpx.Client(headers=headers, timeout=60) as client:
            for number in range(EACH):
                name = f"w{writer}-{number}"
                entry = {"kind": "note", "at": "2026-01-01 08:00", "bed": "sluice", "note": name}
                while True:  # as a phone does: again and again, until it is acknowledged
                    try:
                        answer = client.post(path, json={"entry": entry, "client_id": name})
                    except httpx.HTTPError:
                        time.sleep(0.1)
                        continue
                    statuses.add(answer.status_code)
                    if answer.status_code in (200, 201):
                        acknowledged.append(name)
                        break

    def kill_it() -> None:
        while len(acknowledged) < WRITERS * EACH // 3:
            time.sleep(0.01)
        end(server.pop(), signal.SIGKILL)
        server.append(start(data, port))

    killer = threading.Thread(target=kill_it)
    killer.start()
    with ThreadPoolExecutor(WRITERS) as pool:
        list(pool.map(write, range(WRITERS)))
    killer.join()
    end(server.pop(), signal.SIGKILL)
    assert statuses <= {200, 201}
    base = sqlite3.connect(data / "bedlore.sqlite3")
    try:
        stored = [row[0] for row in base.execute(
            "SELECT client_id FROM store_logentry WHERE client_id IS NOT NULL")]  # fmt: skip
        assert sorted(stored) == sorted(acknowledged)
        assert len(stored) == WRITERS * EACH
        assert base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    finally:
        base.close()
