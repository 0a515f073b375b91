"""Runs the queue of jobs in this process."""

from __future__ import annotations

import os
import secrets
import signal
import socket
import sys
import threading
from types import FrameType

from django_tasks_db.management.commands.db_worker import Worker

_LOOK_EVERY_S = 1.0


def _own_id() -> str:
    """Names this process among the workers of all machines, in at most 64 characters."""
    return f"{os.getpid()}-{secrets.token_hex(4)}@{socket.gethostname()[:40]}"


def is_gone(worker_id: str) -> bool:
    """Whether a worker was one of this machine and runs no more."""
    number, _, host = worker_id.partition("@")
    if host != socket.gethostname()[:40]:
        return False
    try:
        os.kill(int(number.partition("-")[0]), 0)
    except ProcessLookupError:
        return True
    except (ValueError, OSError):
        return False
    return False


def run_worker(*, once: bool) -> None:
    """Works through the queue: what waits now (``once``), or until the process is told to stop.

    Two workers may run beside each other; each job is done by one of them. A job that is cut
    short by stopping goes back into the queue (:func:`bedlore.web.tasks.run_job`).
    """
    worker = Worker(
        queue_names=["default"], interval=_LOOK_EVERY_S, batch=once, backend_name="default",
        startup_delay=False, max_tasks=None, excluded_queue_names=[],
        worker_id=_own_id(),
    )  # fmt: skip

    def stop(number: int, frame: FrameType | None) -> None:
        worker.running = False  # the queue keeps a job's SystemExit to itself
        sys.exit(0)

    if not once and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)
    worker.run()
