"""Runs the queue of jobs in this process."""

from __future__ import annotations

import os
import secrets

from django_tasks_db.management.commands.db_worker import Worker

_LOOK_EVERY_S = 1.0


def run_worker(*, once: bool) -> None:
    """Works through the queue: what waits now (``once``), or until the process is stopped.

    Two workers may run beside each other; each job is done by one of them.
    """
    Worker(
        queue_names=["default"], interval=_LOOK_EVERY_S, batch=once, backend_name="default",
        startup_delay=False, max_tasks=None, excluded_queue_names=[],
        worker_id=f"{os.getpid()}-{secrets.token_hex(4)}",
    ).run()  # fmt: skip
