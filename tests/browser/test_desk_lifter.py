"""A lifter's page in a real browser: the chart is drawn under the page's policy and a point leads to its set."""

from __future__ import annotations

from typing import Any

import pytest
import sqlalchemy as sa
from desk_rows import put_lifter, put_set
from playwright.sync_api import expect
from served import open_page, served

from midfoot.store import Workspace
from midfoot.store.tables import measurements

pytestmark = pytest.mark.browser


def test_technique_against_load_is_drawn_and_leads_to_the_set(chromium: Any, workspace: Workspace) -> None:
    """Two points with their lines; by day and by night in the page's own ink; erasing waits for the name."""
    with workspace.write() as connection:
        runa = put_lifter(connection, "Runa Vik")
        for load, value in ((120.0, 31.0), (140.0, 45.0)):
            set_id, clip_id = put_set(connection, lifter_id=runa, load_kg=load, hours_ago=200 - load)
            level = {"value": value, "sd": 4.0, "unit": "mm", "reps": 3}
            connection.execute(
                sa.update(measurements)
                .where(measurements.c.clip_id == clip_id)
                .values(numbers={"view": {"class": "side", "yaw_deg": 0.0}, "scale_pct": 0.5, "best_rep": 1,
                                 "reps": 3, "levels": {"path_departure_mm": level}})
            )  # fmt: skip
    with served(workspace) as address:
        page = open_page(chromium, address, color_scheme="light")
        page.goto(f"/lifters/{runa}")
        points = page.locator("#course svg .mark-symbol path")
        expect(points).to_have_count(2, timeout=40_000)  # the program is built at its first use
        day = page.locator("#course svg text").first.evaluate("e => getComputedStyle(e).fill")
        page.locator("#theme").click()
        night = "rgb(236, 232, 221)"
        expect(page.locator("#course svg text").first).to_have_attribute("fill", night)
        assert day == "rgb(36, 44, 54)"

        page.locator("summary", has_text="Erase everything").click()
        erase = page.locator("#erase")
        expect(erase).to_be_disabled()
        page.fill("#erase-name", "Runa Vik")
        expect(erase).to_be_enabled()
        assert page.complaints == []
        points.last.click()
        page.wait_for_url(f"**/sets/{set_id}")
        page.context.close()
