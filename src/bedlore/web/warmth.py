"""The compiled loop, made ready beside the server, so that nobody waits for it with a page."""

from __future__ import annotations

import threading

_READY = threading.Event()
_STARTED = threading.Event()


def begin() -> None:
    """Starts to load the loop, or to compile it where it was never used; once a process."""
    if not _STARTED.is_set():
        _STARTED.set()
        threading.Thread(target=_make_ready, name="loop", daemon=True).start()


def _make_ready() -> None:
    from bedlore.bed.warm import compile_loop

    compile_loop()
    _READY.set()


def is_ready(patience_s: float) -> bool:
    """Whether the loop is ready, after waiting so long for it; where nobody began, whoever uses
    it first makes it ready."""
    return not _STARTED.is_set() or _READY.wait(patience_s)
