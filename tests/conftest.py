"""Settings shared by all tests."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

# Time says nothing about right or wrong on a shared machine, so no deadlines. `make test` is the
# same every time; `make prove` looks at fresh cases.
settings.register_profile(
    "quick",
    derandomize=True,
    max_examples=50,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("prove", max_examples=1000, deadline=None, print_blob=True)
settings.load_profile("quick")
