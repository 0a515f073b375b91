"""``--help`` of every command in the language of the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from bedlore.cli.help_words import CLICK, told
from bedlore.cli.main import cli
from bedlore.say import speaking


def commands(group: click.Group, *before: str) -> Iterator[tuple[str, ...]]:
    yield before
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands(command, *before, name)
        else:
            yield (*before, name)


def run(language: str, *words: str) -> str:
    done = CliRunner().invoke(cli, [*words], env={"LANGUAGE": language})
    return " ".join(done.output.split())


@pytest.mark.parametrize("names", [*commands(cli)], ids=" ".join)
def test_help_speaks_spanish_where_the_terminal_does_and_english_elsewhere(
    names: tuple[str, ...],
) -> None:
    command: click.Command = cli
    for name in names:
        assert isinstance(command, click.Group)
        command = command.commands[name]
    english, spanish = run("en", *names, "--help"), run("es_MX.UTF-8", *names, "--help")
    assert english.startswith("Usage: ")
    assert spanish.startswith("Uso: ")
    assert "Opciones:" in spanish
    for param in command.params:
        if isinstance(param, click.Option):
            assert param.opts[0] in spanish
            if param.help:
                assert " ".join(param.help.split()) in english
                assert " ".join(param.help.split()) not in spanish
    first = " ".join((command.help or "").split("\n\n")[0].split())
    assert first in english
    assert first not in spanish


def test_a_slip_is_told_in_the_terminals_language() -> None:
    assert "Error: Falta el argumento 'DIR'." in run("es", "herd")
    assert "Error: Missing argument 'DIR'." in run("en", "herd")


def test_the_commands_themselves_stay_as_they_were() -> None:
    with speaking("es"):
        copied = told(cli)
    assert isinstance(copied, click.Group)
    assert copied.commands["today"].help != cli.commands["today"].help
    assert copied.commands["today"].callback is cli.commands["today"].callback
    assert (cli.help or "").startswith("Keeps composting-worm beds")


def test_clicks_words_are_those_that_click_says() -> None:
    """A new version of click may say something else, which would then stay English."""
    folder = Path(click.__file__).parent
    source = "".join(path.read_text("utf-8") for path in folder.glob("*.py"))
    for words in CLICK:
        for text in (words,) if isinstance(words, str) else words:
            assert f'"{text}"' in source, text
