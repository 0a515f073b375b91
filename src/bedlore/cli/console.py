"""What every command needs: sentences instead of tracebacks, JSON, a bar for long work.

Nothing heavy is imported here or at the top of any command, so that ``bedlore --help`` is quick.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click

from bedlore.errors import FaultList, KeeperError
from bedlore.say import say, say_many

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.progress import Progress

BAR_AFTER_S = 1.0
Step = Callable[[str, int, int], None]  # label, done, of how many


class Tool(click.Group):
    """A group whose commands end with a sentence and 1 when the keeper can mend something, and
    whose help speaks the language of the terminal."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run what was typed."""
        from bedlore.say.language import SOURCE, of_environment, speaking

        with speaking(of_environment(os.environ)) as listener:
            if listener.language == SOURCE:
                return super().main(*args, **kwargs)
            from bedlore.cli.help_words import click_listens, told

            click_listens()
            return click.Group.main(cast("Tool", told(self)), *args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; everything that goes wrong ends here."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            # Whoever read our output has seen enough; nothing is wrong.
            sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123
            ctx.exit(0)
        except Exception as problem:
            if os.environ.get("BEDLORE_DEBUG"):
                raise
            for line in sentences(problem):
                click.echo(line, err=True)
            ctx.exit(1)


def sentences(problem: Exception) -> list[str]:
    """What to tell the keeper about ``problem``, most telling line first."""
    if isinstance(problem, FaultList):
        head = say_many("One thing to mend:", "{count} things to mend:", len(problem.faults))
        return [head, *(f"  {fault.said}" for fault in problem.faults)]
    if isinstance(problem, KeeperError):
        return [str(problem)]
    if isinstance(problem, OSError):
        named = f"{problem.filename}: " if problem.filename else ""
        reason = problem.strerror or str(problem) or type(problem).__name__
        return [say("{problem}. Check the name, the disk and your rights there.",
                    problem=f"{named}{reason}")]  # fmt: skip
    if isinstance(problem, MemoryError):
        return [say("The machine has too little memory free for this. Close something and try"
                    " again.")]  # fmt: skip
    return [
        say("bedlore itself went wrong ({problem}).",
            problem=f"{type(problem).__name__}: {str(problem)[:200]}"),
        say("Nothing of yours was changed. Please report it with what you typed; run it again with"
            " BEDLORE_DEBUG=1 in the environment to see where it happened."),
    ]


def emit_json(account: Any, out: str = "-") -> None:
    """Print ``account`` as JSON, or write it to the file ``out``."""
    from bedlore.say import again

    told = json.dumps(again(account), ensure_ascii=False, indent=1, allow_nan=False)
    write_text(f"{told}\n", out)


def show(account: dict[str, Any], as_json: bool, out: str,
         render: Callable[[dict[str, Any]], Any]) -> None:  # fmt: skip
    """Print ``account`` as JSON or as ``render`` puts it, or write it to the file ``out``."""
    if as_json:
        emit_json(account, out)
    else:
        print_text(render(account), out)


def write_text(text: str, out: str) -> None:
    """Write ``text`` to the file ``out``; ``-`` is the terminal."""
    if out == "-":
        click.echo(text, nl=False)
        return
    write_bytes(text.encode("utf-8"), out)


def write_bytes(data: bytes, out: str) -> None:
    """Write ``data`` to the file ``out``, all of it or nothing; ``-`` is the standard output."""
    if out == "-":
        click.echo(data, nl=False)
        return
    from bedlore.store.durable import replace_file

    check_place(out)
    try:
        replace_file(Path(out), [data])
    except OSError as problem:
        raise KeeperError(say("The file cannot be written ({strerror}).",
                              strerror=str(problem.strerror)), out,
                          say("Check the disk and your rights there.")) from None  # fmt: skip


def check_place(out: str) -> None:
    """Raise KeeperError, before any work is done, when no file can be at ``out``."""
    if out in ("", "-"):
        return
    path = Path(out)
    if path.is_dir():
        raise KeeperError(say("This is a folder."), out, say("Name the file to write."))
    if not path.parent.is_dir():
        raise KeeperError(say("There is no such folder."), str(path.parent), say("Make it first."))


def read_input(name: str) -> str:
    """The text of the file ``name``; ``-`` is the standard input. Raises KeeperError."""
    where = say("standard input") if name == "-" else Path(name).name
    try:
        if name == "-":
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            with Path(name).open("rb") as file:
                data = file.read(MOST_BYTES + 1)
    except OSError as problem:
        raise KeeperError(say("The file cannot be read ({strerror}).",
                              strerror=str(problem.strerror)), where,
                          say("Check the name and that you may read it.")) from None  # fmt: skip
    if len(data) > MOST_BYTES:
        raise KeeperError(say("It is larger than {most} MB.", most=MOST_BYTES // 1_000_000), where,
                          say("Check that it is the right file."))
    from bedlore.farm.load import decode

    return decode(data, where)


MOST_BYTES = 64_000_000


def terminal() -> Console:
    """Where text goes: coloured on a terminal, plain and 88 columns wide in a pipe."""
    from rich.console import Console

    return Console(highlight=False, emoji=False, markup=False,
                   width=None if sys.stdout.isatty() else 88, soft_wrap=False)  # fmt: skip


def bed_by_bed(account: dict[str, Any], of_bed: Callable[[dict[str, Any]], Iterable[Any]],
               head: Iterable[Any] = ()) -> RenderableType:  # fmt: skip
    """An account as text: the farm and ``head``, and each bed's mark and name over what
    ``of_bed`` gives."""
    from rich.console import Group
    from rich.rule import Rule
    from rich.text import Text

    parts: list[RenderableType] = [Text(account["farm"], style="bold"), *head]
    for bed in account["beds"]:
        title = Text(f" {bed['mark']}  {bed['name']} ", style="bold")
        parts += [Text(""), Rule(title, align="left", characters="─", style="dim"), *of_bed(bed)]
    return Group(*parts)


def print_text(text: Any, out: str = "-") -> None:
    """Print a rich ``text`` on the terminal, or write it plain to the file ``out``."""
    if out == "-":
        terminal().print(text)
        return
    from io import StringIO

    from rich.console import Console

    plain = StringIO()
    Console(file=plain, width=88, markup=False, highlight=False, emoji=False).print(text)
    write_text(plain.getvalue(), out)


@contextmanager
def progress_bar() -> Iterator[Step]:
    """A bar on the error stream for work that lasts over a second; nothing in a pipe."""
    began = time.monotonic()
    shown: list[Progress] = []
    tasks: dict[str, Any] = {}

    def step(label: str, done: int, total: int) -> None:
        if not sys.stderr.isatty() or time.monotonic() - began < BAR_AFTER_S:
            return
        if not shown:
            shown.append(_started_bar())
        if label not in tasks:
            tasks[label] = shown[0].add_task(label, total=total)
        shown[0].update(tasks[label], completed=done, total=total)

    try:
        yield step
    finally:
        if shown:
            shown[0].stop()


def _started_bar() -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn(),
        console=Console(stderr=True), transient=True,
    )  # fmt: skip
    bar.start()
    return bar
