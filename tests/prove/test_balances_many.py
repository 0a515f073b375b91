"""The balances of tests/property over many more random beds."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.filing import file_section, table
from tests.property.random_beds import run_case
from tests.property.test_balances import check

BLOCKS, EACH = 10, 40


@pytest.mark.parametrize("block", range(BLOCKS))
def test_many_years_of_random_beds_close(block: int) -> None:
    worst: dict[str, float] = {}
    for seed in range(1000 + block * EACH, 1000 + (block + 1) * EACH):
        case = run_case(seed)
        check(case)
        for name, off in case.imbalances().items():
            worst[name] = max(worst.get(name, 0.0), float(np.abs(off).max()))
    rows = [(name, f"{value:.1e}") for name, value in worst.items()]
    file_section(f"Balances, block {block} of {EACH} random bed-years", table(
        ("balance", "largest relative imbalance"), rows))  # fmt: skip
