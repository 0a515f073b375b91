"""The outcome of ``bedlore check`` as text."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

_MOST = 40
_HEADS = (
    ("faults", "To mend"), ("cautions", "Take care"), ("notes", "Taken for"),
)  # fmt: skip


def render_check(account: dict[str, Any]) -> RenderableType:
    """What was read, then faults, cautions and what was taken for what."""
    parts: list[RenderableType] = []
    if account["farm"]:
        count, entries = len(account["beds"]), account["entries"]
        parts.append(Text(f"{account['farm']}: {count} {_plural('bed', count)}, {entries}"
                          f" {_plural('entry', entries)} in the log."))  # fmt: skip
    else:
        parts.append(Text("The farm file cannot be used yet, so neither log nor weather was read."))
    for key, head in _HEADS:
        told = account[key]
        if told:
            parts += [Text(""), Text(f"{head} ({len(told) + _left_out(account, key)})",
                                     style="bold")]
            parts += [Text(f"  {one['path']}: {one['sentence']}") for one in told[:_MOST]]
        if len(told) > _MOST:
            parts.append(Text(f"  and {len(told) - _MOST} more: see --json"))
    if not account["faults"]:
        parts += [Text(""), Text("Nothing to mend.", style="bold")]
    elif account["kept_aside"]:
        parts += [Text(""), Text("Lines that could not be used stay in their file as they are.")]
    return Group(*parts)


def _left_out(account: dict[str, Any], key: str) -> int:
    return int(account["faults_left_out"]) if key == "faults" else 0


def _plural(word: str, count: int) -> str:
    if count == 1:
        return word
    return f"{word[:-1]}ies" if word.endswith("y") else f"{word}s"
