"""An edition in Chromium: put in order by keys, blocked by name, exported, shown by keys."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from going_out import know_heads, ready
from served import open_page, served, until

from midfoot.desk import consent, edition, edition_export
from midfoot.store import Workspace

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Workspace, str, str, str]]:
    """A set whose lifter allowed an edition and no open set; one edition exported, the other in preparation."""
    folder = tmp_path_factory.mktemp("editions")
    patch = pytest.MonkeyPatch()
    know_heads(patch)
    with Workspace.create(folder / "workspace") as workspace:
        set_id = ready(workspace, folder)
        with workspace.write() as connection:
            consent.note(connection, set_id, "edition")
        done = edition.create(workspace, "Second week")
        edition.add(workspace, done, "review", set_id)
        edition_export.export(workspace, done, tell=lambda *_: None)
        week = edition.create(workspace, "Third week")
        edition.add(workspace, week, "review", set_id)
        edition.add(workspace, week, "open", set_id)
        with served(workspace) as address:
            yield workspace, address, done, week
    patch.undo()


def test_ordered_by_keys_and_blocked_by_name(chromium: Any, desk: tuple[Workspace, str, str, str]) -> None:
    workspace, address, _, week = desk
    page = open_page(chromium, address)
    page.goto(f"/editions/{week}")
    page.locator(".segment").first.focus()
    page.keyboard.press("Alt+ArrowDown")
    until(page, "document.querySelector('.segment h3').textContent.includes('Open set')")
    assert [s.kind for s in edition.edition_of(workspace, week).segments] == ["open", "review"]
    page.locator("#export").click()
    until(page, "document.getElementById('export-says').textContent.includes('Runa Holt')")
    assert "not agreed to others saying what they see" in page.locator("#export-says").inner_text()
    page.locator("[data-target]").first.fill("30")
    page.locator("[data-target]").first.blur()
    until(page, "document.querySelector('[data-target]').value === '30'")
    page.context.close()


def test_the_host_page_shows_nothing_private_and_goes_by_keys(
    chromium: Any, desk: tuple[Workspace, str, str, str]
) -> None:
    _, address, done, _ = desk
    page = open_page(chromium, address)
    page.goto(f"/editions/{done}/host")
    until(page, "document.getElementById('video').readyState >= 2")
    assert "Runa" not in page.content()
    page.keyboard.press(" ")
    until(
        page, "!document.getElementById('video').paused && document.getElementById('words').textContent.length > 5"
    )
    page.keyboard.press("r")
    assert page.locator("#loop").get_attribute("aria-pressed") == "true"
    page.keyboard.press(" ")
    page.keyboard.press("d")
    box = page.locator("#ink").bounding_box()
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 140, steps=4)
    page.mouse.up()
    drawn = """() => { const c = document.getElementById('ink');
        return c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0); }"""
    assert page.evaluate(drawn)
    page.keyboard.press("c")
    assert not page.evaluate(drawn)
    assert page.complaints == []
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])
def test_axe_and_width(chromium: Any, desk: tuple[Workspace, str, str, str], width: int, scheme: str) -> None:
    _, address, done, week = desk
    for path in ("/editions", f"/editions/{week}", f"/editions/{done}", f"/editions/{done}/host"):
        page = open_page(chromium, address, width=width, color_scheme=scheme)
        page.goto(path)
        assert Axe().run(page).response["violations"] == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        page.context.close()
