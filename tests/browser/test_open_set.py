"""An open set as visitor and coach meet it: answered from a plain file server, read, closed, recapped."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from going_out import know_heads, ready
from served import answered, served, until
from served import open_page as open_tab

from midfoot.desk import consent, open_page, open_set, posting
from midfoot.store import Workspace
from midfoot.store.rows import set_setting

pytestmark = pytest.mark.browser


class Quiet(SimpleHTTPRequestHandler):
    """A plain file server that does not talk."""

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Workspace, str, str, str]]:
    """Workspace, the desk's address, the open set's id, the address of its page on another server."""
    folder = tmp_path_factory.mktemp("open")
    patch = pytest.MonkeyPatch()
    know_heads(patch)
    with Workspace.create(folder / "workspace") as workspace:
        set_id = ready(workspace, folder)
        with workspace.write() as connection:
            consent.note(connection, set_id, "open_set")
        open_id = open_set.prepare(workspace, set_id)
        with served(workspace) as address:
            with workspace.write() as connection:
                set_setting(connection, posting.ADDRESS, address)
            place = open_page.build(workspace, open_id, tell=lambda *_: None)
            files = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(place)))
            thread = Thread(target=files.serve_forever, daemon=True)
            thread.start()
            yield workspace, address, open_id, f"http://127.0.0.1:{files.server_port}/"
            files.shutdown()
            files.server_close()
            thread.join()
    patch.undo()


def visitor(where: str, n: int, **seen: Any) -> int:
    """What the page sends for one more visitor; gives the answer's status."""
    return answered(where, n, seen)


def test_forty_visitors_answer_are_read_and_recapped(chromium: Any, desk: tuple[Workspace, str, str, str]) -> None:
    """One by hand from a plain server, 39 as the page sends them, 4 about bodies, 2 twice; read one by one."""
    workspace, address, open_id, page_address = desk
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(page_address)
    page.locator("#what").select_option("squat_bar_forward")
    page.locator("#rep").select_option("2")
    page.locator("#add").click()
    page.locator("#send").click()
    page.get_by_text("Thank you.").wait_for()
    assert Axe().run(page).response["violations"] == []
    assert all(url.startswith((page_address, f"{address}/open/", "blob:")) for url in asked), asked
    where = page.locator("body").get_attribute("data-answers")
    context.close()
    said = [visitor(where, n, what="squat_bar_forward", rep=2, at_s=5.0 + n / 100) for n in range(20)]
    said += [visitor(where, n, words="the bar drifts forward out of the hole") for n in range(20, 28)]
    said += [visitor(where, n, words="knees cave in on rep 3", rep=3) for n in range(28, 35)]
    assert said == [201] * 35
    assert [visitor(where, n, words="he is too fat for this") for n in range(35, 39)] == [422] * 4
    assert [visitor(where, n, what="squat_dive") for n in (0, 1)] == [201, 201], "heard, and nothing changed"
    assert len(open_set.held(workspace, open_id)["held"]) == 36

    page = open_tab(chromium, address)
    page.goto(f"/open-sets/{open_id}")
    assert Axe().run(page).response["violations"] == []
    assert page.get_by_label("Counts as").first.input_value() == "squat_bar_forward", "grouped, to be looked at"
    for left in range(36, 1, -1):
        assert page.locator(".answer").count() == left
        page.get_by_role("button", name="It counts").first.click()
        until(page, f"document.querySelectorAll('.answer').length === {left - 1}")
    page.get_by_role("button", name="Leave it out").click()
    page.get_by_text("35 answers counted, 1 left out").wait_for()
    page.wait_for_load_state()
    page.locator("#close").click()
    page.locator("#close").wait_for(state="detached")
    recap = page.locator(".recap").inner_text()
    assert "35 of you said what they see" in recap
    assert "29 of 35 saw this: the bar goes forward out of the bottom" in recap
    assert visitor(where, 99, what="squat_dive") == 422, "closed, it takes none"
    assert page.complaints == []
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1440, "light")])
def test_axe_and_width(chromium: Any, desk: tuple[Workspace, str, str, str], width: int, scheme: str) -> None:
    _, address, open_id, page_address = desk
    for path in ("/open-sets", f"/open-sets/{open_id}"):
        page = open_tab(chromium, address, width=width, color_scheme=scheme)
        page.goto(path)
        assert Axe().run(page).response["violations"] == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        page.context.close()
    context = chromium.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    page.goto(page_address)
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()
