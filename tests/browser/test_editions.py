"""An edition in Chromium: ordered by keys and mouse, blocked by name, exported, shown; nobody else is asked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from going_out import know_heads, ready
from reach_sets import add_reach
from served import open_page, served, until

from midfoot.desk import consent, edition, edition_export, edition_order, open_set, publishing
from midfoot.desk import open_page as open_set_page
from midfoot.jobs import KINDS
from midfoot.jobs.worker import work_on
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
        done = edition_order.create(workspace, "Second week")
        edition_order.add(workspace, done, "review", set_id)
        edition_export.export(workspace, done, tell=lambda *_: None)
        week = edition_order.create(workspace, "Third week")
        edition_order.add(workspace, week, "review", set_id)
        edition_order.add(workspace, week, "open", set_id)
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
    page.locator(".segment").last.locator("details > summary", has_text="Script").click()
    page.locator("[data-words]").last.fill("words that nobody kept yet")
    page.locator("[data-target]").first.fill("30")
    page.locator("[data-target]").first.blur()
    until(page, "document.querySelector('[data-target]').defaultValue === '30'")
    assert page.locator("[data-words]").last.input_value() == "words that nobody kept yet"
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


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Workspace, str, dict[str, str]]]:
    """The demo's link, edition and open sets on made sets; gives workspace, address and sets by lifter."""
    know_heads(monkeypatch)
    with Workspace.create(tmp_path / "workspace") as workspace:
        made = add_reach(workspace, tmp_path)
        with served(workspace) as address:
            yield workspace, address, made


def order(page: Any) -> list[str]:
    return [words.partition(":")[0] for words in page.locator(".segment h3").all_inner_texts()]


def worked(workspace: Workspace, *kinds: str) -> None:
    work_on(workspace, "test", {k: KINDS[k] for k in kinds}, Event(), until_idle=True)


def test_the_demos_edition_is_blocked_by_name_mended_exported_and_played(
    chromium: Any, demo: tuple[Workspace, str, dict[str, str]]
) -> None:
    """By mouse: what stands in the way is named and taken out; dragged into order; exported; shown."""
    workspace, address, _ = demo
    page = open_page(chromium, address, height=1400)
    page.goto("/editions")
    page.get_by_role("link", name="Second edition").click()
    last, review, opened = "Last edition's open set", "Review", "Open set"
    assert order(page) == [last, review, review, opened]
    page.locator("#export").click()
    until(page, "document.getElementById('export-says').textContent.includes('Teo Aldana')")
    said = page.locator("#export-says").inner_text()
    assert "the lifter has not agreed to being part of an edition" in said
    assert "Mattis" not in said, "who agreed to all stands in nobody's way"
    teo = page.locator(".segment", has_text="Teo Aldana")
    assert "not agreed to being part of an edition" in teo.locator(".caution").all_inner_texts()[0]
    teo.get_by_role("button", name="Take out").click()
    until(page, "document.querySelectorAll('.segment').length === 3")
    page.locator(".segment").nth(2).drag_to(page.locator(".segment").nth(0), target_position={"x": 200, "y": 5})
    until(page, "document.querySelector('.segment h3').textContent.startsWith('Open set')")
    assert order(page) == [opened, last, review]
    page.locator(".segment").nth(0).drag_to(page.locator(".segment").nth(2), target_position={"x": 200, "y": 5})
    until(page, "document.querySelectorAll('.segment h3')[1].textContent.startsWith('Open set')")
    page.locator("#export").click()
    until(page, "/being exported|Exporting/.test(document.getElementById('export-says').textContent)")
    worked(workspace, "edition")
    page.get_by_role("link", name="Host page").click(timeout=15_000)

    title = page.locator("#title")
    until(page, "document.getElementById('video').readyState >= 2")
    assert title.inner_text().startswith(f"1 of 3 · {last}")
    assert page.locator("#back").is_disabled()
    page.get_by_role("button", name="Next").click()
    assert title.inner_text().startswith("2 of 3 · What do you see?")
    page.keyboard.press("ArrowRight")
    assert title.inner_text().startswith(f"3 of 3 · {review}")
    assert page.locator("#next").is_disabled()
    until(page, "document.getElementById('video').readyState >= 2")
    page.keyboard.press(" ")
    until(page, "document.getElementById('words').textContent.length > 5")
    page.keyboard.press("r")
    again = """new Promise((done) => { const v = document.getElementById('video'); let last = v.currentTime;
        v.addEventListener('timeupdate',
          () => { if (v.currentTime < last - 0.05) done(true); last = v.currentTime; });
        v.playbackRate = 8; setTimeout(() => done(false), 9000); })"""
    assert page.evaluate(again), "the part is shown again"
    page.keyboard.press("f")
    until(page, "document.fullscreenElement !== null")
    page.keyboard.press("f")
    until(page, "document.fullscreenElement === null")
    page.get_by_role("button", name="Back").click()
    assert title.inner_text().startswith("2 of 3")
    for private in ("Mattis", "Runa", "Teo"):
        assert private not in page.content()
    assert [c for c in page.complaints if "409" not in c] == [], "the refused export is all that was refused"
    page.context.close()


STRICT = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""The policy of a careful host, over the one that each page brings along."""


class Strict(SimpleHTTPRequestHandler):
    """Python's own file server with that policy; a browser that hangs up in the middle of a video is no error."""

    def end_headers(self) -> None:
        self.send_header("content-security-policy", STRICT)
        super().end_headers()

    def log_message(self, *_: object) -> None: ...

    def copyfile(self, source: Any, outputfile: Any) -> None:
        with suppress(ConnectionError):
            super().copyfile(source, outputfile)


def test_every_kind_of_export_opens_from_a_plain_server_and_asks_nobody_else(
    chromium: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Edition, open set, lifter's page, public page: every request counted, every policy's complaint an error."""
    know_heads(monkeypatch)
    with Workspace.create(tmp_path / "workspace") as workspace:
        set_id = ready(workspace, tmp_path)
        with workspace.write() as connection:
            for use in ("edition", "open_set", "public_page"):
                consent.note(connection, set_id, use)
        for kind in ("lifter", "public"):
            built = publishing.build(workspace, set_id, kind, tell=lambda *_: None)
            with workspace.write() as connection:
                publishing.place(connection, workspace, built)
        open_set_page.build(workspace, open_set.prepare(workspace, set_id), tell=lambda *_: None)
        week = edition_order.create(workspace, "Third week")
        edition_order.add(workspace, week, "review", set_id)
        edition_export.export(workspace, week, tell=lambda *_: None)
        folders = [p for kind in "epol" for p in (workspace.published / kind).iterdir() if p.is_dir()]
        files = ThreadingHTTPServer(("127.0.0.1", 0), partial(Strict, directory=str(workspace.published)))
        thread = Thread(target=files.serve_forever, daemon=True)
        thread.start()
        own, found = f"http://127.0.0.1:{files.server_port}/", {}
        for folder in folders:
            context = chromium.new_context(viewport={"width": 1280, "height": 900})
            page = context.new_page()
            asked: list[str] = []
            said: list[str] = []
            page.on("request", lambda request, asked=asked: asked.append(request.url))
            page.on("console", lambda line, said=said: said.append(f"{line.type}: {line.text}"))
            page.on("pageerror", lambda error, said=said: said.append(str(error)))
            page.goto(f"{own}{folder.parent.name}/{folder.name}/")
            page.locator("video").first.evaluate(
                "v => new Promise((done) => { v.preload = 'auto'; "
                "v.readyState >= 1 ? done() : v.addEventListener('loadedmetadata', done); })"
            )
            page.wait_for_timeout(200)  # what a page asks for late: the icon, captions
            assert said == [], folder
            assert all(url.startswith(f"{own}{folder.parent.name}/{folder.name}/") for url in asked), asked
            found[folder.parent.name] = len(asked)
            context.close()
        files.shutdown()
        files.server_close()
        thread.join()
    assert set(found) == {"e", "p", "o", "l"}
    assert min(found.values()) >= 3, "a page, its style and its video at least"
