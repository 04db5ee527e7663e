"""The inbox in a real browser: many files dropped with a message, rows that follow, everything by keyboard."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe
from clips import write_clip
from desk_rows import put_job, put_lifter, put_set
from playwright.sync_api import expect
from served import open_page, served

from midfoot.records.context import Context
from midfoot.store import Workspace
from midfoot.store.tables import clips, jobs, sets

pytestmark = pytest.mark.browser
DROP = """([files, where]) => {
  const data = new DataTransfer();
  for (const [name, body] of files) {
    data.items.add(new File([Uint8Array.from(atob(body), c => c.charCodeAt(0))], name, { type: "video/mp4" }));
  }
  for (const kind of ["dragenter", "dragover", "drop"]) {
    const event = new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true });
    document.querySelector(where).dispatchEvent(event);
  }
}"""


@pytest.fixture
def desk(workspace: Workspace) -> Iterator[str]:
    """The address of the desk over an empty workspace."""
    with served(workspace) as address:
        yield address


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("clip") / "set.mp4"
    write_clip(path, times_s=np.arange(6) / 30, size=(64, 48), pictures=[np.full((48, 64, 3), 90, np.uint8)] * 6)
    return path.read_bytes()


def test_twelve_files_and_a_message_are_dropped(
    chromium: Any, desk: str, workspace: Workspace, clip: bytes
) -> None:
    """Each comes in whole and once; the message is read for all of them; one is confirmed by keyboard alone."""
    page = open_page(chromium, desk)
    page.goto("/")
    page.fill("#message", "Squat 140 kg x 5, RPE 8. Do I tip forward? Pins are set, no pain. I am in the clip.")
    files = [(f"IMG_{k}.mp4", base64.b64encode(clip + bytes([k]) * 9).decode()) for k in range(12)]

    page.evaluate(DROP, [files, "main"])
    expect(page.locator("form[data-context]")).to_have_count(12, timeout=20_000)

    assert page.locator("#message").input_value() == ""
    with workspace.read() as connection:
        assert connection.execute(sa.select(sa.func.count(clips.c.sha256.distinct()))).scalar_one() == 12
        assert set(connection.execute(sa.select(sets.c.load_kg)).scalars()) == {140.0}
    page.keyboard.press("Escape")
    page.keyboard.press("c")
    assert page.evaluate("document.activeElement.name") == "lifter"
    page.keyboard.type("Runa Vik")
    page.keyboard.press("Control+Enter")
    expect(page.locator("form[data-context]")).to_have_count(11)
    assert page.complaints == []
    page.context.close()


def test_a_row_follows_its_work(chromium: Any, desk: str, workspace: Workspace) -> None:
    """Progress, then the result, come by themselves; what the coach is typing elsewhere is not drawn over."""
    with workspace.write() as connection:
        set_id, clip_id = put_set(connection, state="measuring")
        job_id = put_job(connection, clip_id, "running", progress=0.1, message="looking")
        typing, _ = put_set(connection, state="new", lift=None)
    page = open_page(chromium, desk)
    page.goto("/")
    page.locator(f"#lifter-{typing}").fill("Ada")

    with workspace.write() as connection:
        connection.execute(
            jobs.update().where(jobs.c.id == job_id).values(progress=0.7, message="following the bar")
        )
    page.wait_for_selector(f"#set-{set_id} >> text=following the bar")
    with workspace.write() as connection:
        connection.execute(jobs.update().where(jobs.c.id == job_id).values(state="done"))
        connection.execute(sets.update().where(sets.c.id == set_id).values(state="ready"))
        connection.execute(sets.update().where(sets.c.id == typing).values(picked="review"))
    page.wait_for_selector(f"#set-{set_id}[data-state=ready]")
    page.wait_for_selector(f"#set-{typing} [data-do=review][aria-pressed=true]")

    assert page.locator(f"#set-{set_id} progress").count() == 0
    assert page.locator(f"#lifter-{typing}").input_value() == "Ada"
    assert page.complaints == []
    page.context.close()


def test_everything_by_keyboard(chromium: Any, desk: str, workspace: Workspace) -> None:
    """Go, pick, ask for a re-film, archive and take that back, open: no mouse."""
    with workspace.write() as connection:
        runa = put_lifter(connection, "Runa")
        ids = [put_set(connection, lifter_id=runa, hours_ago=9 - k)[0] for k in range(3)]
    page = open_page(chromium, desk)
    page.goto("/")
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("p")
    page.wait_for_selector(f"#set-{ids[1]} [data-do=review][aria-pressed=true]")
    page.keyboard.press("f")
    page.wait_for_selector(f"#film-{ids[1]}")
    page.keyboard.press("Escape")
    page.keyboard.press("k")
    page.keyboard.press("x")
    page.wait_for_selector(f"#set-{ids[0]}", state="detached")
    page.get_by_role("button", name="Undo").click()
    page.wait_for_selector(f"#set-{ids[0]}")

    with workspace.read() as connection:
        rows = {r.id: r for r in connection.execute(sa.select(sets))}
    assert (rows[ids[1]].picked, rows[ids[1]].waiting) == ("review", "refilm")
    assert all(r.archived_at is None for r in rows.values())
    page.keyboard.press("?")
    assert "ask for a re-film" in page.locator("#keys").inner_text()
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_axe_finds_nothing_on_filled_pages(
    chromium: Any, desk: str, workspace: Workspace, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules, as packaged by axe-playwright-python; nothing scrolls sideways."""
    with workspace.write() as connection:
        runa = put_lifter(connection, "Runa", minor=True)
        put_set(connection, lifter_id=runa, context=Context(pain="knee", reps=5), waiting="refilm")
        _, clip_id = put_set(connection, state="measuring")
        put_job(connection, clip_id, "running", progress=0.3, message="following the bar")
        _, other = put_set(connection, state="failed")
        put_job(connection, other, "failed", error="It holds no video; send the phone's own file.")
        put_set(connection, state="new", lift=None, pasted_text="Squat 140 for 5, x left over words")
    page = open_page(chromium, desk, width=width, color_scheme=scheme)
    for address in ("/", "/?show=refilm", "/lifters", f"/lifters/{runa}", "/jobs", "/settings",
                    "/settings/files/vocabulary-squat"):  # fmt: skip
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")

        found = Axe().run(page).response["violations"]
        assert [(address, v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
    assert page.complaints == []
    page.context.close()


def test_a_file_that_is_no_video_says_so_in_its_line(chromium: Any, desk: str, tmp_path: Path) -> None:
    wrong = tmp_path / "notes.txt"
    wrong.write_text("Squat 140 for 5\n" * 40)
    page = open_page(chromium, desk)
    page.goto("/")

    page.set_input_files("#files", str(wrong))
    page.wait_for_selector("#sending .wrong")

    assert "notes.txt" in page.locator("#sending").inner_text()
    page.context.close()
