"""Files the figures of a benchmark or a long proof in ``results.md``, one section a question."""

from __future__ import annotations

import datetime as dt
import os
import platform
from collections.abc import Sequence
from pathlib import Path

from filelock import FileLock

RESULTS = Path(__file__).with_name("results.md")
HEAD = """# Figures of record

Written by `make bench` and `make prove`; every section says when and where. Times depend on the
machine, so what is promised is ratios within one run.
"""


def machine() -> str:
    """What the figures were measured on."""
    return f"{os.cpu_count()} cores, {platform.system()} {platform.machine()}, Python " + (
        platform.python_version()
    )


def table(heads: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A Markdown table."""
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    lines += ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def file_section(title: str, body: str, results: Path = RESULTS) -> None:
    """Put ``body`` under ``## title``, in place of what an earlier run filed there.

    Proofs run in several processes, so the file is locked while it is rewritten.
    """
    stamp = f"{dt.date.today().isoformat()}, {machine()}"
    section = f"## {title}\n\n{stamp}\n\n{body.strip()}\n"
    with FileLock(f"{results}.lock"):
        old = results.read_text("utf-8") if results.exists() else HEAD
        head, *sections = old.split("\n## ")
        kept = {part.split("\n", 1)[0]: f"## {part.strip()}\n" for part in sections}
        kept[title] = section
        text = "\n".join([head.strip() + "\n", *(kept[name] for name in sorted(kept))])
        fresh = results.with_suffix(".new")
        fresh.write_text(text, "utf-8")
        fresh.replace(results)
