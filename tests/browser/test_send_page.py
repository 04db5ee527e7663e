"""The page for sending a set, as a lifter meets it on a phone: an upload cut in the middle goes on."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe
from clips import write_clip
from served import open_page, served, until

from midfoot.desk import links
from midfoot.store import Workspace
from midfoot.store.tables import clips, consents, measurements, sets

pytestmark = pytest.mark.browser


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Workspace, str, str]]:
    with Workspace.create(tmp_path / "workspace") as workspace:
        with workspace.write() as connection:
            from midfoot.store.tables import lifters

            connection.execute(lifters.insert().values(id="ab12", name="Runa Tideway", shown_name="Runa"))
        token = links.make(workspace, links.SEND, lifter_id="ab12")[1]
        with served(workspace) as address:
            yield workspace, address, token


def opened(browser: Any, address: str, token: str, width: int = 390, **more: Any) -> Any:
    page = open_page(browser, address, width=width, height=844, **more)
    page.context.clear_cookies()
    page.goto(f"/send/{token}")
    return page


def filled(page: Any, clip: Path) -> None:
    page.locator("#clips").set_input_files(str(clip))
    page.locator("label[for=lift-squat]").click()
    page.locator("#s-load").fill("120 kg")
    page.locator("#s-reps").fill("5")
    page.locator("#s-question").fill("Do my knees go too far forward?")
    page.locator("#mine").check()
    page.locator("#use-review").check()


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    """Some 6 MB of noise after a clip's head: more than one part."""
    path = tmp_path / "set.mp4"
    write_clip(path, times_s=[k / 30 for k in range(60)])
    with path.open("ab") as file:
        file.write(hashlib.shake_256(b"tail").digest(9_000_000))
    return path


def test_an_upload_cut_in_the_middle_goes_on(chromium: Any, desk: tuple[Workspace, str, str], clip: Path) -> None:
    workspace, address, token = desk
    page = opened(chromium, address, token)
    assert "Hello Runa" in page.locator(".lead").inner_text()
    parts: list[int] = []

    def cut(route: Any) -> None:
        if route.request.method == "PATCH":
            parts.append(int(route.request.headers["upload-offset"]))
            if len(parts) == 2:
                route.abort()
                return
        route.continue_()

    page.route("**/send/*/files/*", cut)
    filled(page, clip)
    page.locator("#go").click()
    page.locator("#done").wait_for(timeout=20_000)
    assert len(parts) >= 4, "one part was cut off and sent again"
    assert parts[2] == parts[1], "it went on where it had come to"
    with workspace.read() as connection:
        row = connection.execute(sa.select(clips)).one()
        kept = connection.execute(sa.select(sets)).one()
        allowed = connection.execute(sa.select(consents.c.use)).scalars().all()
    assert row.sha256 == hashlib.sha256(clip.read_bytes()).hexdigest()
    assert workspace.blobs.path(row.sha256).read_bytes() == clip.read_bytes()
    assert (kept.lift, kept.load_kg, kept.lifter_id, kept.pasted_text) == (
        "squat", 120.0, "ab12", "Do my knees go too far forward?",
    )  # fmt: skip
    assert allowed == ["review"]
    page.context.close()


def test_a_pace_that_is_too_quick_is_said_and_waited_for(
    chromium: Any, desk: tuple[Workspace, str, str], clip: Path
) -> None:
    workspace, address, token = desk
    page = opened(chromium, address, token)
    refused: list[float] = []

    def slowed(route: Any) -> None:
        if route.request.method == "PATCH" and not refused:
            refused.append(page.evaluate("performance.now()"))
            said = {"says": "Too much came from here within the hour.", "remedy": "Wait 1 minute, then go on."}
            route.fulfill(status=429, headers={"retry-after": "2"}, json={"error": said})
            return
        route.continue_()

    page.route("**/send/*/files/*", slowed)
    filled(page, clip)
    page.locator("#go").click()
    page.get_by_text(
        "Too much came from here within the hour. Wait 1 minute, then go on. It goes on by"
    ).wait_for()
    page.locator("#done").wait_for(timeout=20_000)
    assert page.evaluate("performance.now()") - refused[0] > 1900
    with workspace.read() as connection:
        assert connection.execute(sa.select(clips.c.bytes)).scalar_one() == clip.stat().st_size
    page.context.close()


def test_a_link_that_is_taken_back_in_the_middle_ends_it_with_words(
    chromium: Any, desk: tuple[Workspace, str, str], clip: Path
) -> None:
    """As when the lifter is erased; it is not asked again and again."""
    workspace, address, token = desk
    page = opened(chromium, address, token)
    asked: list[str] = []

    def taken_back(route: Any) -> None:
        asked.append(route.request.method)
        if asked.count("PATCH") == 2 and asked[-1] == "PATCH":
            (row,) = links.listed(workspace)
            links.revoke(workspace, row["id"])
        route.continue_()

    page.route("**/send/*/files**", taken_back)
    page.route("**/send/*/files/**", taken_back)
    filled(page, clip)
    page.locator("#go").click()
    page.get_by_text("This link was taken back.").first.wait_for()
    assert page.locator("#go").is_enabled()
    count = len(asked)
    page.wait_for_timeout(300)
    assert len(asked) == count < 10
    page.context.close()


def test_usability_is_answered_before_and_after_the_measuring(
    chromium: Any, desk: tuple[Workspace, str, str], clip: Path
) -> None:
    """What a first look found is told with its doubt; once measured, what this clip really shows."""
    workspace, address, token = desk
    page = opened(chromium, address, token)
    filled(page, clip)
    page.locator("#go").click()
    page.locator("#done").wait_for(timeout=20_000)
    page.get_by_text("It is being looked at.").wait_for()
    first = {
        "view": "It seems to be filmed from the side, or from the front: a first look is not surer than that.",
        "can": 12, "of": 14, "hidden": "Hidden for most of what was looked at: the near knee.",
        "without": [{"how": "film from the front", "what": ["The knees come in", "Hips to one side", "A third"]}],
        "again": ["The phone moves: stand it on something."],
    }  # fmt: skip
    with workspace.write() as connection:
        connection.execute(clips.update().values(probe={"duration_s": 9.0, "first_look": first}))
    page.get_by_text("not surer than that").wait_for()
    words = page.locator("#judged").inner_text()
    assert "up to 12 of 14 things" in words
    assert "the near knee" in words
    assert "The phone moves" in words
    assert "Film from the front, for: the knees come in; hips to one side and 1 more." in words
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    summary = {"view_words": "from the side", "judged": {"can": 9, "of": 13, "film": []}}
    with workspace.write() as connection:
        clip_id = connection.execute(sa.select(clips.c.id)).scalar_one()
        connection.execute(
            measurements.insert().values(
                clip_id=clip_id, input_key="k", folder="x", summary=summary, is_current=True
            )
        )
    page.get_by_text("9 of 13 things can be judged").wait_for()
    assert "up to" not in page.locator("#judged").inner_text()
    assert page.complaints == []
    page.context.close()


def test_what_is_missing_is_said_where_it_is(chromium: Any, desk: tuple[Workspace, str, str], clip: Path) -> None:
    workspace, address, token = desk
    page = opened(chromium, address, token)
    page.locator("#go").click()
    assert "Choose the clip" in page.locator("#says").inner_text()
    filled(page, clip)
    page.locator("#use-review").uncheck()
    page.locator("#go").click()
    assert "Allow your coach" in page.locator("#says").inner_text()
    assert page.evaluate("document.activeElement.id") == "use-review"
    page.locator("#minor").check()
    assert page.locator("#use-public_page").is_hidden()
    with workspace.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).all() == []
    page.context.close()


def test_red_flags_are_answered_while_they_are_typed(chromium: Any, desk: tuple[Workspace, str, str]) -> None:
    _, address, token = desk
    page = opened(chromium, address, token)
    page.locator("#s-pain").fill("numbness down my left leg")
    page.locator("#stop").wait_for(state="visible")
    assert "seek medical help" in page.locator("#stop").inner_text()
    page.locator("#s-pain").fill("none")
    until(page, "document.getElementById('stop').hidden")
    page.context.close()


def test_the_warning_stands_first_once_all_was_sent(
    chromium: Any, desk: tuple[Workspace, str, str], clip: Path
) -> None:
    _, address, token = desk
    page = opened(chromium, address, token)
    filled(page, clip)
    page.locator("#s-pain").fill("my foot went numb")
    page.locator("#go").click()
    page.locator("#done").wait_for(timeout=20_000)
    assert page.locator("#done > *").first.get_attribute("id") == "stop"
    assert page.locator("#stop").is_visible()
    page.context.close()


def test_a_link_that_was_taken_back(chromium: Any, desk: tuple[Workspace, str, str]) -> None:
    workspace, address, token = desk
    links.revoke(workspace, links.listed(workspace)[0]["id"])
    page = opened(chromium, address, token)
    assert "taken back" in page.locator("main").inner_text()
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])
def test_axe_and_width(chromium: Any, desk: tuple[Workspace, str, str], width: int, scheme: str) -> None:
    _, address, token = desk
    page = opened(chromium, address, token, width, color_scheme=scheme)
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()
    page = open_page(chromium, address, width=width, color_scheme=scheme)
    page.goto("/links")
    assert Axe().run(page).response["violations"] == []
    page.locator("#link-form button").click()
    until(page, "document.getElementById('link-message').value.includes('/send/')")
    assert Axe().run(page).response["violations"] == []
    page.locator("[data-revoke]").first.click()
    until(page, "document.body.textContent.includes('taken back')")
    page.context.close()
