"""The outcome of ``bedlore check`` as text."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from bedlore.say import message, say, say_many

_MOST = 40
_HEADS = (
    ("faults", message("To mend")), ("cautions", message("Take care")),
    ("notes", message("Taken for")),
)  # fmt: skip


def render_check(account: dict[str, Any]) -> RenderableType:
    """What was read, then faults, cautions and what was taken for what."""
    parts: list[RenderableType] = []
    if account["farm"]:
        parts.append(Text(say(
            "{farm}: {beds}, {entries} in the log.", farm=account["farm"],
            beds=say_many("{count} bed", "{count} beds", len(account["beds"])),
            entries=say_many("{count} entry", "{count} entries", account["entries"]),
        )))  # fmt: skip
    else:
        parts.append(Text(say("The farm file cannot be used yet, so neither log nor weather was"
                              " read.")))  # fmt: skip
    for key, head in _HEADS:
        told = account[key]
        if told:
            parts += [Text(""), Text(f"{say(head)} ({len(told) + _left_out(account, key)})",
                                     style="bold")]
            parts += [Text(f"  {one['path']}: {one['sentence']}") for one in told[:_MOST]]
        if len(told) > _MOST:
            more = say("and {more} more: see --json", more=len(told) - _MOST)
            parts.append(Text(f"  {more}"))
    if not account["faults"]:
        parts += [Text(""), Text(say("Nothing to mend."), style="bold")]
    elif account["kept_aside"]:
        kept = say("Lines that could not be used stay in their file as they are.")
        parts += [Text(""), Text(kept)]
    return Group(*parts)


def _left_out(account: dict[str, Any], key: str) -> int:
    return int(account["faults_left_out"]) if key == "faults" else 0
