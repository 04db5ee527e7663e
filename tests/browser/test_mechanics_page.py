"""The page of moments and moment arms in a real browser: wide and on a phone, without axe findings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from figure import measured, with_clip

from midfoot.cli.app import run

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", params=["frames", "drawing"])
def page_file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page with frames of the clip, and with the figure drawn where there is no clip."""
    folder = tmp_path_factory.mktemp("mechanics")
    clip = with_clip(folder) if request.param == "frames" else measured(folder)
    more = ["--clip", str(clip)] if request.param == "frames" else []
    assert run(["mechanics", str(folder), "--body-mass", "80kg", "--stature", "175cm", "--sex", "m", *more]) == 0
    return folder / "mechanics.html"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_axe_finds_nothing_and_the_page_does_not_scroll_sideways(
    chromium: Any, page_file: Path, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), as packaged by axe-playwright-python."""
    page = chromium.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page.goto(page_file.as_uri())

    found = Axe().run(page).response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()
