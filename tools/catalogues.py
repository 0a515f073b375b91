"""Message catalogues: ``python -m tools.catalogues`` extracts, merges and compiles them.

Messages come out of Python and Jinja by Babel, out of Django's templates by Django's own parser,
out of the help of the commands, and out of the tables of materials, whose names a keeper reads.
New messages are added to each language's ``.po`` without a translation and without guessing one;
gone ones are dropped.
``python -m tools.catalogues --check`` only says what is missing.
"""

from __future__ import annotations

import ast
import csv
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from bedlore.cli.help_words import CLICK, texts
from bedlore.cli.main import cli

SRC = Path(__file__).parents[1] / "src" / "bedlore"
LOCALE = SRC / "locale"
PO = "LC_MESSAGES/django.po"
KEYWORDS: dict[str, Any] = {
    "_": None, "gettext": None, "gettext_lazy": None, "gettext_noop": None,
    "say": None, "message": None,
    "ngettext": (1, 2), "ngettext_lazy": (1, 2), "say_many": (1, 2), "pgettext": ((1, "c"), 2),
}
METHODS = [
    ("lab/**", "ignore"), ("**.py", "python"),
    ("web/templates/**.html", "tools.catalogues:django_messages"),
    ("sheets/templates/**.html", "jinja2"),
    ("sheets/templates/**.typ", "tools.catalogues:typst_messages"),
    ("facts/feedstocks.csv", "tools.catalogues:material_messages"),
    ("facts/building.csv", "tools.catalogues:material_messages"),
]
OPTIONS = {"sheets/templates/**.html": {"trim_blocks": "true", "lstrip_blocks": "true"}}
_TEXT = r"""u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*\""""
_CALL = re.compile(rf"\b(gettext|ngettext|pgettext|_)\(((?:{_TEXT}|,\s*)+)")
Found = tuple[int, str, Any, list[str]]


def django_messages(file: IO[bytes], *_: Any, **__: Any) -> Iterator[Found]:
    """Messages of a Django template, found by Django's own parser."""
    from django.conf import settings

    if not settings.configured:
        settings.configure()
    from django.utils.translation.template import templatize

    code = templatize(file.read().decode(), origin=getattr(file, "name", ""))
    for number, line in enumerate(code.splitlines(), 1):
        for call in _CALL.finditer(line):
            texts = ast.literal_eval(f"({call[2].rstrip(', ')},)")
            name = "gettext" if call[1] == "_" else call[1]
            yield number, name, texts if len(texts) > 1 else texts[0], []


def typst_messages(file: IO[bytes], *_: Any, **__: Any) -> Iterator[Found]:
    """What a template of a printed sheet says by itself: ``say("...")``."""
    for number, line in enumerate(file.read().decode().splitlines(), 1):
        for text in re.findall(r'say\("([^"]+)"\)', line):
            yield number, "gettext", text, []


def material_messages(file: IO[bytes], *_: Any, **__: Any) -> Iterator[Found]:
    """Names of materials, and the cautions that go with them."""
    lines = [line for line in file.read().decode().splitlines() if not line.startswith("#")]
    for number, row in enumerate(csv.DictReader(io.StringIO("\n".join(lines))), 2):
        for column in ("name", "caution"):
            if row.get(column):
                yield number, "gettext", row[column], []


def extracted() -> Catalog:
    """All messages of the package."""
    found = Catalog(project="bedlore", charset="utf-8")
    sys.path.insert(0, str(SRC.parents[1]))
    for path, line, message, comments, context in extract_from_dir(
        SRC, METHODS, OPTIONS, KEYWORDS, ("Translators:",), strip_comment_tags=True
    ):
        found.add(message, None, [(f"bedlore/{path}", line)], auto_comments=comments,
                  context=context)  # fmt: skip
    for words in (*texts(cli), *CLICK):
        found.add(words, None, [("bedlore/cli", 0)])
    return found


def languages() -> list[str]:
    """Languages that there is a catalogue of."""
    return sorted(path.parents[1].name for path in LOCALE.glob(f"*/{PO}"))


def read(language: str) -> Catalog:
    """The catalogue of a language as it is stored."""
    with (LOCALE / language / PO).open("rb") as file:
        return read_po(file, locale=language)


def merged(language: str, template: Catalog) -> Catalog:
    """The stored translations of what is said now."""
    catalogue = read(language)
    catalogue.update(template, no_fuzzy_matching=True)
    catalogue.obsolete.clear()
    return catalogue


def missing(catalogue: Catalog) -> list[str]:
    """Messages without a translation, or with one that nobody has looked at."""
    return [
        str(message.id) for message in catalogue
        if message.id and (message.fuzzy or not all(
            message.string if isinstance(message.string, tuple) else [message.string]
        ))
    ]  # fmt: skip


def main() -> int:
    """Write every catalogue again; 1 when something is missing."""
    template, bad = extracted(), 0
    for language in languages():
        catalogue = merged(language, template)
        path = LOCALE / language / PO
        if "--check" not in sys.argv:
            with path.open("wb") as file:
                write_po(file, catalogue, width=100, sort_output=True, no_location=True,
                         omit_header=False)  # fmt: skip
            with path.with_suffix(".mo").open("wb") as file:
                write_mo(file, catalogue)
        lacking = missing(catalogue)
        for message in lacking:
            print(f"{language}: {message}")
        bad += len(lacking)
    print(f"{len(template)} messages, {bad} without a translation")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
