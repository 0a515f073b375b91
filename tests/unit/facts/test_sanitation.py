from __future__ import annotations

import pytest

from bedlore.errors import KeeperError
from bedlore.facts import sanitation


def test_the_rule_says_nothing_about_a_worm_bed() -> None:
    with pytest.raises(KeeperError, match="nothing can be said about germs"):
        sanitation.time_at_temperature_d(30.0)
    assert all(rule.temp_c >= 55.0 for rule in sanitation.HEAT_RULES)


def test_hotter_is_shorter() -> None:
    """Ten degrees more cut the time by 10^1.4, 25 times."""
    ratio = sanitation.time_at_temperature_d(55.0) / sanitation.time_at_temperature_d(65.0)
    assert ratio == pytest.approx(10**1.4)
