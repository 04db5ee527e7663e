"""The voice-over in Chromium, with the browser's own test microphone (a beep): recorded, taken again, deleted."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe
from served import open_page, served, until
from sets import made_measurement
from shown_sets import add_shown, varying
from tests.browser.conftest import CHROMIUM, FLAGS

from midfoot.store import Workspace
from midfoot.store.tables import takes

pytestmark = pytest.mark.browser
VOICE = "window.midfootVoice"


@pytest.fixture(scope="module")
def speaking(browsers: Any) -> Iterator[Any]:
    """A browser whose microphone beeps and is given without a question."""
    flags = [*FLAGS, "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    browser = browsers.launch(executable_path=str(CHROMIUM), args=flags)
    yield browser
    browser.close()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Workspace, str, str]]:
    with Workspace.create(tmp_path / "workspace") as workspace:
        set_id, _ = add_shown(workspace, made_measurement(), varying(120))
        with served(workspace) as address:
            yield workspace, address, set_id


def opened(browser: Any, address: str, set_id: str, **more: Any) -> Any:
    page = open_page(browser, address, **more)
    page.goto(f"/sets/{set_id}")
    until(page, f"{VOICE} && document.getElementById('viewer').dataset.ready")
    page.locator("#voice-part > summary").click()
    return page


def test_record_take_again_and_delete(speaking: Any, desk: tuple[Workspace, str, str]) -> None:
    workspace, address, set_id = desk
    page = opened(speaking, address, set_id, permissions=["microphone"])
    page.get_by_role("button", name="Record", exact=True).click()
    until(page, f"{VOICE}.begun")
    page.wait_for_timeout(400)
    page.keyboard.press("]")
    page.evaluate("window.midfootDesk.player.play()")
    page.wait_for_timeout(700)
    page.evaluate("window.midfootDesk.player.pause()")
    page.evaluate("window.midfootDesk.layer('path', true)")
    page.wait_for_timeout(200)
    page.locator("#voice-stop").click()
    until(page, f"{VOICE}.state.takes.length === 1")
    first = page.evaluate(f"{VOICE}.state")
    assert {"seek", "play", "pause", "layers"} <= {e["kind"] for e in first["takes"][0]["events"]}
    assert first["length_s"] > 1.2

    page.locator("#voice-place").evaluate("e => { e.value = '0.5'; e.dispatchEvent(new Event('input')); }")
    page.locator("#voice-rest").check()
    page.locator("#voice-again").click()
    page.wait_for_timeout(900)
    page.keyboard.press("Alt+r")
    until(page, f"{VOICE}.state.takes.length === 2")
    whole = page.evaluate(f"{VOICE}.state.whole")
    assert [w["take"] for w in whole] == [t["id"] for t in page.evaluate(f"{VOICE}.state.takes")]
    assert whole[0]["to_s"] == pytest.approx(0.5, abs=0.02)

    page.locator("#voice-place").evaluate("e => { e.value = '0'; e.dispatchEvent(new Event('input')); }")
    page.locator("#voice-play").click()
    until(page, f"Number(document.getElementById('voice-place').value) > 0.6 && {VOICE}.playing")
    page.locator("#voice-play").click()
    assert not page.evaluate(f"{VOICE}.playing")

    page.get_by_role("button", name="Delete take 2 and its sound").click()
    page.get_by_role("button", name="Delete take 2 and its sound").click()
    until(page, f"{VOICE}.state.takes.length === 1")
    with workspace.read() as connection:
        kept = connection.execute(sa.select(takes.c.n, takes.c.audio_sha256).order_by(takes.c.n)).all()
    assert kept[0].audio_sha256 is not None
    assert kept[1].audio_sha256 is None
    assert page.complaints == []
    page.context.close()


def test_a_recording_waits_while_the_desk_does_not_answer(speaking: Any, desk: tuple[Workspace, str, str]) -> None:
    _, address, set_id = desk
    page = opened(speaking, address, set_id, permissions=["microphone"])
    page.route("**/takes/*/sound", lambda route: route.abort())
    page.get_by_role("button", name="Record", exact=True).click()
    until(page, f"{VOICE}.begun")
    page.wait_for_timeout(800)
    page.locator("#voice-stop").click()
    until(page, "document.getElementById('voice-words').textContent.includes('waits in this page')")
    page.unroute("**/takes/*/sound")
    until(page, f"{VOICE}.state.takes.length === 1", 15.0)
    page.context.close()


NOTED = """async (late_ms) => {
  const { Notes } = await import('/static/js/desk/notes.js'), hear = {};
  const player = { playing: false, rate: 0.5, running: 2, time: 2, on: (name, run) => { hear[name] = run; } };
  const notes = new Notes(player, { layers: {} }, () => true), begun = performance.now();
  notes.begin(begun);
  player.playing = true; hear.play();
  const start = notes.events.at(-1).at_s, before = notes.events.length, frames = [];
  for (let k = 1; k <= 30; k++) {
    const t_s = 2 + k / 30, at_s = start + (t_s - 2) / 0.5 + (late_ms[k] ?? 0) / 1000;
    frames.push([at_s, t_s]);
    hear.frame({ t_s, at_ms: begun + 1000 * at_s });
  }
  return [notes.events.slice(before).map((e) => [e.kind, e.at_s, e.t_s, e.rate]), frames];
}"""


@pytest.mark.parametrize(
    ("late", "noted"),
    [
        ({k: 83.0 for k in range(10, 31)}, [10]),  # the picture stalls and stays behind the player's clock
        ({k: -40.0 for k in range(3, 31)}, [3]),
        ({k: 12.0 * (-1) ** k for k in range(1, 31)}, []),  # of a screen that shows 60 a second
        ({12: 60.0, 13: 60.0, 14: 60.0}, []),  # some frames late, and then right again
        ({k: 40.0 if k < 15 else -40.0 for k in range(5, 31)}, [5, 15]),
    ],
)
def test_which_frames_came_to_stand_is_noted_where_the_clock_ran_on(
    speaking: Any, desk: tuple[Workspace, str, str], late: dict[int, float], noted: list[int]
) -> None:
    """By arithmetic: a frame that is late by so much, at half speed, at its own time from there on."""
    _, address, _ = desk
    page = open_page(speaking, address)
    page.goto("/help")
    events, frames = page.evaluate(NOTED, {str(k): v for k, v in late.items()})
    assert [e[0] for e in events] == ["rate"] * len(noted)
    for (_, at_s, t_s, rate), k in zip(events, noted, strict=True):
        assert (at_s, t_s, rate) == (
            pytest.approx(frames[k - 1][0], abs=2e-4),
            pytest.approx(frames[k - 1][1], abs=2e-4),
            0.5,
        )
    page.context.close()


@pytest.mark.parametrize("width", [1440, 390])
def test_axe_and_width(speaking: Any, desk: tuple[Workspace, str, str], width: int) -> None:
    _, address, set_id = desk
    page = opened(speaking, address, set_id, width=width)
    found = Axe().run(page, context={"include": [["#voice-part"]]}).response["violations"]
    assert found == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()
