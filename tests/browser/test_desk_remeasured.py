"""A bar pointed at in the page of a drawn clip, measured by the real worker: its numbers come into the open page.

Held against the truth of the drawn demo set (tests/data/demo/squat.json): where the near end is, when the rep
starts.
"""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from desk_sets import put_received
from served import open_page, served

from midfoot.desk.repair_rows import add_repair
from midfoot.jobs import KINDS
from midfoot.jobs.worker import work_on
from midfoot.records.review import Edit
from midfoot.store import Workspace, tables
from midfoot.store.rows import append_edit, edits_of

pytestmark = [pytest.mark.browser, pytest.mark.footage]
TRUTH = json.loads((Path(__file__).parent.parent / "data" / "demo" / "squat.json").read_text())
PART = {"from_s": 4.4, "to_s": 8.9}
"""The first rep with what stands about it, so that it is measured in seconds."""
AT_S = 5.0


def test_pointed_at_in_the_page_and_measured(chromium: Any, tmp_path: Path) -> None:
    with Workspace.create(tmp_path / "workspace") as workspace:
        set_id, clip_id = put_received(workspace, "squat")
        with workspace.write() as c:
            add_repair(c, clip_id, "trim", PART)
            append_edit(c, set_id, Edit(id="e1", kind="note", text="ask about the shoes"))
        with served(workspace) as address:
            page = open_page(chromium, address)
            page.goto(f"/sets/{set_id}")
            page.wait_for_selector("#viewer[data-ready]", state="attached")
            page.evaluate("document.addEventListener('desk:remeasured', () => window.again = true)")
            page.evaluate(f"window.midfootDesk.player.seek({AT_S})")
            x, y = TRUTH["near_px"][int(np.argmin(np.abs(np.array(TRUTH["t_s"]) - AT_S)))]
            page.evaluate("document.getElementById('repair-part').open = true")
            page.get_by_role("button", name="The bar is here").click()
            canvas = page.locator("#overlay")
            box = canvas.bounding_box()
            place = {"x": x / TRUTH["width_px"] * box["width"], "y": y / TRUTH["height_px"] * box["height"]}
            canvas.click(position=place)
            page.get_by_role("button", name="Measure again with this").click()
            page.wait_for_selector(".repair-list li >> nth=1")

            work_on(workspace, "here", {"measure": KINDS["measure"]}, threading.Event(), until_idle=True)

            for _ in range(200):
                if page.evaluate("window.again === true"):
                    break
                page.wait_for_timeout(50)
            reps = page.evaluate("window.midfootDesk.scene.raw.reps.map(r => r.start_s)")
            assert reps == pytest.approx([TRUTH["events"][0]["start_s"]], abs=0.06)
            assert page.evaluate("window.midfootDesk.player.time") == pytest.approx(AT_S, abs=0.04)
            with workspace.read() as c:
                current = tables.measurements.c.is_current.is_(True)
                row = c.execute(sa.select(tables.measurements).where(current)).one()
                assert [e.text for e in edits_of(c, set_id)] == ["ask about the shoes"]
            document = json.loads((workspace.path / row.folder / "measurement.json").read_text())
            steps = {s["name"]: s["parameters"] for s in document["provenance"]["steps"]}
            assert row.repairs_to == 2
            assert steps["bar"]["bar_at"] == pytest.approx([x, y, AT_S], abs=2.0)
            assert (steps["footage"]["from_s"], steps["footage"]["to_s"]) == (PART["from_s"], PART["to_s"])
            page.context.close()
