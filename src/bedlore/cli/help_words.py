"""``--help`` in the language of the terminal: the commands' own words, and click's."""

from __future__ import annotations

import copy
import gettext
import inspect
from collections.abc import Iterator

import click

from bedlore.say import say
from bedlore.say.language import DOMAIN, LOCALE

# What click says around our words, where a keeper meets it; pairs follow a number.
CLICK: tuple[str | tuple[str, str], ...] = (
    "Usage:", "Options", "Commands", "Show this message and exit.", "default: {default}",
    "required", "Error: {message}", "Try '{command} {option}' for help.", "Missing command.",
    "Missing argument", "Missing option", "No such command {name!r}.", "No such option {name!r}.",
    "Invalid value: {message}", "Invalid value for {param_hint}: {message}",
    "Option {name!r} does not take a value.", "{value!r} is not a valid {number_type}.",
    "{value} is not in the range {range}.", "{name} {filename!r} does not exist.",
    "{name} {filename!r} is a file.", "{name} {filename!r} is a directory.",
    ("Got unexpected extra argument ({args})", "Got unexpected extra arguments ({args})"),
    ("Option {name!r} requires an argument.", "Option {name!r} requires {nargs} arguments."),
    ("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)"),
    ("{value!r} is not {choice}.", "{value!r} is not one of {choices}."),
    ("{value!r} does not match the format {format}.",
     "{value!r} does not match the formats {formats}."),
)  # fmt: skip
_AS_TYPED = "\b\n"  # click's mark of a paragraph whose lines stay as they are


def click_listens() -> None:
    """From now on click takes its own words from our catalogue, in the terminal's language."""
    gettext.bindtextdomain(DOMAIN, str(LOCALE))
    gettext.textdomain(DOMAIN)


def told(command: click.Command) -> click.Command:
    """``command``, and all below it, with its help said to whoever listens."""
    found = copy.copy(command)
    if command.help:
        found.help = "\n\n".join(
            _AS_TYPED + say(words.removeprefix(_AS_TYPED)) if words.startswith(_AS_TYPED)
            else say(words) for words in _paragraphs(command.help)
        )  # fmt: skip
    found.params = [_told_option(param) for param in command.params]
    if isinstance(command, click.Group) and isinstance(found, click.Group):
        found.commands = {name: told(each) for name, each in command.commands.items()}
    return found


def _told_option(param: click.Parameter) -> click.Parameter:
    if not isinstance(param, click.Option) or not param.help:
        return param
    found = copy.copy(param)
    found.help = say(param.help)
    return found


def texts(command: click.Command) -> Iterator[str]:
    """Every message of the help of ``command`` and of all below it."""
    for words in _paragraphs(command.help or ""):
        yield words.removeprefix(_AS_TYPED)
    for param in command.params:
        if isinstance(param, click.Option) and param.help:
            yield param.help
    if isinstance(command, click.Group):
        for each in command.commands.values():
            yield from texts(each)


def _paragraphs(text: str) -> list[str]:
    """A help text by paragraphs, each on one line where click would fill it anyway."""
    parts = filter(None, inspect.cleandoc(text).split("\n\n"))
    return [part if part.startswith(_AS_TYPED) else " ".join(part.split()) for part in parts]
