"""The review's half of a set in Chromium: by key and by mouse, nothing lost without a desk, both widths."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from attrs import frozen
from axe_playwright_python.sync_playwright import Axe
from desk_reviews import SAID, add_lifter, measure, squat
from served import open_page, served
from shown_sets import add_shown, varying

from midfoot.desk import reviewing
from midfoot.store import Workspace, context_to_json, tables
from midfoot.store.rows import edits_of

pytestmark = pytest.mark.browser
TIMES = varying(320)
LOCKOUT = "#card-change\\:squat_soft_lockout"
FORWARD = "#card-change\\:squat_bar_forward"


@frozen
class Desk:
    """A desk with one measured set."""

    workspace: Workspace
    address: str
    set_id: str

    def edits(self) -> list[str]:
        """The kinds of what was done, in order."""
        with self.workspace.read() as connection:
            return [e.kind for e in edits_of(connection, self.set_id)]

    def unseen(self) -> tuple[str, ...]:
        return reviewing.unseen(self.workspace, self.set_id)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """The workspace with its server, for all tests; each begins with an empty log."""
    with Workspace.create(tmp_path_factory.mktemp("review") / "workspace") as workspace:
        made = squat(reps=5, short_mm=25.0, shift_s=-1.0)
        set_id, _ = add_shown(workspace, None, TIMES, lifter_id=add_lifter(workspace),
                              context=context_to_json(SAID))  # fmt: skip
        measure(workspace, set_id, made)
        with served(workspace) as address:
            yield Desk(workspace, address, set_id)


@pytest.fixture
def desk(house: Desk) -> Desk:
    with house.workspace.write() as connection:
        connection.execute(sa.delete(tables.review_edits))
    return house


def opened(chromium: Any, desk: Desk, **more: Any) -> Any:
    page = open_page(chromium, desk.address, **more)
    page.goto(f"/sets/{desk.set_id}")
    page.wait_for_selector("#viewer[data-ready]", state="attached")
    page.wait_for_selector("#review-cards .current", state="attached")
    return page


def saved(page: Any) -> None:
    page.get_by_text("All saved.").wait_for()


def test_a_draft_is_read_and_ready_to_go_out_in_at_most_twelve_keys(chromium: Any, desk: Desk) -> None:
    """From the opened set: one key for each claim and each paragraph, one to publish."""
    page = opened(chromium, desk)
    count = 0
    while desk.unseen():
        page.keyboard.press("k")
        count += 1
        saved(page)
        assert count <= 11, desk.unseen()
    page.get_by_text("Everything is read. It may go out.").wait_for()
    assert page.evaluate("document.activeElement.id") == "publish-link"
    assert set(desk.edits()) == {"keep"}
    print("keys to a read draft:", count)
    assert page.complaints == []
    page.context.close()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Workspace, str, dict[str, str]]]:
    """The bundled sets, measured; gives workspace, address and set by name."""
    from desk_sets import fill_demo

    with Workspace.create(tmp_path_factory.mktemp("demo") / "workspace") as workspace:
        found = {name: set_id for name, (set_id, _) in fill_demo(workspace).items()}
        with served(workspace) as address:
            yield workspace, address, found


@pytest.mark.footage
def test_the_demos_drafts_take_at_most_twelve_keys(
    chromium: Any, demo: tuple[Workspace, str, dict[str, str]]
) -> None:
    """From the opened set to publishing, the draft accepted: the median of the three is printed."""
    workspace, address, found = demo
    counts = {}
    for name, set_id in found.items():
        page = open_page(chromium, address)
        page.goto(f"/sets/{set_id}")
        page.wait_for_selector("#review-cards .current", state="attached")
        counts[name] = 0
        while left := reviewing.unseen(workspace, set_id):
            page.keyboard.press("k")
            saved(page)
            counts[name] += 1
            assert counts[name] <= 11, (name, left)
        counts[name] += 1  # Shift+P
        page.context.close()
    print("keys from the opened set to publishing:", counts, "median", sorted(counts.values())[1])


def test_a_claim_that_is_come_to_by_key_shows_its_frame(chromium: Any, desk: Desk) -> None:
    """The player stands at the moment of the rep that shows it most; E goes to the next rep."""
    page = opened(chromium, desk)
    while page.evaluate("document.querySelector('#review-cards .current').id") != "card-change:squat_bar_forward":
        page.keyboard.press("ArrowDown")
    at = float(page.locator(FORWARD).get_attribute("data-t"))
    page.wait_for_function("at => Math.abs(document.querySelector('#video').currentTime - at) < 0.1", arg=at)
    first = page.evaluate("document.querySelector('#video').currentTime")
    page.keyboard.press("e")
    page.keyboard.press("e")
    page.wait_for_function("t => Math.abs(document.querySelector('#video').currentTime - t) > 1", arg=first)
    page.context.close()


def test_reworded_dropped_and_accepted_by_key_with_undo(chromium: Any, desk: Desk) -> None:
    """The preview holds the words at once; a drop keeps its reason; Z takes back, Shift+Z brings back."""
    page = opened(chromium, desk)
    page.locator(LOCKOUT).click(position={"x": 8, "y": 8})
    page.keyboard.press("w")
    page.keyboard.press("Control+a")
    page.keyboard.type("You stop just short of standing.")
    page.keyboard.press("Control+Enter")
    saved(page)
    page.keyboard.press("t")
    assert page.locator("#review-page").inner_text().count("You stop just short of standing.") == 1
    page.keyboard.press("t")
    assert page.locator("#review-script li").count() >= 4
    page.keyboard.press("t")

    page.locator(FORWARD).click(position={"x": 8, "y": 8})
    page.keyboard.press("x")
    page.keyboard.press("Enter")
    page.locator(f"{FORWARD}[data-state=dropped]").wait_for()
    saved(page)
    page.keyboard.press("z")
    page.locator(f"{FORWARD}[data-state=open]").wait_for()
    page.keyboard.press("Shift+Z")
    page.locator(f"{FORWARD}[data-state=dropped]").wait_for()
    page.locator(LOCKOUT).click(position={"x": 8, "y": 8})
    page.keyboard.press("a")
    page.locator(f"{LOCKOUT} [name=load]").fill("120")
    page.keyboard.press("Enter")
    page.get_by_text("up to 120 kg").wait_for()
    saved(page)
    assert desk.edits() == ["reword", "drop", "undo", "undo", "accept"]
    assert page.complaints == []
    page.context.close()


def test_a_wording_from_now_on_is_said_and_can_be_taken_back(chromium: Any, desk: Desk) -> None:
    page = opened(chromium, desk)
    page.locator(f"{LOCKOUT} [data-do=reword]").click()
    page.keyboard.press("Control+a")
    page.keyboard.type("Stand until nothing moves any more.")
    page.locator(f"{LOCKOUT} [name=always]").check()
    page.get_by_role("button", name="Use these words").locator("visible=true").first.click()
    page.get_by_text("From now on: Stand until nothing moves any more.").wait_for()
    file = desk.workspace.library / "wording.toml"
    assert "Stand until nothing moves" in file.read_text()
    page.locator("#toast").get_by_role("button", name="Undo").click()
    saved(page)
    assert "Stand until nothing moves" not in file.read_text()
    page.context.close()


def test_what_is_seen_is_one_key_at_the_frame(chromium: Any, desk: Desk) -> None:
    """O opens the list, the observation's own key marks it; own words by Enter; outside a rep it is refused."""
    page = opened(chromium, desk)
    page.keyboard.press("o")
    page.keyboard.press("b")
    page.get_by_text("Move to a frame within a rep; what is seen belongs to one.").wait_for()
    page.keyboard.press("Escape")
    page.locator(f"{LOCKOUT} .places button").first.click()
    page.keyboard.press("o")
    page.locator("#palette-where", has_text="rep 5").wait_for()
    page.keyboard.press("b")
    page.get_by_text("Rep 5: The trunk is braced only after the descent has begun").wait_for()
    page.keyboard.press("/")
    page.keyboard.type("The left shoe is untied")
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    saved(page)
    page.locator("#review-cards .card", has_text="The left shoe is untied").wait_for()
    assert page.locator("#review-palette").is_hidden()
    assert desk.edits() == ["add", "add"]
    page.context.close()


def test_a_mark_by_its_meaning_is_clicked_on_the_frame(chromium: Any, desk: Desk) -> None:
    """How far: two clicks on the picture; the points are pixels of the clip; removed again by its button."""
    page = opened(chromium, desk)
    page.locator(f"{LOCKOUT} .places button").first.click()
    page.keyboard.press("m")
    page.keyboard.press("2")
    box = page.locator("#overlay").bounding_box()
    for share in (0.25, 0.5):
        page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])
    page.locator(f"{LOCKOUT} .mark").wait_for()
    saved(page)
    with desk.workspace.read() as connection:
        made = edits_of(connection, desk.set_id)[-1]
    assert (made.kind, made.meaning, made.reps) == ("mark", "how_far", (5,))
    assert made.points_px[0] == pytest.approx((160, 240), abs=12)
    assert made.points_px[1] == pytest.approx((320, 240), abs=12)
    page.locator(f"{LOCKOUT} [data-unmark]").click()
    page.locator(f"{LOCKOUT} .mark").wait_for(state="detached")
    page.context.close()


def test_what_is_done_while_the_desk_does_not_answer_is_kept_and_sent_again(chromium: Any, desk: Desk) -> None:
    """The page says so, survives being closed, and sends all of it when the desk is back; each counts once."""
    page = opened(chromium, desk)
    page.context.set_offline(True)
    page.keyboard.press("k")
    page.keyboard.press("k")
    page.get_by_text("not saved yet: the desk does not answer").wait_for()
    assert desk.edits() == []
    page.context.set_offline(False)
    page.reload()
    saved(page)
    assert desk.edits() == ["keep"] * len(desk.edits())
    assert len(desk.edits()) >= 2
    page.reload()
    page.wait_for_selector("#review-cards .card[data-state=kept]")
    page.context.close()


def test_two_tabs_show_each_others_edits_and_lose_none(chromium: Any, desk: Desk) -> None:
    page = opened(chromium, desk)
    other = page.context.new_page()
    other.goto(f"/sets/{desk.set_id}")
    other.wait_for_selector("#review-cards .current", state="attached")
    page.locator(f"{LOCKOUT} [data-do=keep]").click()
    other.locator(f"{FORWARD} [data-do=keep]").click()

    for one in (page, other):
        for card in (LOCKOUT, FORWARD):
            one.locator(f"{card}[data-state=kept]").wait_for()
    assert desk.edits() == ["keep", "keep"]
    page.context.close()


def test_order_by_keyboard_and_by_drag(chromium: Any, desk: Desk) -> None:
    """Alt with an arrow, or dragged by the handle: the lifter's page follows."""
    page = opened(chromium, desk, height=1800)
    order = "() => [...document.querySelectorAll('[data-order=change] .card')].map(c => c.dataset.part)"
    first = page.evaluate(order)
    page.locator(f"#card-{first[1].replace(':', chr(92) + ':')}").click(position={"x": 8, "y": 8})
    page.keyboard.press("Alt+ArrowUp")
    saved(page)
    assert page.evaluate(order) == first[::-1]
    cards = page.locator("[data-order=change] .card")
    handle, above = cards.nth(1).locator(".handle").bounding_box(), cards.nth(0).bounding_box()
    page.mouse.move(handle["x"] + 10, handle["y"] + 10)
    page.mouse.down()
    page.mouse.move(handle["x"], above["y"] + above["height"] - 20, steps=4)
    page.mouse.move(handle["x"], above["y"] + 0.4 * above["height"], steps=4)
    page.mouse.up()
    page.wait_for_function(f"want => JSON.stringify(({order})()) === JSON.stringify(want)", arg=first)
    saved(page)
    assert desk.edits() == ["order", "order"]
    page.context.close()


def test_what_was_said_is_corrected_and_the_draft_follows(chromium: Any, desk: Desk) -> None:
    """An effort that cannot be is refused in a sentence; a hard one changes the next session."""
    page = opened(chromium, desk)
    page.locator("#review-said summary").first.click()
    page.locator("#said-rpe").fill("11")
    page.get_by_role("button", name="Use what is said here").click()
    page.locator("#review-said [data-wrong]", has_text="5 to 10").wait_for()
    page.locator("#said-rpe").fill("9.5")
    page.get_by_role("button", name="Use what is said here").click()
    page.locator("#review-cards", has_text="That was close to your limit").wait_for()
    page.locator("#said-rpe").fill("8")
    page.get_by_role("button", name="Use what is said here").click()
    page.locator("#review-cards", has_text="at an effort of 7 to 8 out of 10").wait_for()
    page.context.close()


def test_nothing_is_published_unread_and_the_rest_is_named(chromium: Any, desk: Desk) -> None:
    page = opened(chromium, desk)
    page.keyboard.press("Shift+P")

    page.locator("#unseen-list li").first.wait_for()
    assert page.locator("#unseen-list li").count() == len(desk.unseen())
    assert page.url.endswith(f"/sets/{desk.set_id}")
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_axe_finds_nothing_and_the_page_does_not_scroll_sideways(
    chromium: Any, desk: Desk, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), with everything opened that can be."""
    page = opened(chromium, desk, width=width, color_scheme=scheme)
    page.locator(f"{LOCKOUT} [data-do=reword]").click()
    page.evaluate("document.querySelectorAll('#review-root details').forEach(d => { d.open = true })")
    page.locator("[data-do=observe]").click()
    found = Axe().run(page, context="#review").response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:160]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.keyboard.press("Escape")
    for view in ("page", "script"):
        page.locator(f"[data-view={view}]").click()
        found = Axe().run(page, context="#review").response["violations"]
        assert [(v["id"], v["nodes"][0]["html"][:160]) for v in found] == []
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_both_lengths_on_a_page_of_their_own(chromium: Any, desk: Desk, width: int, scheme: str) -> None:
    """Outside check: the axe-core rules."""
    page = open_page(chromium, desk.address, width=width, color_scheme=scheme)
    page.goto(f"/sets/{desk.set_id}/review")

    assert [v["id"] for v in Axe().run(page).response["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.context.close()
