"""Beds side by side: in order, one store one thread, faults where they belong."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest

from bedlore.service.side_by_side import side_by_side


def test_results_come_in_order_whoever_is_first() -> None:
    def slow_first(n: int) -> int:
        time.sleep(0.02 if n == 0 else 0.0)
        return n * n

    assert list(side_by_side(slow_first, range(6))) == [0, 1, 4, 9, 16, 25]


def test_two_are_in_work_at_a_time_and_never_three() -> None:
    meeting = threading.Barrier(2, timeout=5.0)
    list(side_by_side(lambda _: meeting.wait(), range(4)))
    lock, now, most = threading.Lock(), 0, 0

    def count(_: int) -> None:
        nonlocal now, most
        with lock:
            now += 1
            most = max(most, now)
        time.sleep(0.002)
        with lock:
            now -= 1

    list(side_by_side(count, range(8)))
    assert most == 2


def test_only_the_caller_draws_what_is_given() -> None:
    drawn_by = set()

    def given() -> Iterator[int]:
        for n in range(5):
            drawn_by.add(threading.get_ident())
            yield n

    assert list(side_by_side(lambda n: n, given())) == list(range(5))
    assert drawn_by == {threading.get_ident()}


def test_a_fault_is_raised_and_the_rest_not_begun() -> None:
    begun: list[int] = []

    def work(n: int) -> int:
        begun.append(n)
        if n == 1:
            raise ValueError("the second bed")
        return n

    results = side_by_side(work, range(50))
    assert next(results) == 0
    with pytest.raises(ValueError, match="the second bed"):
        next(results)
    assert len(begun) < 6
