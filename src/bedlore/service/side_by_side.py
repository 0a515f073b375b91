"""Work for one bed beside work for the next: while one sums up, the other's runs use the cores."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import copy_context
from typing import TypeVar

AT_ONCE = 2
_Given = TypeVar("_Given")
_Found = TypeVar("_Found")


def side_by_side(work: Callable[[_Given], _Found], given: Iterable[_Given],
                 at_once: int = AT_ONCE) -> Iterator[_Found]:  # fmt: skip
    """``work`` of each of ``given``, in order, ``at_once`` of them at a time.

    ``given`` is drawn and results are taken by the calling thread, never more than one ahead, so
    that a store is only asked by the thread that opened it. A fault in ``work`` is raised at its
    place in the order.
    """
    with ThreadPoolExecutor(at_once) as pool:
        waiting: deque[Future[_Found]] = deque()
        try:
            for one in given:
                waiting.append(pool.submit(copy_context().run, work, one))
                if len(waiting) > at_once:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for later in waiting:
                later.cancel()
