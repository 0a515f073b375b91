"""A job worker in a process of its own, kept going beside the server."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from types import TracebackType

import click

PARENT = "BEDLORE_BESIDE"  # the process that a worker ends with, should that be killed
_AGAIN_AFTER_S = 5.0
_STOPS_WITHIN_S = 5.0  # its job is put back by the next worker


class WorkerBeside:
    """Runs ``bedlore worker`` over a data folder while its block lasts.

    A worker that ends by itself is started again. It does not get the terminal's Ctrl-C: the
    server does, and then ends it.
    """

    def __init__(self, data: str) -> None:
        self._words = [sys.executable, "-m", "bedlore", "worker", "--data", data]
        self._stopping = threading.Event()
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._watch = threading.Thread(target=self._keep_going, daemon=True)

    def __enter__(self) -> WorkerBeside:
        self._watch.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:  # fmt: skip
        self._stopping.set()
        with self._lock:
            process = self._process
            if process is not None:
                process.terminate()
        if process is not None:
            try:
                process.wait(_STOPS_WITHIN_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _keep_going(self) -> None:
        while not self._stopping.is_set():
            with self._lock:
                if self._stopping.is_set():
                    return
                self._process = subprocess.Popen(
                    self._words, stdin=subprocess.DEVNULL, start_new_session=True,
                    env={**os.environ, PARENT: str(os.getpid())},
                )  # fmt: skip
            status = self._process.wait()
            if not self._stopping.is_set():
                click.echo(f"The job worker ended ({status}) and is started again.", err=True)
            self._stopping.wait(_AGAIN_AFTER_S)


def left_alone() -> bool:
    """Whether this process is a worker whose server is gone."""
    with contextlib.suppress(ValueError):
        parent = os.environ.get(PARENT, "")
        return bool(parent) and os.getppid() != int(parent)
    return False
