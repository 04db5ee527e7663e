"""The lifter's page in a real browser: wide and on a phone, by keyboard, without axe findings, offline."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from attrs import evolve
from axe_playwright_python.sync_playwright import Axe
from clips import write_clip
from review.made import FAULTS, many, measured

from midfoot.publish import captions, coach_page, review_page, review_shots
from midfoot.records.context import Context
from midfoot.records.findings import Evidence
from midfoot.review import apply, draft_of, load_library, moment_words, script_of

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A review with everything in it: question, changes with frames, video, paths, chart."""
    context = Context(safeties="pins", rpe=8.0, question="Does it drift?", working_on=("depth",), lifter="Runa")
    measurement = measured("squat", FAULTS["squat"][:3], context)
    review = apply(draft_of(measurement, load_library()), ())
    script = script_of(review, moment_words(measurement))
    grey = np.full((480, 640, 3), 110, np.uint8)
    parts = {p.id: p for p in review.parts}
    shots: dict[str, list[Any]] = {}
    for shot in review_shots.shots_of(review, measurement):
        picture = review_shots.shot_picture(measurement, parts[shot.part], shot, grey, clean=True)
        shots.setdefault(shot.part, []).append((shot, picture))
    path = tmp_path_factory.mktemp("review") / "review.html"
    path.with_name("coach.html").write_text(
        coach_page.coach_html(measurement, review, script, [("maximum", "150 kg")])
    )
    frames = [np.full((1280, 720, 3), 90, np.uint8)] * 5
    write_clip(path.with_name("review.mp4"), times_s=np.arange(5) / 10, size=(720, 1280), pictures=frames)
    path.write_text(
        review_page.review_html(
            measurement, review, shots, curves=measurement.measured.curves, video="review.mp4",
            subtitles=captions.vtt(captions.cues_of(script)),
        )
    )  # fmt: skip
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", ["review.html", "coach.html"])
def test_axe_finds_nothing_and_the_page_does_not_scroll_sideways(
    chromium: Any, page_file: Path, name: str, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), as packaged by axe-playwright-python."""
    page = chromium.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page.goto(page_file.with_name(name).as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")

    found = Axe().run(page).response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


@pytest.mark.parametrize("width", [1440, 390])
def test_an_upright_video_fits_the_screen(chromium: Any, page_file: Path, width: int) -> None:
    """On a desktop it takes at most 70 % of the height and stands in the middle; on a phone the whole width."""
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.goto(page_file.as_uri())
    page.evaluate(
        "document.querySelector('video').removeAttribute('poster')"
    )  # until played it has the poster's size
    page.wait_for_function("document.querySelector('video').videoHeight > 0")
    box, main = page.locator("video").bounding_box(), page.locator("main").bounding_box()

    if width == 1440:
        assert 600 < box["height"] <= 631
        assert box["x"] + box["width"] / 2 == pytest.approx(main["x"] + main["width"] / 2, abs=1)
    else:
        assert box["width"] == pytest.approx(390 - 36, abs=1)
    assert box["width"] / box["height"] == pytest.approx(720 / 1280, abs=0.01)
    page.close()


def test_the_figure_is_on_tap_and_by_keyboard(chromium: Any, page_file: Path) -> None:
    """Closed at first; Enter on the focused range opens it."""
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.goto(page_file.as_uri())
    figure = page.locator("details.figure").first
    assert not figure.locator("dl").is_visible()

    figure.locator("summary").focus()
    page.keyboard.press("Enter")

    assert figure.locator("dl").is_visible()
    assert "sd" in figure.locator("dl").inner_text()
    page.close()


def test_subtitles_are_loaded_from_the_page_itself(chromium: Any, page_file: Path) -> None:
    """The browser parses the cues; nothing is asked of the network."""
    page = chromium.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(page_file.as_uri())
    page.wait_for_function("document.querySelector('track').track.cues?.length > 5")

    assert all(url.startswith(("file:", "data:")) for url in asked)
    page.close()


def test_the_coach_s_figures_of_eight_reps_fit_a_wide_page(chromium: Any, tmp_path: Path) -> None:
    """The sd stands below its value, so that no rep is out of sight to the right."""
    measurement = many("bench", {FAULTS["bench"][0]: tuple(range(2, 9))}, 8, 1, held=True)
    shown = Evidence(
        measure="touch_point_mm", title="Way back on the way up", unit="mm", values=(-104.8,) * 8, sds=(0.45,) * 8,
        reference_rep=1,
    )  # fmt: skip
    found = [evolve(f, evidence=(shown,)) for f in measurement.found.findings]
    measurement = evolve(measurement, found=evolve(measurement.found, findings=tuple(found)))
    review = apply(draft_of(measurement, load_library()), ())
    file = tmp_path / "coach.html"
    file.write_text(coach_page.coach_html(measurement, review, script_of(review, moment_words(measurement)), []))
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.goto(file.as_uri())

    tables = page.evaluate(
        "[...document.querySelectorAll('.scroll')].map(e => [e.scrollWidth, e.clientWidth,"
        " e.querySelectorAll('thead th').length])"
    )

    page.close()
    assert tables
    for needed, there, columns in tables:
        assert columns == 9
        assert needed <= there
