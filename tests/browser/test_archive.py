"""The archive and a follow-up in Chromium: charts, keys, axe, both widths; from what is due to a verdict."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe
from desk_archive import fill
from desk_reviews import add_lifter, add_set, squat
from playwright.sync_api import expect
from served import open_page, served

from midfoot.desk import reviewing
from midfoot.desk.due import match
from midfoot.desk.gathering import gather
from midfoot.desk.own_floors import own_floor
from midfoot.store import Workspace
from midfoot.store.tables import changes

pytestmark = pytest.mark.browser
ONE = "/archive?finding=squat_bar_forward"


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Workspace, str, str, str]]:
    """Nine hundred sets by a law, and one lifter whose second set answers what the first review asked."""
    with Workspace.create(tmp_path_factory.mktemp("archive") / "workspace") as workspace:
        lifter = add_lifter(workspace, "Vigdis Aamot")
        first = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter, name="b")
        cards = [c.part for g in reviewing.opened(workspace, first).groups for c in g.waiting]
        reviewing.add_edits(
            workspace, first,
            [{"id": f"k{k}", "kind": "keep", "part": p.id, "reps": list(p.reps), "at_s": list(p.at_s),
              "saw": p.wording_key} for k, p in enumerate(cards)],
        )  # fmt: skip
        reviewing.published(workspace, first, on=date.today() - timedelta(days=20))
        gather(workspace)
        fill(workspace, sets_n=900)
        with served(workspace) as address:
            yield workspace, address, first, lifter


@pytest.mark.parametrize("width", [1440, 390])
def test_both_pages_are_clean_at_both_widths(chromium: Any, house: Any, width: int) -> None:
    """Outside check: the rules of axe-core; no page scrolls sideways; charts are drawn under the page's policy."""
    page = open_page(chromium, house[1], width=width)
    for path in ("/archive", ONE):
        page.goto(path)
        if path == ONE:
            expect(page.locator(".sizes svg .mark-symbol path").first).to_be_visible(timeout=40_000)
            expect(page.locator("[data-chart=time-spec] svg")).to_be_visible()
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.complaints == []
    page.context.close()


def test_a_threshold_by_keyboard_and_a_case_at_its_moment(chromium: Any, house: Any) -> None:
    """T to the threshold, Tab and Enter take it, the page offers the way back; J to a case that leads there."""
    workspace, address = house[:2]
    page = open_page(chromium, address)
    page.goto(ONE)
    use = page.locator("button", has_text="from now on")
    expect(page.locator(".sizes svg")).to_be_visible(timeout=40_000)
    page.keyboard.press("t")
    expect(page.locator("#threshold")).to_be_focused()
    for _ in range(6):
        page.keyboard.press("Tab")
        if use.evaluate("e => e === document.activeElement"):
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").filter(has_text="the next draft uses it")).to_be_visible()
    assert own_floor(workspace.library, "forward_drift") is not None
    page.locator("button", has_text="Undo").click()
    expect(page.get_by_role("status").filter(has_text="Taken back")).to_be_visible()
    assert own_floor(workspace.library, "forward_drift") is None

    expect(page.locator(".sizes svg")).to_be_visible()  # the keys are bound by then
    page.keyboard.press("f")
    expect(page.locator("#f-lift")).to_be_focused()
    page.locator("h1").click()
    page.keyboard.press("j")
    page.keyboard.press("j")
    second = page.locator("[data-case]").nth(1)
    expect(second).to_be_focused()
    assert "#t=" in (second.get_attribute("href") or "")
    page.select_option("#f-view", "front")
    page.locator("#filters button", has_text="Show").click()
    page.wait_for_url("**/archive?finding=squat_bar_forward&view=front")  # what is empty stays out of the address
    assert page.complaints == []
    page.context.close()


def test_from_the_due_list_to_a_verdict_overruled_with_its_reason(chromium: Any, house: Any) -> None:
    """The message asks for view, load and effort; once the set has come its review is a press away, says first
    what became of the changes, and takes the coach's word against figures only with a reason."""
    workspace, address, first, lifter = house
    page = open_page(chromium, address)
    page.goto("/?show=due")
    message = page.locator(f"#due-{first}")
    said = message.input_value()
    assert "from the side again" in said
    assert "between 90 and 110 kg" in said
    assert "7 to 9 of 10" in said
    page.locator(f"#set-{first} button", has_text="I have asked").click()
    expect(page.locator(f"#set-{first}")).to_contain_text("You asked just now")

    later = add_set(workspace, squat(reps=5, forward_mm=8.0), lifter_id=lifter, day=20, name="c")
    assert {v.verdict for v in match(workspace, later)} == {"held"}
    page.goto("/?show=due")
    expect(page.locator(f"#set-{first}")).to_contain_text("The next set has come: 2 changes held, 0 not")
    page.locator(f"#set-{first} a", has_text="Open its review").click()
    page.wait_for_url(f"**/sets/{later}")
    head = page.locator(".verdicts li").first
    expect(head).to_contain_text("Held.")
    expect(head).to_contain_text("was foretold")
    expect(page.locator("#review").get_by_text("Last time it was this").first).to_be_visible()

    page.complaints.clear()
    head.locator("button", has_text="not held").click()
    expect(page.locator("#toast")).to_contain_text("Say in a few words why")
    page.complaints.clear()  # the browser notes a refused request as an error of its own
    head.locator("[data-why]").fill("The pins caught it")
    head.locator("button", has_text="not held").click()
    expect(page.locator(".verdicts li").first).to_contain_text("You say so: The pins caught it")
    page.goto(f"/lifters/{lifter}")
    expect(page.locator("#h-changes").locator("..")).to_contain_text("The figures said:")
    assert page.complaints == []
    with workspace.read() as connection:
        assert set(connection.execute(sa.select(changes.c.state)).scalars()) == {"open"}  # until it goes out
    page.context.close()
