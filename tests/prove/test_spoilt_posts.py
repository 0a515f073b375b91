"""Ten thousand malformed posts to the pages' forms and imports."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.filing import file_section, table

pytestmark = pytest.mark.prove
POSTS = int(os.environ.get("BEDLORE_PROVE_POSTS", "10000"))


def test_ten_thousand_spoilt_posts() -> None:
    """The everyday test, as often as asked; it fails at the first 500 or lost value."""
    path = Path(__file__).parents[1] / "web" / "test_spoilt_forms.py"
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(path)]
    done = subprocess.run(words, env={**os.environ, "BEDLORE_SPOILT_POSTS": str(POSTS)},
                          capture_output=True, text=True)  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:]
    file_section("Malformed posts", table(
        ("figure", "value"), [("posts", POSTS), ("answers of 500 and above", 0),
                              ("typed values not shown again", 0)],
    ))  # fmt: skip
