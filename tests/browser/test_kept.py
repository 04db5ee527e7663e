"""Parts of a page that are drawn again while the coach writes in them: no letter is lost, none is a shortcut."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from desk_rows import put_job, put_set
from playwright.sync_api import expect
from served import open_page, served

from midfoot.store import Workspace
from midfoot.store.tables import jobs, sets

pytestmark = pytest.mark.browser
NAME = "Alexe Xixe"
"""Holds what would be shortcuts of the inbox: x archives, e picks for an edition."""
ERASING = "abcdefabcdefabcd"


@pytest.fixture
def desk(workspace: Workspace) -> Iterator[str]:
    """The address of the desk over an empty workspace."""
    with served(workspace) as address:
        yield address


def pick(workspace: Workspace, set_id: str, picked: str) -> None:
    """Change something of a set behind the page's back."""
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == set_id).values(picked=picked))


def drawn(page: Any, set_id: str, picked: str) -> None:
    """Wait until the row shows what is picked."""
    page.wait_for_selector(f"#set-{set_id} [data-do={picked}][aria-pressed=true]")


def test_letters_go_into_the_field_while_the_row_is_drawn_again(
    chromium: Any, desk: str, workspace: Workspace
) -> None:
    """Work begins and ends and the set is picked beneath the name that is written; the caret stays."""
    with workspace.write() as connection:
        set_id, clip_id = put_set(connection, state="new")
        other, _ = put_set(connection)
    page = open_page(chromium, desk)
    page.goto("/")
    page.locator(f"#set-{set_id} details.row-context > summary").click()
    field = page.locator(f"#lifter-{set_id}")
    field.click()
    page.evaluate("window.same = document.activeElement")

    page.keyboard.type(NAME[:3])
    with workspace.write() as connection:
        job_id = put_job(connection, clip_id, "running", progress=0.2, message="following the bar")
    page.keyboard.type(NAME[3:6])
    page.wait_for_selector(f"#set-{set_id} progress")
    page.keyboard.type(NAME[6:])
    with workspace.write() as connection:
        connection.execute(jobs.update().where(jobs.c.id == job_id).values(state="done"))
        connection.execute(sets.update().where(sets.c.id == set_id).values(state="ready"))
    page.wait_for_selector(f"#set-{set_id}[data-state=ready]")
    page.keyboard.press("Home")
    page.keyboard.type("x")
    pick(workspace, set_id, "review")
    drawn(page, set_id, "review")
    page.keyboard.type("e")

    assert page.evaluate("document.activeElement === window.same")
    assert field.input_value() == f"xe{NAME}"
    with workspace.read() as connection:
        rows = {r.id: r for r in connection.execute(sa.select(sets))}
    assert all(r.archived_at is None for r in rows.values())
    assert (rows[set_id].picked, rows[other].picked) == ("review", "none")
    assert page.complaints == []
    page.context.close()


def test_what_is_open_stays_open(chromium: Any, desk: str, workspace: Workspace) -> None:
    """The form that was opened and not yet written in, what is folded in it, and what stands in it unheard."""
    with workspace.write() as connection:
        set_id, _ = put_set(connection, state="new")
        closed, _ = put_set(connection, state="new", lift=None)
    page = open_page(chromium, desk)
    page.goto("/")
    page.locator(f"#set-{set_id} details.row-context > summary").click()
    page.locator(f"#set-{set_id} details.row-context details > summary").click()
    page.locator(f"#set-{closed} details.row-context > summary").click()
    # as the browser leaves it where a field was written in before the page's script ran: nobody heard of it
    page.locator(f"#load-{closed}").evaluate("field => { field.value = '142'; }")

    for one in (set_id, closed):
        pick(workspace, one, "edition")
        drawn(page, one, "edition")

    assert page.locator(f"#set-{set_id} details.row-context[open] details[open]").count() == 1
    assert page.locator(f"#set-{closed} details.row-context[open]").count() == 0
    assert page.locator(f"#load-{closed}").input_value() == "142"
    page.context.close()


def test_a_form_that_is_gone_is_left_first(chromium: Any, desk: str, workspace: Workspace) -> None:
    """Confirmed in another window meanwhile: the row waits until the coach is out of the field."""
    with workspace.write() as connection:
        set_id, _ = put_set(connection, state="new", lift=None)
    page = open_page(chromium, desk)
    page.goto("/")
    field = page.locator(f"#lifter-{set_id}")
    field.click()
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == set_id).values(context_confirmed=True))
    with page.expect_response(f"**/inbox/rows/{set_id}*"):
        pass
    page.keyboard.type(NAME)

    assert field.input_value() == NAME
    page.keyboard.press("Escape")
    expect(page.locator(f"#set-{set_id} form[data-context]")).to_have_count(0)
    with workspace.read() as connection:
        assert connection.execute(sa.select(sets.c.archived_at)).scalar_one() is None
    page.context.close()


def test_the_page_of_work_asks_before_erasing_stops(chromium: Any, desk: str, workspace: Workspace) -> None:
    """What would stay at the public instance is said; no is the way out. The focus stays while other work ends."""
    with workspace.write() as connection:
        _, clip_id = put_set(connection, state="measuring")
        measuring = put_job(connection, clip_id, "queued")
        connection.execute(
            jobs.insert().values(id=ERASING, kind="erase_there", key="e", payload={"sets": ["5e7"]})
        )
    page = open_page(chromium, desk)
    page.goto("/jobs")
    stop = page.locator("[data-job=abcdefabcdefabcd] [data-do=cancel]")
    stop.focus()
    with workspace.write() as connection:
        connection.execute(jobs.update().where(jobs.c.id == measuring).values(state="done"))
    page.wait_for_selector(f"tr[data-job='{measuring}']")
    assert page.evaluate("document.activeElement.closest('[data-job]')?.dataset.job") == ERASING

    page.keyboard.press("Enter")
    assert "stays there" in page.locator("dialog[open]").inner_text()
    page.keyboard.press("Enter")
    expect(page.locator("dialog[open]")).to_have_count(0)
    stop.click()
    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.state).where(jobs.c.id == ERASING)).scalar_one() == "queued"
    page.get_by_role("button", name="Stop it, leave the data there").click()

    page.wait_for_selector("tr[data-job=abcdefabcdefabcd]")
    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.state).where(jobs.c.id == ERASING)).scalar_one() == "cancelled"
    assert page.complaints == []
    page.context.close()
