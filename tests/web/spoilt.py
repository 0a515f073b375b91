"""Every form of the pages, found by walking them, and values that no form should get."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from urllib.parse import urljoin

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import Resolver404, resolve

JUNK = (
    "", " ", "\t\n", "0", "-1", "1e400", "nan", "inf", "-0.0", "1,5", "1.5.2", "١٢", "½", "9" * 400,
    "two lb", "12 lb 3 oz", "5 degF", "-400 degC", "24 in", "1e-300 m", "2026-02-30", "0000-00-00",
    "9999-12-31", "2026-01-01T25:61", "yesterday", "2026-03-29 02:30", "\x00", "a\x00b", "\u202e",
    "‮x", "é" * 300, "x" * 20_000, "<script>alert(1)</script>", "' OR 1=1 --", "{{ 7*7 }}",
    "../../etc/passwd", "%00", "=cmd|' /C calc'!A0", "😀" * 50, "\ud7ff", "null", "None", "[]",
    '{"a": 1}', "on", "true", "sluice", "race", "food_mixed_kitchen", "no-such", "mill", "18",
)  # fmt: skip
FILES = (
    b"", b"\x00" * 100, b"\xff\xfe" + "time,temp".encode("utf-16-le"), b"a,b\n1", b"PK\x03\x04junk",
    b"[farm\nname = ", b"\x89PNG\r\n\x1a\nnot a picture", b"time;temp_c\n2026-13-01;x\n" * 40,
    b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", b"{" * 5000, b'{"kind": 1}\n',
    b"\xff\xd8\xff\xe0 not a picture either",
)  # fmt: skip


@dataclass(frozen=True)
class Form:
    """A form of a page: where it goes, the values it stands at, its places for files."""

    page: str
    action: str
    values: tuple[tuple[str, str], ...]
    files: tuple[str, ...]
    typed: tuple[str, ...]  # names of what a person types


class _Forms(HTMLParser):
    """Collects the POST forms of a page as a browser would send them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.found = page, list[Form]()
        self._action: str | None = None
        self._select = self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {key: value or "" for key, value in attrs}
        if tag == "form" and given.get("method", "get").lower() == "post":
            self._action = urljoin(self.page, given.get("action", "") or self.page)
            self._values: list[tuple[str, str]] = []
            self._files: list[str] = []
            self._typed: list[str] = []
        if self._action is None or "disabled" in given:
            return
        name = given.get("name", "")
        kind = given.get("type", "submit" if tag == "button" else "text").lower()
        if tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            if "selected" in given or self._select not in dict(self._values):
                self._values = [v for v in self._values if v[0] != self._select]
                self._values.append((self._select, given.get("value", "")))
        elif tag == "textarea":
            self._values.append((name, ""))
            self._typed.append(name)
        elif tag in ("input", "button") and name:
            self._take(name, kind, given)

    def _take(self, name: str, kind: str, given: dict[str, str]) -> None:
        if kind == "file":
            self._files.append(name)
        elif kind not in ("radio", "checkbox", "submit", "button") or "checked" in given:
            self._values.append((name, given.get("value", "")))
            if kind in ("text", "search", "email"):  # others hold no junk in a browser
                self._typed.append(name)

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        if tag == "form" and self._action is not None:
            self.found.append(Form(self.page, self._action, tuple(self._values),
                                   tuple(self._files), tuple(self._typed)))  # fmt: skip
            self._action = None


def forms_of(page: str, html: str) -> list[Form]:
    """The POST forms of a page."""
    reader = _Forms(page)
    reader.feed(html)
    return reader.found


def walk(client: Client, start: str) -> Iterator[Form]:
    """The forms of all pages that links lead to from ``start``, one entry for all entries."""
    todo, seen = [start], {start}
    actions: set[tuple[str, tuple[str, ...]]] = set()
    while todo:
        page = todo.pop(0)
        answer = client.get(page)
        answer.close()
        if answer.status_code != 200 or answer.streaming or b"<html" not in answer.content:
            continue
        html = answer.content.decode()
        for form in forms_of(page, html):
            shape = (form.action.split("?")[0], tuple(sorted({name for name, _ in form.values})))
            if shape not in actions:
                actions.add(shape)
                yield form
        for link in re.findall(r'href="([^"#]+)', html):
            there = urljoin(page, link.replace("&amp;", "&"))
            sort = _sort_of(there)
            if sort and sort not in seen:
                seen.add(sort)
                todo.append(there)


def _sort_of(address: str) -> str:
    """The page's name and what it is of, without the number of an entry; "" when it is no page."""
    try:
        found = resolve(address.split("?")[0])
    except Resolver404:
        return ""
    kept = {key: value for key, value in found.kwargs.items() if key != "entry_id"}
    return f"{found.view_name} {kept}"


def spoil(form: Form, rng: random.Random) -> dict[str, object]:
    """The form's values with some of them spoilt, left out, doubled or made up."""
    sent: dict[str, object] = dict(form.values)
    names = [name for name in sent if name not in ("csrfmiddlewaretoken",)]
    for name in rng.sample(names, rng.randint(min(1, len(names)), len(names))) if names else ():
        how = rng.random()
        if how < 0.1:
            del sent[name]
        elif how < 0.2:
            sent[name] = [rng.choice(JUNK), rng.choice(JUNK)]
        else:
            sent[name] = rng.choice(JUNK)
    if rng.random() < 0.1:
        sent[rng.choice(("act", "kind", "bed", "step", "version", "extra"))] = rng.choice(JUNK)
    for name in form.files:
        if rng.random() < 0.9:
            sent[name] = SimpleUploadedFile(rng.choice(("a.csv", "b.zip", "../c.toml", "d.svg")),
                                            rng.choice(FILES))  # fmt: skip
    return sent
