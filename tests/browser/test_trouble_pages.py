"""First aid and leaving, on a phone in the shed."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import expect


def test_first_aid_takes_three_taps_from_today(page_at: Any) -> None:
    page = page_at("phone", has_touch=True, java_script_enabled=False)
    page.goto("/farms/mill/today/")
    page.locator("#bed-1").get_by_role("link", name="First aid").last.tap()
    page.get_by_role("link", name="Smells rotten").tap()
    first = page.locator(".suspect h3").first.inner_text()
    asked = page.locator(".ask h2").inner_text()
    assert asked.endswith("?")
    page.locator(".ask").get_by_role("link", name="No", exact=True).tap()
    page.locator(".told-so-far").get_by_text(asked).wait_for()
    page.locator(".suspect .act").first.wait_for()
    page.locator(".care").wait_for()
    page.locator(".told-so-far").get_by_role("link", name="Take it back").last.tap()
    page.locator(".told-so-far").get_by_text(asked).wait_for(state="detached")
    expect(page.locator(".suspect h3").first).to_have_text(first)
