"""The balances of tests/property over many more random beds."""

from __future__ import annotations

import numpy as np

from benchmarks.filing import file_section, table
from tests.property.random_beds import run_case
from tests.property.test_balances import check

CASES = 400


def test_many_years_of_random_beds_close() -> None:
    worst: dict[str, float] = {}
    for seed in range(1000, 1000 + CASES):
        case = run_case(seed)
        check(case)
        for name, off in case.imbalances().items():
            worst[name] = max(worst.get(name, 0.0), float(np.abs(off).max()))
    rows = [(name, f"{value:.1e}") for name, value in worst.items()]
    body = f"{CASES} random beds, 3 members and a year each.\n\n"
    head = ("balance", "largest relative imbalance")
    file_section("Balances over random years", body + table(head, rows))
