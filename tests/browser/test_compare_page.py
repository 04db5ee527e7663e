"""The page of two sets compared, in a real browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from attrs import evolve
from axe_playwright_python.sync_playwright import Axe
from sets import made_measurement

from midfoot.history import compare
from midfoot.publish.compare_page import compare_html
from midfoot.records.measures import Measure

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two made sets, the second with a larger departure."""
    first = made_measurement()
    rows = tuple(
        tuple(evolve(m, value=m.value + 40) if isinstance(m, Measure) and m.id == "path_departure_mm" and m.value
              is not None else m for m in row)
        for row in first.measured.reps
    )  # fmt: skip
    second = evolve(first, measured=evolve(first.measured, reps=rows))
    found = compare(first, second, titles={}, good={}, names=("before", "after"))
    path = tmp_path_factory.mktemp("compare") / "compare.html"
    path.write_text(compare_html(found, first, second))
    return path


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_axe_finds_nothing_and_the_page_does_not_scroll_sideways(
    chromium: Any, page_file: Path, width: int, scheme: str
) -> None:
    """Outside check: the axe-core rules (WCAG 2.x A and AA among them), as packaged by axe-playwright-python."""
    page = chromium.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page.goto(page_file.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")

    found = Axe().run(page).response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()
