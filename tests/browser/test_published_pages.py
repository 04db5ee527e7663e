"""Published pages from a plain file server: nothing is asked of others, nothing refused, all of it readable."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from going_out import ADULT, know_heads, ready

from midfoot import covered
from midfoot.desk import consent, publishing
from midfoot.store import Workspace

pytestmark = pytest.mark.browser
SIZES = ((390, 844), (1440, 900))


class Quiet(SimpleHTTPRequestHandler):
    """The plainest file server there is; a browser that hangs up in the middle of a video is no error."""

    def log_message(self, *_: object) -> None: ...

    def copyfile(self, source: Any, outputfile: Any) -> None:
        with suppress(ConnectionError):
            super().copyfile(source, outputfile)


@pytest.fixture(scope="module")
def pages(empty_workspace: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """A lifter's page, a public one and one that was taken back, served as files; gives their addresses."""
    import shutil

    folder = tmp_path_factory.mktemp("out")
    shutil.copytree(empty_workspace, folder / "workspace")
    with pytest.MonkeyPatch.context() as patch, Workspace.open(folder / "workspace") as workspace:
        know_heads(patch)
        set_id = ready(workspace, folder, ADULT)
        with workspace.write() as connection:
            consent.note(connection, set_id, "public_page")
        paths = {}
        for kind, name in (("lifter", "gone"), ("lifter", "lifter"), ("public", "public")):
            with pytest.MonkeyPatch.context() as nothing_moves:
                if name == "gone":
                    nothing_moves.setattr(covered, "write_video", lambda *a, **_: a[3].write_bytes(b"a video"))
                built = publishing.build(workspace, set_id, kind, tell=lambda *_: None)
            with workspace.write() as connection:
                publishing.place(connection, workspace, built)
            if name == "gone":
                publishing.take_page_back(workspace, set_id, kind)
            paths[name] = f"/{'l' if kind == 'lifter' else 'p'}/{built.token}/"
        server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(workspace.published)))
        Thread(target=server.serve_forever, daemon=True).start()
        yield {name: f"http://127.0.0.1:{server.server_port}{path}" for name, path in paths.items()}
        server.shutdown()
        server.server_close()


def opened(chromium: Any, address: str, size: tuple[int, int]) -> tuple[Any, list[str], list[str]]:
    """Open a page; gives it, every address that was asked for, and what the browser complained of."""
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    page.wait_for_timeout(300)  # what a page asks for late: the icon, captions
    return page, asked, said


@pytest.mark.parametrize("size", SIZES, ids=("phone", "desk"))
@pytest.mark.parametrize("name", ["lifter", "public", "gone"])
def test_asks_nobody_and_can_be_read(
    chromium: Any, pages: dict[str, str], name: str, size: tuple[int, int]
) -> None:
    page, asked, said = opened(chromium, pages[name], size)
    try:
        own = pages[name].split("/", 3)[2]
        assert all(url.split("/", 3)[2] == own for url in asked)
        assert said == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") != "rgba(0, 0, 0, 0)"
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, found.generate_report()
    finally:
        page.context.close()


@pytest.mark.parametrize("name", ["lifter", "public"])
def test_the_video_plays_without_sound_and_its_captions_come(
    chromium: Any, pages: dict[str, str], name: str
) -> None:
    page, _, _ = opened(chromium, pages[name], SIZES[0])
    try:
        video = page.locator("video")
        page.wait_for_function("document.querySelector('video').readyState >= 1")
        length_s = video.evaluate("v => v.duration")
        assert 20 < length_s < 120
        assert not video.evaluate(
            "v => v.webkitAudioDecodedByteCount > 0 || (v.audioTracks && v.audioTracks.length > 0)"
        )
        page.wait_for_function("document.querySelector('track').track.cues?.length > 3")
        ends = video.evaluate(
            "v => { const c = v.querySelector('track').track.cues; return c[c.length - 1].endTime; }"
        )
        assert abs(ends - length_s) < 0.7
        assert video.evaluate("v => v.querySelector('track').track.mode") == "showing"
    finally:
        page.context.close()


def test_a_link_shows_a_title_and_a_picture(chromium: Any, pages: dict[str, str]) -> None:
    page, _, _ = opened(chromium, pages["lifter"], SIZES[0])
    try:
        told = {
            name: page.locator(f'meta[property="og:{name}"]').get_attribute("content")
            for name in ("title", "image", "description")
        }
        assert told["title"] == page.title() == "Squat, 3 reps, 100 kg"
        assert page.request.get(pages["lifter"] + str(told["image"])).headers["content-type"] == "image/jpeg"
        assert page.locator('meta[name="robots"]').get_attribute("content").startswith("noindex")
        size = page.evaluate("""async (src) => { const i = new Image(); i.src = src; await i.decode();
            return [i.naturalWidth, i.naturalHeight]; }""", told["image"])  # fmt: skip
        assert size == [1200, 630]
    finally:
        page.context.close()
