"""What every page of the desk has, in a real browser: theme, keys, no complaint of the policy, no axe finding."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from served import open_page

pytestmark = pytest.mark.browser
PAGES = ("/", "/help", "/nowhere")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_axe_finds_nothing_and_pages_do_not_scroll_sideways(
    chromium: Any, empty_desk: str, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), as packaged by axe-playwright-python."""
    page = open_page(chromium, empty_desk, width=width, color_scheme=scheme)
    for address in PAGES:
        page.goto(address)

        found = Axe().run(page).response["violations"]
        assert [(address, v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
    page.context.close()


def test_targets_are_large_enough(chromium: Any, empty_desk: str) -> None:
    """WCAG 2.2, 2.5.8: whatever can be pressed measures 24 px or more (links within a sentence are exempt)."""
    page = open_page(chromium, empty_desk, width=390)
    for address in PAGES:
        page.goto(address)
        small = page.evaluate(
            """[...document.querySelectorAll('a, button, input, select, textarea, summary')]
               .filter(e => e.checkVisibility() && !e.closest('p, li, .skip'))
               .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
               .filter(([_, r]) => r.width < 24 || r.height < 24).map(([h]) => h)"""
        )
        assert small == [], address
    page.context.close()


def test_the_theme_is_switched_and_kept(chromium: Any, empty_desk: str) -> None:
    page = open_page(chromium, empty_desk, color_scheme="light")
    page.goto("/help")
    ground = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(ground)

    page.locator("#theme").click()
    dark = page.evaluate(ground)
    page.reload()

    assert light == "rgb(250, 248, 242)"
    assert dark != light
    assert page.evaluate(ground) == dark
    page.context.close()


def test_the_keys_are_listed_by_a_key(chromium: Any, empty_desk: str) -> None:
    """`?` opens the sheet, Escape shuts it; a letter typed into a field is text."""
    page = open_page(chromium, empty_desk)
    page.goto("/help")
    page.keyboard.press("?")
    assert page.locator("#keys").is_visible()
    assert "inbox" in page.locator("#keys").inner_text()

    page.keyboard.press("Escape")
    page.keyboard.press("Alt+i")
    page.wait_for_url("**/")

    assert not page.locator("#keys").is_visible()
    assert page.complaints == []
    page.context.close()


def test_a_stranger_sees_how_to_get_in(chromium: Any, empty_desk: str) -> None:
    """Nothing of the desk shows, not even the names of its pages."""
    context = chromium.new_context(base_url=empty_desk)
    page = context.new_page()
    page.goto("/")

    assert "midfoot serve" in page.locator("main").inner_text()
    assert page.locator("nav").count() == 0
    context.close()
