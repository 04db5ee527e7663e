"""One coach's weeks at the desk, in Chromium, from twelve files dropped to a change that held.

Real are the server, the pages, the queue with the functions of its workers (in a thread), looking at files, the
proxy, drafts, edits, the voice-over with Chromium's own test microphone, its videos, publishing and the page that
goes out. Stood in for, because each takes minutes: what the pose and plate networks measure
(`pipeline.measure_clip`) and where heads are (`covered.heads_of`); both have tests of their own.
"""

from __future__ import annotations

import base64
import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from functools import partial
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import sqlalchemy as sa
from attrs import evolve
from clips import write_clip
from desk_reviews import squat
from going_out import know_heads
from playwright.sync_api import expect
from served import open_page, served, until
from shown_sets import BITS, BLOCK, coded_clip
from tests.browser.conftest import CHROMIUM, FLAGS
from tests.browser.test_desk_inbox import DROP
from tests.browser.test_published_pages import Quiet
from tests.publish.test_take_video import begins

from midfoot import pipeline
from midfoot.desk import reviewing
from midfoot.jobs import KINDS, look_child
from midfoot.jobs.worker import work_on
from midfoot.records.bar import Candidate
from midfoot.records.measures import Measure, Measurement
from midfoot.store import Workspace
from midfoot.store.rows import edits_of
from midfoot.store.tables import changes, clips, follow_ups, jobs, publications, repairs, sets

pytestmark = pytest.mark.browser
DESK, VOICE = "window.midfootDesk", "window.midfootVoice"
FIRST, LATER = "first.mp4", "weeks later.mp4"
TIMES = np.arange(420) / 30
MESSAGE = "Squat 100 kg x 5, RPE 8. Pins are set, no pain. Does the bar drift forward?"
FORWARD, LOCKOUT, SHALLOW = (f"#card-change\\:squat_{n}" for n in ("bar_forward", "soft_lockout", "shallower"))
WATCH = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
window.pieces = []; window.behind = []; window.stood = [];
navigator.mediaDevices.getUserMedia = async (what) => {
  const stream = await ask(what);
  const track = stream.getAudioTracks()[0].clone();  // by itself it drops what waits for longer than 100 ms
  const reader = new MediaStreamTrackProcessor({ track, maxBufferSize: 1000 }).readable.getReader();
  (async () => { for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    const now = performance.now(), begins = value.timestamp / 1000;
    const samples = new Float32Array(value.numberOfFrames), step = 1000 / value.sampleRate;
    value.copyTo(samples, { planeIndex: 0, format: "f32-planar" });
    window.behind.push(now - begins - samples.length * step);
    const at = samples.findIndex((s) => Math.abs(s) > 0.1);
    window.pieces.push([begins, samples.length * step, at < 0 ? -1 : at * step]);
    value.close();
  } })();
  return stream;
};
"""
"""What comes of the same track to a second reader, piece by piece: when it begins on the track's own clock, how
long it is, where in it a beep is, ms; and how far the page's clock is ahead of that (the page may be late to
listen, never early: the least counts)."""
FRAMES = f"""() => {{
  const video = document.getElementById('video'), clock = {DESK}.player.clock;
  const seen = (_, what) => {{
    window.stood.push([what.expectedDisplayTime, clock.nearest(what.mediaTime)]);
    video.requestVideoFrameCallback(seen);
  }};
  video.requestVideoFrameCallback(seen);
}}"""
SPEAK = f"""async () => {{
  const player = {DESK}.player, wait = (ms) => new Promise((done) => setTimeout(done, ms));
  await wait(1500); player.rate = 1; player.play(); await wait(5000); player.pause();
  await wait(700); player.seek(2.0); await wait(700);
  player.rate = 0.5; player.play(); await wait(5000); player.rate = 1; await wait(2500); player.pause();
  await wait(500); player.seek(9.0); await wait(600);
  player.play(); await wait(3000); player.pause(); await wait(500);
}}"""


def measured(*, forward_mm: float, short_mm: float, shallow_mm: float, sure: bool) -> Measurement:
    """Five squats with three faults; where the bar is not sure, the place that it may be is ringed."""
    made = squat(reps=5, forward_mm=forward_mm, short_mm=short_mm)
    rows = tuple(
        (*row, Measure("low_height_change_mm", shallow_mm if k > 2 else 0.5, "mm", 1.5, 0.3, "measured", "plate"))
        for k, row in enumerate(made.measured.reps)
    )
    data = made.data
    data = evolve(data, clip=evolve(data.clip, frames=len(TIMES), duration_s=float(TIMES[-1])))
    if not sure:
        ringed = (Candidate(200.0, 150.0, 40.0, 1.0, 0.5),)
        data = evolve(data, track=evolve(data.track, status="unsure", candidates=ringed))
    return evolve(made, data=data, measured=evolve(made.measured, reps=rows))


class Desk:
    """The workspace with its server and its worker; `others` may be measured once it is set."""

    def __init__(self, workspace: Workspace, address: str) -> None:
        self.workspace, self.address = workspace, address
        self.others, self.leaving = threading.Event(), threading.Event()

    def measure(self, request: pipeline.Request, **_: object) -> Measurement:
        """Stand in for the networks: by which file it is and whether the bar was pointed at."""
        with self.workspace.read() as connection:
            row = connection.execute(
                sa.select(clips.c.received_name).where(clips.c.sha256 == request.clip.name.partition(".")[0])
            ).scalar_one()
        if row == LATER:
            made = measured(forward_mm=8.0, short_mm=0.0, shallow_mm=0.0, sure=True)
        else:
            if row != FIRST:
                assert self.others.wait(60)
            made = measured(forward_mm=47.0, short_mm=25.0, shallow_mm=35.0, sure=request.bar_at is not None)
        return evolve(made, data=evolve(made.data, asked=request.asked), context=request.context)

    def work(self, *kinds: str) -> None:
        """Begin to work on jobs of these kinds, in a thread of this process."""
        known = {k: KINDS[k] for k in kinds}
        threading.Thread(
            target=work_on, args=(self.workspace, f"for {kinds[0]}", known, self.leaving), daemon=True
        ).start()

    def set_of(self, name: str) -> str:
        """The set of a file."""
        with self.workspace.read() as connection:
            return str(
                connection.execute(sa.select(clips.c.set_id).where(clips.c.received_name == name)).scalar_one()
            )

    def kinds(self, set_id: str) -> list[str]:
        """Which edits were made."""
        with self.workspace.read() as connection:
            return [e.kind for e in edits_of(connection, set_id)]


@pytest.fixture
def desk(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    know_heads(monkeypatch, len(TIMES) / 30)
    monkeypatch.setattr("midfoot.jobs.worker.MOST_MEMORY_MB", 10**6)  # the process is the tests' own
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: time.sleep(1.5))  # a set is ready before
    monkeypatch.setattr("midfoot.jobs.look.looked", lambda clip, out, *_: look_child.look(clip, out))
    with served(workspace) as address:
        made = Desk(workspace, address)
        monkeypatch.setattr(pipeline, "measure_clip", made.measure)
        made.work("look")
        yield made
        made.leaving.set()
        made.others.set()


@pytest.fixture(scope="module")
def speaking(browsers: Any) -> Iterator[Any]:
    """A browser whose microphone beeps and is given without a question."""
    flags = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    browser = browsers.launch(executable_path=str(CHROMIUM), args=[*FLAGS, *flags])
    yield browser
    browser.close()


def drop(page: Any, *files: tuple[str, bytes]) -> None:
    page.goto("/")
    page.fill("#message", MESSAGE)
    page.evaluate(DROP, [[(name, base64.b64encode(body).decode()) for name, body in files], "main"])


def confirm(page: Any, set_id: str, lifter: str) -> None:
    """Name the lifter and confirm, by keyboard."""
    form = page.locator(f"#set-{set_id} form[data-context]")
    form.wait_for(state="attached")
    if not form.is_visible():
        page.locator(f"#set-{set_id} details.row-context > summary").click()
    field = form.locator("[name=lifter]")
    field.fill(lifter)
    field.press("Control+Enter")
    form.wait_for(state="detached")


def opened(page: Any, set_id: str) -> None:
    page.goto(f"/sets/{set_id}")
    page.wait_for_selector("#viewer[data-ready]", state="attached")
    page.wait_for_selector("#review-cards .current", state="attached")


def becomes(desk: Desk, asked: sa.Select[Any]) -> None:
    """Wait until there is such a row."""
    end = time.monotonic() + 30
    while time.monotonic() < end:
        with desk.workspace.read() as connection:
            if connection.execute(asked).first() is not None:
                return
        time.sleep(0.05)
    raise AssertionError(f"there is no row {asked}")


def saved(page: Any) -> None:
    page.get_by_text("All saved.").wait_for()


def keep_the_rest(page: Any, desk: Desk, set_id: str) -> int:
    """Keep by key until everything is read; gives how many keys."""
    count = 0
    while left := reviewing.unseen(desk.workspace, set_id):
        page.keyboard.press("k")
        count += 1
        saved(page)
        assert count < 20, left
    return count


def test_a_coachs_weeks(speaking: Any, desk: Desk, tmp_path: Path) -> None:
    coded_clip(tmp_path / FIRST, TIMES)
    coded_clip(tmp_path / LATER, TIMES[:-2])
    others = []
    for k in range(11):
        file = tmp_path / f"IMG_{k}.mp4"
        grey = [np.full((120, 160, 3), 80 + 5 * k, np.uint8)] * 45
        write_clip(file, times_s=np.arange(45) / 30, size=(160, 120), pictures=grey)
        others.append((file.name, file.read_bytes()))
    page = open_page(speaking, desk.address, permissions=["microphone"])
    page.add_init_script(WATCH)

    drop(page, (FIRST, (tmp_path / FIRST).read_bytes()), *others)
    expect(page.locator("form[data-context]")).to_have_count(12, timeout=20_000)
    set_id = desk.set_of(FIRST)
    confirm(page, set_id, "Runa Holt")
    page.goto(f"/sets/{set_id}")  # what the coach looks at is measured first
    asked = sa.select(jobs.c.id).join(clips, jobs.c.key == "measure:" + clips.c.id)
    becomes(desk, asked.where(clips.c.set_id == set_id, jobs.c.priority > 0))
    desk.work("measure", "take", "publish")
    becomes(desk, sa.select(sets.c.id).where(sets.c.id == set_id, sets.c.state == "ready"))
    _put_right(page, desk, set_id)
    _looked_through(page, desk, set_id)
    _spoken(page, desk, set_id)
    _sent_out(page, speaking, desk, set_id)
    _weeks_later(page, desk, set_id, (tmp_path / LATER).read_bytes())
    assert page.complaints == []
    page.context.close()


def _put_right(page: Any, desk: Desk, set_id: str) -> None:
    """The first is opened while the others wait to be measured; a click tells the bar; the review stays."""
    opened(page, set_id)
    with desk.workspace.read() as connection:
        states = connection.execute(sa.select(sets.c.state)).scalars().all()
    assert states.count("ready") == 1
    assert sum(state in ("new", "measuring") for state in states) == 11
    assert page.is_visible("[data-bar=unsure]")
    page.keyboard.press("k")
    saved(page)
    page.evaluate("document.addEventListener('desk:remeasured', () => { window.again = true; })")
    desk.others.set()
    page.get_by_role("button", name="The bar is here").click()
    canvas = page.locator("#overlay")
    box = canvas.bounding_box()
    canvas.click(position={"x": box["width"] / 4, "y": box["height"] / 2})
    page.get_by_role("button", name="Measure again with this").click()
    until(page, "window.again === true", 20.0)
    assert not page.is_visible("[data-bar=unsure]"), page.evaluate(f"{DESK}.scene.raw.bar")
    with desk.workspace.read() as connection:
        (kept,) = connection.execute(sa.select(repairs.c.body)).scalars().all()
    assert (kept["x_px"], kept["y_px"]) == pytest.approx((160, 240), abs=2)
    assert desk.kinds(set_id) == ["keep"]
    page.locator("#review-cards .card[data-state=kept]").first.wait_for()


def _looked_through(page: Any, desk: Desk, set_id: str) -> None:
    """One dropped, one in other words, one accepted for this lifter, one seen besides, one mark; the rest kept."""
    page.locator(FORWARD).click(position={"x": 8, "y": 8})
    page.keyboard.press("w")
    page.keyboard.press("Control+a")
    page.keyboard.type("Out of the low the bar leaves your feet.")
    page.keyboard.press("Control+Enter")
    saved(page)
    page.locator(SHALLOW).click(position={"x": 8, "y": 8})
    page.keyboard.press("x")
    page.keyboard.press("Enter")
    page.locator(f"{SHALLOW}[data-state=dropped]").wait_for()
    page.locator(LOCKOUT).click(position={"x": 8, "y": 8})
    page.keyboard.press("a")
    page.locator(f"{LOCKOUT} [name=load]").fill("120")
    page.keyboard.press("Enter")
    page.get_by_text("up to 120 kg").wait_for()
    _observe(page)
    page.locator(FORWARD).click(position={"x": 8, "y": 8})
    page.keyboard.press("m")
    page.keyboard.press("1")
    box = page.locator("#overlay").bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    page.locator(f"{FORWARD} .mark").wait_for()
    saved(page)
    keep_the_rest(page, desk, set_id)
    kinds = desk.kinds(set_id)
    assert {k: kinds.count(k) for k in ("reword", "drop", "accept", "add", "mark")} == dict.fromkeys(
        ("reword", "drop", "accept", "add", "mark"), 1
    )


def _observe(page: Any) -> None:
    """Mark what only an eye sees, at a frame within a rep, by its key."""
    page.evaluate(f"{DESK}.toRep(2)")
    page.keyboard.press("o")
    page.locator("#palette-where", has_text="rep 2").wait_for()
    page.keyboard.press("b")
    page.get_by_text("Rep 2: The trunk is braced only after the descent has begun").wait_for()
    page.keyboard.press("Escape")
    saved(page)


def _spoken(page: Any, desk: Desk, set_id: str) -> None:
    """Twenty seconds over the set: what was heard and what stood meanwhile are within 40 ms in both files."""
    page.evaluate(f"{DESK}.layer('evidence', false)")
    page.evaluate(f"{DESK}.toRep(1)")
    page.evaluate(FRAMES)
    page.locator("#voice-part > summary").click()
    page.get_by_role("button", name="Record", exact=True).click()
    until(page, f"{VOICE}.begun")
    page.evaluate(SPEAK)
    page.locator("#voice-stop").click()
    until(page, f"{VOICE}.state.takes.length === 1", 15.0)
    assert page.evaluate(f"{VOICE}.state.length_s") > 19.5
    begun = page.evaluate(f"{VOICE}.begun")
    heard = (_heard(page.evaluate("window.pieces")) + page.evaluate("Math.min(...window.behind)") - begun) / 1000
    stood = np.array(page.evaluate("window.stood"))
    page.get_by_role("button", name="Make the videos").click()
    page.get_by_text("The videos are made.").wait_for(timeout=180_000)
    wide = desk.workspace.review(set_id) / "voice-over.mp4"
    late = _late(wide, heard, np.column_stack([(stood[:, 0] - begun) / 1000, stood[:, 1]]))
    upright = begins(wide.with_name("voice-over-upright.mp4"))
    print(f"sound against picture: {1000 * min(late):.0f} to {1000 * max(late):.0f} ms over {len(late)} beeps")
    assert len(late) > 15
    assert max(abs(one) for one in late) < 0.04
    assert upright == pytest.approx(begins(wide), abs=0.001)


def _heard(pieces: list[list[float]]) -> np.ndarray:
    """When beeps began on the track's clock, ms.

    On a busy machine single pieces are handed on late and say so as their time; those that follow are right again.
    So each is placed by the earliest of the next half second, counted back by what lies between.
    """
    begins, lengths, at = np.array(pieces).T
    before = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    least = [float(np.min((begins - before)[k : k + 50])) for k in range(len(begins))]
    found = [before[k] + least[k] + at[k] for k in np.flatnonzero(at >= 0)]
    return np.array([t for k, t in enumerate(found) if not k or t - found[k - 1] > 150])


def _late(film: Path, heard: np.ndarray, stood: np.ndarray) -> list[float]:
    """How much later than the picture each beep comes in the file than it came in the room, s.

    heard : when beeps came. stood : when which frame came to stand in the player.
    """
    shown, before = [], -1
    with av.open(str(film)) as container:
        for frame in container.decode(video=0):
            row = frame.to_ndarray(format="gray")[BLOCK // 2]
            n = sum(int(row[k * BLOCK + BLOCK // 2] > 128) << k for k in range(BITS))
            if n != before:
                shown.append((float(frame.pts * frame.time_base), n))
            before = n
    apart = []
    for at_s, n in shown:
        same = stood[stood[:, 1] == n, 0]
        if len(same) and np.min(np.abs(same - at_s)) < 0.3:
            apart.append((at_s, at_s - same[np.argmin(np.abs(same - at_s))]))
    moved, by = np.array(apart).T
    out = []
    for tone in begins(film):
        near = np.abs(moved - tone) < 0.5
        beep = heard[np.argmin(np.abs(heard - tone))]
        if near.sum() >= 3 and abs(beep - tone) < 0.2:
            out.append(float(tone - beep - np.median(by[near])))
    return out


def _sent_out(page: Any, browser: Any, desk: Desk, set_id: str) -> None:
    """Published; the lifter's page on a phone says what was kept, and nothing of what was dropped or accepted."""
    page.goto(f"/sets/{set_id}/publish")
    page.locator("[data-publish=lifter]").click()
    page.locator("section[data-kind=lifter]").get_by_text("It is out").wait_for(timeout=180_000)
    with desk.workspace.read() as connection:
        out = connection.execute(sa.select(publications.c.token)).scalar_one()
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(desk.workspace.published)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        phone = browser.new_context(viewport={"width": 390, "height": 844})
        view = phone.new_page()
        view.goto(f"http://127.0.0.1:{server.server_port}/l/{out}/")
        words = view.locator("main").inner_text()
        assert "Out of the low the bar leaves your feet." in words
        assert "trunk is braced" in words.lower() or "brace" in words.lower()
        for gone in ("shallower", "locked out"):
            assert gone not in words.lower()
        assert view.evaluate("document.documentElement.scrollWidth <= innerWidth")
        view.locator("video").first.evaluate("v => v.play()")
        until(view, "document.querySelector('video').currentTime > 0.1")
        phone.close()
    finally:
        server.shutdown()
        server.server_close()


def _weeks_later(page: Any, desk: Desk, set_id: str, body: bytes) -> None:
    """The days pass in the rows. Held by the figures; what only an eye tells is open until it is seen again."""
    back = timedelta(days=23)
    with desk.workspace.write() as connection:
        for column in (sets.c.received_at, publications.c.published_at, changes.c.opened_at):
            for key, at in connection.execute(sa.select(column.table.c.id, column)).all():
                own = column.table
                connection.execute(own.update().where(own.c.id == key).values({column.name: at - back}))
        for key, due in connection.execute(sa.select(follow_ups.c.id, follow_ups.c.due_on)).all():
            connection.execute(follow_ups.update().where(follow_ups.c.id == key).values(due_on=due - back))
    page.goto("/?show=due")
    expect(page.locator(f"#set-{set_id}").get_by_text("Follow-up due")).to_be_visible()

    drop(page, (LATER, body))
    becomes(desk, sa.select(clips.c.id).where(clips.c.received_name == LATER))
    later = desk.set_of(LATER)
    ready = sa.select(sets.c.id).where(sets.c.id == later, sets.c.state == "ready")
    becomes(desk, ready)
    page.goto("/")
    confirm(page, later, "Runa Holt")
    becomes(desk, ready.where(sets.c.context_confirmed.is_(True)))
    opened(page, later)
    assert verdicts(page) == {"held", "cannot_tell"}
    assert "less of it" in first_lines(page)
    assert "keep what you changed" in first_lines(page)
    _observe(page)
    page.locator(".verdict[data-verdict=not_held]").wait_for()
    assert verdicts(page) == {"held", "not_held"}
    assert "No less than last time yet" in first_lines(page) or "It is still there" in first_lines(page)


def verdicts(page: Any) -> set[str]:
    return set(page.locator(".verdict").evaluate_all("all => all.map((v) => v.dataset.verdict)"))


def first_lines(page: Any) -> str:
    """What the lifter's page says before it comes to what was asked."""
    words = str(page.locator("#review-page").text_content())
    before, asked, _ = words.partition("You asked")
    assert asked
    _, since, said = before.partition("Since the last review")
    assert since
    return said
