"""An edit in a process reaches the compiled answer although both processes share a cache.

Numba's own cache looks only at the file of the function it wraps; the folder's name must tell.
The quick version in tests/unit/bed/test_loop.py looks at that name alone.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import bedlore

PACKAGE = Path(bedlore.__file__).parent
ROOT = Path(__file__).parents[2]
ASK = """
from benchmarks.standard_bed import run_case, standard_case
from bedlore.bed.loop import cache_folder, run_compiled, run_members
loop = {loop}
print(float(run_case(standard_case(1, 2, 4, 30), loop)[1].sum()), cache_folder().parent)
"""


def answer(folder: Path, loop: str) -> float:
    """What a fresh process running the package in ``folder`` computes."""
    env = {
        **os.environ,
        "PYTHONPATH": f"{folder}{os.pathsep}{ROOT}",
        "BEDLORE_CACHE": str(folder.parent / "cache"),
    }
    done = subprocess.run(
        [sys.executable, "-c", ASK.format(loop=loop)],
        env=env, capture_output=True, text=True, check=True, cwd=folder,
    )  # fmt: skip
    number, where = done.stdout.split()
    assert Path(where).is_relative_to(folder.parent / "cache")
    return float(number)


def test_an_edit_changes_the_compiled_answer(tmp_path: Path) -> None:
    folder = tmp_path / "package"
    shutil.copytree(PACKAGE, folder / "bedlore", ignore=shutil.ignore_patterns("__pycache__"))
    before = answer(folder, "run_compiled")
    compiled = sorted(path.name for path in (tmp_path / "cache").rglob("*.nbc"))
    assert answer(folder, "run_compiled") == before
    assert sorted(path.name for path in (tmp_path / "cache").rglob("*.nbc")) == compiled

    decay = folder / "bedlore" / "bed" / "decay.py"
    text = decay.read_text("utf-8")
    assert "7.0622" in text
    decay.write_text(text.replace("7.0622", "7.5"), "utf-8")
    after = answer(folder, "run_compiled")
    assert abs(after / before - 1.0) > 1e-6
    assert abs(after / answer(folder, "run_members") - 1.0) < 1e-9
