"""Spanish pages on a phone: longer words must fit, and nothing else may change for the worse."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.browser.test_pages import _CLOSE, _SMALL, _TALL, _TAPPED, PAGES

# Words that stick out of what they stand in: buttons, chips and the boards below.
_OUT = """() => [...document.querySelectorAll(".boards a, button, .tap, .chips span")]
  .filter((one) => one.getBoundingClientRect().width > 0
    && (one.scrollWidth > one.clientWidth + 1
        || one.getBoundingClientRect().right > document.documentElement.clientWidth + 1))
  .map((one) => one.textContent.trim().slice(0, 40))"""


LOOKED_AT = ("today", "bed", "write", "feed", "log", "farm", "scores", "people", "account",
             "reading", "what-if", "store")  # fmt: skip


def test_spanish_words_fit_on_a_phone(page_at: Any, pictures: Path) -> None:
    page = page_at("phone", locale="es-ES")
    wrong = []
    for name in LOOKED_AT:
        page.set_viewport_size({"width": 320, "height": 844})
        page.goto(f"/farms/mill/{PAGES[name]}")
        assert page.evaluate("document.documentElement.lang") == "es", name
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wrong.append((name, "wider than 320 px", ""))
        page.set_viewport_size({"width": 390, "height": 844})
        wrong += [(name, "sticks out", words) for words in page.evaluate(_OUT)]
        page.screenshot(path=pictures / f"{name}-es.png", full_page=True)
        page.set_viewport_size({"width": 390, "height": page.evaluate(_TALL) + 200})
        wrong += [(name, "too small", one) for one in page.evaluate(_SMALL, _TAPPED)]
        wrong += [(name, "too close", count) for count in [page.evaluate(_CLOSE)] if count]
    assert wrong == []
    assert page.said == []
