"""The report in a real browser: wide and on a phone, by keyboard, without axe findings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from publish.test_findings_section import found

from midfoot.publish import key_moments, report_html, still_picture
from midfoot.records.clip import Frame

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report with everything in it: a finding, stills, grid, charts, table, a video that is named."""
    measurement = found()
    rgb = np.full((480, 640, 3), 120, np.uint8)
    frame = Frame(0, 0.0, rgb[:, :, 0], lambda: rgb)
    pictures = {s: still_picture(measurement, s, frame) for s in key_moments(measurement)}
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_html(measurement, pictures, video="annotated.mp4"))
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_axe_finds_nothing_and_the_page_does_not_scroll_sideways(
    chromium: Any, report: Path, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), as packaged by axe-playwright-python."""
    page = chromium.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page.goto(report.as_uri())

    found = Axe().run(page).response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


def test_scrolling_parts_are_reached_by_keyboard(chromium: Any, report: Path) -> None:
    """Tab walks through the video, the strip of stills, the paths and the table."""
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.goto(report.as_uri())
    names = set()
    for _ in range(40):
        page.keyboard.press("Tab")
        names.add(
            page.evaluate("document.activeElement.getAttribute('aria-label') || document.activeElement.tagName")
        )

    assert {"Key moments, scrolls sideways", "Table of reps, scrolls sideways", "SUMMARY"} <= names
    page.close()


def test_nothing_is_asked_of_the_network(chromium: Any, report: Path) -> None:
    """The page and the video beside it are all that is loaded."""
    page = chromium.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(report.as_uri())
    page.wait_for_timeout(300)

    assert all(url.startswith(("file:", "data:")) for url in asked)
    page.close()
