"""The viewing half of a set in Chromium: the right frame, loops, keys, charts, putting right, both widths."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from attrs import evolve, frozen
from axe_playwright_python.sync_playwright import Axe
from served import open_page, served, until
from sets import made_measurement
from shown_sets import READ_CODE, add_shown, put_measurement, varying

from midfoot.desk.repair_rows import repairs_of
from midfoot.records.bar import Candidate
from midfoot.records.measures import Measurement
from midfoot.records.review import Edit
from midfoot.store import Workspace, tables
from midfoot.store.columns import now
from midfoot.store.rows import append_edit, edits_of

pytestmark = pytest.mark.browser
FRAMES = 320
TIMES = varying(FRAMES)
DESK = "window.midfootDesk"


def measured(**track: Any) -> Measurement:
    """The made squat, its samples at the clip's own timestamps."""
    made = made_measurement()
    data = evolve(made.data, clip=evolve(made.data.clip, frames=FRAMES, duration_s=float(TIMES[-1])))
    return evolve(made, data=evolve(data, track=evolve(data.track, **track)) if track else data)


@frozen
class Shown:
    """A desk with one set in it."""

    workspace: Workspace
    address: str
    set_id: str
    clip_id: str


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shown]:
    """A measured set and an earlier one; the tests leave both as they found them and add sets of their own."""
    with Workspace.create(tmp_path_factory.mktemp("player") / "workspace") as workspace:
        with workspace.write() as c:
            c.execute(tables.lifters.insert().values(id="aa01", name="Runa Tideway", shown_name="Runa"))
        add_shown(workspace, measured(), TIMES, lifter_id="aa01")
        set_id, clip_id = add_shown(workspace, measured(), TIMES, lifter_id="aa01")
        with served(workspace) as address:
            yield Shown(workspace, address, set_id, clip_id)


def opened(chromium: Any, shown: Shown, **more: Any) -> Any:
    page = open_page(chromium, shown.address, **more)
    page.goto(f"/sets/{shown.set_id}")
    page.wait_for_selector("#viewer[data-ready]", state="attached")
    until(page, f"{DESK}.player.shown === 0")
    return page


def rest(page: Any, frame: int) -> None:
    """Wait until a frame stands in the picture."""
    until(page, f"{DESK}.player.shown === {frame} && !{DESK}.player.video.seeking")


def code(page: Any) -> int:
    return int(page.eval_on_selector("#video", READ_CODE))


STEPS = f"""async count => {{
  const read = {READ_CODE}, player = {DESK}.player, video = player.video, found = [];
  let media = -1;
  const watch = (_, what) => {{ media = what.mediaTime; video.requestVideoFrameCallback(watch); }};
  video.requestVideoFrameCallback(watch);
  for (let k = 1; k <= count; k++) {{
    const stands = new Promise((done) => {{ const off = player.on('frame', () => {{ off(); done(); }}); }});
    document.dispatchEvent(new KeyboardEvent('keydown', {{ key: 'ArrowRight', bubbles: true }}));
    await Promise.race([stands, new Promise((_, no) => setTimeout(no, 3000))]);
    await new Promise((done) => setTimeout(done));
    found.push([player.shown, media, read(video)]);
  }}
  return found;
}}"""


def test_three_hundred_steps_show_three_hundred_right_frames(chromium: Any, shown: Shown) -> None:
    """Known from outside: each picture carries its number, and the timestamps were written by the test."""
    page = opened(chromium, shown)

    found = page.evaluate(STEPS, 300)

    assert [n for n, *_ in found] == list(range(1, 301))
    assert [number for _, _, number in found] == list(range(1, 301))
    assert [media for _, media, *_ in found] == pytest.approx(TIMES[1:301].tolist(), abs=0.001)
    assert page.complaints == []
    page.context.close()


def test_stepping_without_frame_callbacks_shows_the_right_frames_too(chromium: Any, shown: Shown) -> None:
    page = open_page(chromium, shown.address)
    page.add_init_script("delete HTMLVideoElement.prototype.requestVideoFrameCallback")
    page.goto(f"/sets/{shown.set_id}")
    page.wait_for_selector("#viewer[data-ready]", state="attached")
    for k in (1, 2, 3):
        page.keyboard.press("ArrowRight")
        rest(page, k)
        page.wait_for_timeout(60)
        assert code(page) == k
    page.context.close()


def test_keys_go_where_the_sheet_says(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    reps = page.evaluate(f"{DESK}.scene.raw.reps.map(r => r.start_s)")

    def nearest(t_s: float) -> int:
        return int(np.argmin(np.abs(TIMES - t_s)))

    for key, frame in [
        ("Shift+ArrowRight", 10), ("ArrowLeft", 9), (".", 10), ("]", nearest(reps[0])), ("]", nearest(reps[1])),
        ("[", nearest(reps[0])), ("2", nearest(reps[1])), ("End", FRAMES - 1), ("Home", 0),
        ("l", nearest(1.0)), ("j", 0),
    ]:  # fmt: skip
        page.keyboard.press(key)
        rest(page, frame)
        assert code(page) == frame, key
    page.keyboard.press("-")
    page.keyboard.press("-")
    assert page.evaluate(f"{DESK}.player.rate") == 0.25
    page.keyboard.press("0")
    assert page.evaluate(f"{DESK}.player.rate") == 1
    page.keyboard.press("?")
    sheet = page.inner_text("#keys")
    assert {"a frame on", "repeat this rep, or end it", "next finding", "moment arms"} <= set(sheet.split("\n"))
    page.context.close()


def test_no_key_is_bound_twice_on_the_page(chromium: Any, shown: Shown) -> None:
    """Player and review share one keyboard: every line of the sheet has a key of its own."""
    page = opened(chromium, shown)
    page.keyboard.press("?")
    keys = page.eval_on_selector_all(
        "#keys dt", "list => list.map(dt => [...dt.children].map(k => k.textContent).join('+'))"
    )

    assert len(keys) > 30
    assert sorted({k for k in keys if keys.count(k) > 1}) == []
    page.context.close()


def test_fast_presses_end_on_the_frame_that_they_add_up_to(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    for _ in range(25):
        page.keyboard.press("ArrowRight", delay=0)
    rest(page, 25)
    assert code(page) == 25
    page.context.close()


def test_a_rep_is_repeated_and_nothing_else(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    page.keyboard.press("1")
    page.keyboard.press("r")
    a, b = page.evaluate(f"(({{a, b}}) => [a, b])({DESK}.player.span)")
    page.evaluate(
        f"""{DESK}.player.rate = 1; window.seen = [];
        {DESK}.player.on('frame', ({{frame}}) => window.seen.push(frame));
        {DESK}.player.seek({DESK}.player.clock.timeOf({b}) - 0.5)"""
    )
    until(page, "!document.querySelector('#video').seeking")
    page.evaluate("window.seen.length = 0")
    page.keyboard.press(" ")
    until(page, f"window.seen.some((f, i) => i && f < window.seen[i - 1] && f <= {a} + 4)")
    page.wait_for_timeout(300)
    page.keyboard.press(" ")
    seen = page.evaluate("window.seen")

    assert min(seen) >= a
    assert max(seen) <= b
    page.keyboard.press("r")
    assert page.evaluate(f"{DESK}.player.span") is None
    page.context.close()


def test_a_click_in_a_chart_seeks_and_the_playhead_follows(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    page.wait_for_selector("#viewer[data-charts]", state="attached")
    page.evaluate("document.querySelector('#charts').scrollIntoView()")
    canvas = page.locator("#charts figure.wide canvas").first
    box = canvas.bounding_box()
    x = round(box["width"] * 0.55)
    page.mouse.click(box["x"] + x, box["y"] + box["height"] * 0.4)
    until(page, f"{DESK}.player.frame > 20")
    wanted = page.evaluate(f"(v => v.scale('x').invert({x} - v.origin()[0]))({DESK}.charts.views.get('height'))")
    frame = page.evaluate(f"{DESK}.player.frame")
    assert TIMES[frame] == pytest.approx(wanted, abs=0.03)
    rest(page, frame)
    assert code(page) == frame
    until(page, f"Math.abs({DESK}.charts.views.get('height').signal('at') - {TIMES[frame]}) < 0.002")

    page.keyboard.press("1")
    page.keyboard.press("Shift+ArrowRight")
    page.evaluate(f"{DESK}.player.seek({DESK}.scene.rep(1).reference_s + 0.4)")
    until(page, f"{DESK}.charts.views.get('velocity_over_height').signal('here_x') !== null")
    page.context.close()


def test_the_timeline_is_a_slider_that_is_dragged_and_read_aloud(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    slider = page.get_by_role("slider", name="Moment of the clip")
    box = slider.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 25)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 25, steps=4)
    page.mouse.up()
    frame = page.evaluate(f"{DESK}.player.frame")
    assert TIMES[frame] == pytest.approx(TIMES[-1] * 0.5, abs=0.08)
    rest(page, frame)
    assert code(page) == frame
    assert slider.get_attribute("aria-valuetext").startswith(f"{TIMES[frame]:.2f} seconds")
    slider.press("ArrowUp")
    until(page, f"{DESK}.player.frame > {frame} + 20")
    page.context.close()


def test_two_pictures_go_in_step_by_the_parts_of_their_reps(chromium: Any, shown: Shown) -> None:
    """The low of one rep stands beside the low of the other, though they come at other times."""
    page = opened(chromium, shown)
    page.keyboard.press("c")
    page.wait_for_selector("#beside-close:visible")
    until(page, f"{DESK}.beside.other.player.shown >= 0")
    mine, its = page.evaluate("[Number(document.querySelector('#beside-rep').value), "
                              "Number(document.querySelector('#beside-other').value)]")  # fmt: skip
    assert mine != its
    low = page.evaluate(
        f"[{mine}, {its}].map(n => {DESK}.scene.rep(n).moments.find(m => m.name === 'low_end_s').at_s)"
    )
    frames = [int(np.argmin(np.abs(TIMES - t))) for t in low]
    page.evaluate(f"{DESK}.player.seek({low[0]})")
    rest(page, frames[0])
    until(page, f"Math.abs({DESK}.beside.other.player.shown - {frames[1]}) <= 1")
    page.context.close()


def test_the_end_of_work_that_a_page_shows_already_is_no_new_measurement(chromium: Any, shown: Shown) -> None:
    """Seen on a busy machine: a set is ready before its job is done (pictures come last), and the server's look
    at the work is up to a beat old. A page made between the two announced what it showed already as new."""
    set_id, clip_id = add_shown(shown.workspace, measured(), TIMES)
    page = open_page(chromium, shown.address)

    def tell(route: Any) -> None:
        job = {"id": "j1", "kind": "measure", "set": set_id, "progress": 0.5, "message": "", "error": ""}
        rows = [{**job, "state": state} for state in ("running", "done")]
        body = "retry: 300\n\n" + "".join(f"event: job\ndata: {json.dumps(r)}\n\n" for r in rows)
        route.fulfill(body=body, content_type="text/event-stream")

    page.route("**/events", tell)
    page.add_init_script(
        "window.again = []; document.addEventListener('desk:remeasured', () => window.again.push(1))"
    )
    asked = []
    page.on("response", lambda got: asked.append(got.url) if "/numbers?" in got.url else None)
    page.goto(f"/sets/{set_id}")
    page.wait_for_selector("#viewer[data-ready]", state="attached")
    while len(asked) < 3:  # two looks at what ended are over
        page.wait_for_timeout(50)
    assert page.evaluate("window.again") == []
    put_measurement(shown.workspace, clip_id, measured(status="unsure"), "another")
    until(page, "window.again.length > 0")
    while len(asked) < 8:
        page.wait_for_timeout(50)
    assert page.evaluate("window.again") == [1]
    page.context.close()


def test_a_new_measurement_that_does_not_come_is_said(chromium: Any, shown: Shown) -> None:
    """And what stands there is not announced as new."""
    page = opened(chromium, shown)
    page.evaluate("window.again = 0; document.addEventListener('desk:remeasured', () => window.again++)")
    page.route("**/scene.json*", lambda route: route.abort())
    page.evaluate(f"{DESK}.refresh()")
    page.get_by_text("The new measurement could not be loaded; reload the page.").wait_for()
    assert page.evaluate("window.again") == 0
    page.context.close()


def test_the_bar_put_right_by_a_click_is_measured_again_and_the_review_stays(chromium: Any, shown: Shown) -> None:
    """The measuring itself is stood in for: its row and its job are written as the worker does."""
    workspace, address = shown.workspace, shown.address
    first = measured(status="unsure", candidates=(Candidate(200.0, 150.0, 40.0, 1.0, 0.5),))
    set_id, clip_id = add_shown(workspace, first, TIMES)
    with workspace.write() as c:
        append_edit(c, set_id, Edit(id="e1", kind="note", text="ask about the shoes"))
    here = Shown(workspace, address, set_id, clip_id)
    page = opened(chromium, here)
    page.evaluate("window.again = 0; document.addEventListener('desk:remeasured', () => window.again++)")
    assert page.is_visible("[data-bar=unsure]")
    page.keyboard.press("Shift+ArrowRight")
    rest(page, 10)
    page.get_by_role("button", name="The bar is here").click()
    canvas = page.locator("#overlay")
    box = canvas.bounding_box()
    canvas.click(position={"x": box["width"] / 4, "y": box["height"] / 2})
    page.get_by_role("button", name="Measure again with this").click()
    page.wait_for_selector(".repair-list li")

    with workspace.read() as c:
        (made,) = repairs_of(c, clip_id)
        job = c.execute(sa.select(tables.jobs).where(tables.jobs.c.key == f"measure:{clip_id}")).one()
    assert made.kind == "bar_at"
    assert made.body["x_px"] == pytest.approx(160, abs=1.5)
    assert made.body["y_px"] == pytest.approx(240, abs=1.5)
    assert made.body["at_s"] == pytest.approx(TIMES[10], abs=1e-4)
    assert (job.kind, job.key, job.state) == ("measure", f"measure:{clip_id}", "queued")

    put_measurement(workspace, clip_id, measured(), "second")
    with workspace.write() as c:
        done = tables.jobs.update().where(tables.jobs.c.key == f"measure:{clip_id}")
        c.execute(done.values(state="done", finished_at=now()))
    until(page, "window.again === 1")
    assert page.evaluate(f"{DESK}.scene.raw.bar.status") == "found"
    assert page.evaluate(f"{DESK}.player.shown") == 10
    assert not page.is_visible("[data-bar=unsure]")
    with workspace.read() as c:
        assert [e.text for e in edits_of(c, set_id)] == ["ask about the shoes"]

    page.get_by_role("button", name="Take back").click()
    page.wait_for_selector(".repair-list li.undone")
    with workspace.read() as c:
        assert [r.undone for r in repairs_of(c, clip_id)] == [True]
    assert [w for w in page.complaints if "422" not in w] == []
    page.context.close()


def test_a_rep_that_is_missing_and_one_that_is_none_are_put_right_by_key(chromium: Any, shown: Shown) -> None:
    """Two frames taken for its ends; then the first rep of the two is said to be none. On the file's own clock."""
    set_id, clip_id = add_shown(shown.workspace, measured(), TIMES)
    page = opened(chromium, Shown(shown.workspace, shown.address, set_id, clip_id))
    page.evaluate(f"{DESK}.player.show(250)")
    rest(page, 250)
    page.keyboard.press("i")
    page.get_by_role("button", name="Starts at this frame").click()
    page.evaluate(f"{DESK}.player.show(300)")
    rest(page, 300)
    page.get_by_role("button", name="Ends at this frame").click()
    page.get_by_role("button", name="Measure again with this").click()
    page.wait_for_selector(".repair-list li")
    page.evaluate(f"{DESK}.toRep(1)")
    page.locator("#viewer").evaluate("e => e.focus()")
    page.keyboard.press("Shift+i")
    assert page.input_value("#r-rep") == "1"
    page.get_by_role("button", name="Measure again with this").click()
    page.wait_for_selector(".repair-list li >> nth=1")

    assert page.locator(".repair-list li span").all_inner_texts() == [
        "Rep 1 at 2.26 s is none",
        f"A rep was missing: from {TIMES[250]:.2f} s to {TIMES[300]:.2f} s",
    ]
    with shown.workspace.read() as c:
        missing, false = repairs_of(c, clip_id)
    assert missing.body == pytest.approx({"from_s": TIMES[250], "to_s": TIMES[300]}, abs=0.006)
    assert (false.kind, false.body["rep"]) == ("no_rep", 1)
    assert page.complaints == []
    page.context.close()


def test_an_earlier_set_is_laid_over_the_charts_and_stands_beside(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    page.wait_for_selector("#viewer[data-charts]", state="attached")
    page.select_option("#chart-other", index=1)
    until(page, f"{DESK}.charts.views.get('velocity_over_height').data('other').length > 20")
    assert "drawn in broken lines" in page.inner_text("#chart-why")
    page.select_option("#chart-other", index=0)
    until(page, f"{DESK}.charts.views.get('velocity_over_height').data('other').length === 0")

    page.evaluate("document.getElementById('beside-part').open = true")
    page.select_option("#beside-set", index=1)
    until(page, "document.querySelector('#beside-other').options.length === 2")
    page.get_by_role("button", name="Show side by side").click()
    until(page, f"{DESK}.beside.other?.player.shown >= 0")
    other = page.evaluate(f"{DESK}.beside.other.player.video.src")
    assert other.startswith(f"{shown.address}/clips/")
    assert shown.clip_id not in other
    page.get_by_role("button", name="One picture again").click()
    assert page.evaluate(f"{DESK}.beside.other") is None
    assert page.complaints == []
    page.context.close()


def test_a_part_is_dragged_and_a_moment_nudged_by_frames(chromium: Any, shown: Shown) -> None:
    workspace, address = shown.workspace, shown.address
    set_id, clip_id = add_shown(workspace, measured(), TIMES)
    page = opened(chromium, Shown(workspace, address, set_id, clip_id))
    page.evaluate("document.getElementById('repair-part').open = true")
    page.get_by_role("button", name="Part to measure").click()
    slider = page.get_by_role("slider", name="Moment of the clip")
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    page.mouse.move(box["x"] + 1, box["y"] + 30)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.1, box["y"] + 30, steps=3)
    page.mouse.up()
    page.get_by_role("button", name="Measure again with this").click()
    page.wait_for_selector(".repair-list li")

    page.get_by_role("button", name="A moment of a rep").click()
    page.select_option("#r-rep", "2")
    page.select_option("#r-moment", "low_end_s")
    before = int(np.argmin(np.abs(TIMES - page.evaluate(f"{DESK}.timeline.moment.at_s"))))
    for _ in range(3):
        page.get_by_role("button", name="A frame later").click()
    page.get_by_role("button", name="Measure again with this").click()
    page.wait_for_selector(".repair-list li >> nth=1")
    with workspace.read() as c:
        trim, moment = repairs_of(c, clip_id)
    assert trim.body["from_s"] == pytest.approx(0.1 * TIMES[-1], abs=0.06)
    assert trim.body["from_s"] == pytest.approx(TIMES[np.argmin(np.abs(TIMES - trim.body["from_s"]))], abs=1e-4)
    assert trim.body["to_s"] is None
    assert (moment.body["rep"], moment.body["moment"]) == (2, "low_end_s")
    assert moment.body["at_s"] == pytest.approx(TIMES[before + 3], abs=1e-4)
    page.context.close()


def test_one_tap_takes_a_place_that_the_bar_may_be(chromium: Any, shown: Shown) -> None:
    workspace, address = shown.workspace, shown.address
    unsure = measured(status="unsure", candidates=(Candidate(480.0, 360.0, 40.0, 1.5, 0.5),))
    set_id, clip_id = add_shown(workspace, unsure, TIMES)
    page = opened(chromium, Shown(workspace, address, set_id, clip_id), width=390, has_touch=True)
    box = page.locator("#overlay").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.75, box["y"] + box["height"] * 0.75)
    page.wait_for_selector(".repair-list li", state="attached")
    with workspace.read() as c:
        (made,) = repairs_of(c, clip_id)
    assert (made.kind, made.body["x_px"], made.body["at_s"]) == ("bar_at", 480.0, 1.5)
    page.context.close()


def test_a_clip_that_is_not_measured_plays_and_takes_points_in_its_own_pixels(chromium: Any, shown: Shown) -> None:
    """Its picture is 640 x 480, though nothing was measured yet and the proxy may come at any time."""
    workspace, address = shown.workspace, shown.address
    set_id, clip_id = add_shown(workspace, None, TIMES[:60])
    page = opened(chromium, Shown(workspace, address, set_id, clip_id))
    assert page.evaluate(f"{DESK}.overlay.size") == [640, 480]
    page.keyboard.press("ArrowRight")
    rest(page, 1)
    page.keyboard.press("q")
    box = page.locator("#overlay").bounding_box()
    page.locator("#overlay").click(position={"x": box["width"] / 2, "y": box["height"] / 2})
    until(page, f"{DESK}.repairs.points.length === 1")
    assert page.evaluate(f"{DESK}.repairs.points[0]") == pytest.approx([320, 240], abs=1.5)
    assert page.complaints == []
    page.context.close()


def test_points_are_set_by_keys_alone(chromium: Any, shown: Shown) -> None:
    page = opened(chromium, shown)
    page.keyboard.press("q")
    page.wait_for_selector("#picture.picking")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector("#picture:not(.picking)")
    assert page.evaluate(f"{DESK}.repairs.points") == [[322, 260]]
    assert page.evaluate(f"{DESK}.player.frame") == 0
    page.get_by_role("button", name="Leave it").click()
    page.context.close()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (1440, "dark"), (390, "light"), (390, "dark")])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    chromium: Any, shown: Shown, width: int, scheme: str
) -> None:
    """Outside check: axe-core's rules, everything opened that can be; targets of 24 px (WCAG 2.2, 2.5.8)."""
    page = opened(chromium, shown, width=width, color_scheme=scheme)
    page.wait_for_selector("#viewer[data-charts]", state="attached")
    page.evaluate("document.querySelectorAll('details.part').forEach(d => d.open = true)")
    page.get_by_role("button", name="Two points and a length").click()
    page.keyboard.press("Escape")
    page.wait_for_timeout(200)

    found = Axe().run(page, context=".desk-view").response["violations"]
    assert [(v["id"], v["nodes"][0]["html"][:140]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """[...document.querySelectorAll('.desk-view :is(a, button, input, select, summary)')]
           .filter(e => e.checkVisibility()).map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
           .filter(([_, r]) => r.width < 24 || r.height < 24).map(([h]) => h)"""
    )
    assert small == []
    page.context.close()
