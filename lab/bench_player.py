"""How quick a set's page is in Chromium: until it can be used, from a key to the frame, from a jump to the frame.

python -m lab.bench_player WORKSPACE [SET ...]; without sets, all measured ones. Medians and 95 % values in ms.
The page is opened in a fresh context each time (nothing cached); frames are timed inside the page, from the key's
event to the frame that the browser reports as shown.
"""

from __future__ import annotations

import argparse
import secrets
import socket
import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from midfoot.store import Workspace, tables
from midfoot.web.security import COOKIE
from midfoot.web.serve import server_of

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
LOADS, STEPS, JUMPS = 5, 300, 60
WALK = """async ([count, jumps]) => {
  const player = window.midfootDesk.player, n = player.clock.count, steps = [], far = [];
  let wrong = 0;
  const shows = (frame) => new Promise((done, no) => {
    const off = player.on('frame', (f) => { if (f.frame === frame) { off(); done(); } });
    setTimeout(() => { off(); no(new Error('not shown')); }, 5000);
  });
  for (let k = 1; k <= Math.min(count, n - 1); k++) {
    const stands = shows(k), t = performance.now();
    document.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));
    try { await stands; } catch { wrong++; }
    steps.push(performance.now() - t);
  }
  for (let k = 0; k < jumps; k++) {
    const frame = (k * 7919) % n;
    if (frame === player.shown) continue;
    const stands = shows(frame), t = performance.now();
    player.show(frame);
    try { await stands; } catch { wrong++; }
    far.push(performance.now() - t);
  }
  return { steps, far, wrong, frames: n };
}"""


@contextmanager
def served(workspace: Workspace, token: str) -> Iterator[str]:
    """Serve a workspace on a free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = server_of(workspace, port=port, token=token)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(10)


def measured_sets(workspace: Workspace) -> list[str]:
    """Give the sets whose main clip is measured."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(tables.sets.c.id).join(
                tables.measurements,
                sa.and_(
                    tables.measurements.c.clip_id == tables.sets.c.main_clip_id,
                    tables.measurements.c.is_current.is_(True),
                ),
            )
        )
        return [row.id for row in rows]


def one_set(browser: Any, address: str, token: str, set_id: str) -> dict[str, Any]:
    """Open one set's page several times, then walk through its frames."""
    ready, page = [], None
    for _ in range(LOADS):
        if page is not None:
            page.context.close()
        context = browser.new_context(viewport={"width": 1440, "height": 900}, base_url=address)
        context.add_cookies([{"name": COOKIE, "value": token, "url": address}])
        page = context.new_page()
        start = time.perf_counter()
        page.goto(f"/sets/{set_id}", wait_until="commit")
        page.wait_for_selector("#viewer[data-ready]", state="attached")
        ready.append(1000 * (time.perf_counter() - start))
    assert page is not None
    page.wait_for_selector("#viewer[data-charts]", state="attached")
    found = page.evaluate(WALK, [STEPS, JUMPS])
    page.context.close()
    return {"ready": ready, **found}


def said(values: list[float]) -> str:
    """Median and 95 % value."""
    ranked = sorted(values)
    return f"{statistics.median(ranked):.0f} ms (95 %: {ranked[int(0.95 * (len(ranked) - 1))]:.0f})"


def main() -> None:
    """Print a line a set."""
    from playwright.sync_api import sync_playwright

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("workspace", type=Path)
    parser.add_argument("sets", nargs="*")
    asked = parser.parse_args()
    token = secrets.token_hex(16)
    with Workspace.open(asked.workspace) as workspace, served(workspace, token) as address, sync_playwright() as p:
        browser = p.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for set_id in asked.sets or measured_sets(workspace):
            got = one_set(browser, address, token, set_id)
            print(
                f"{set_id}: ready {said(got['ready'])}; key to frame {said(got['steps'])} over "
                f"{len(got['steps'])} steps; jump to frame {said(got['far'])} over {len(got['far'])}; "
                f"frames not shown {got['wrong']}"
            )
        browser.close()


if __name__ == "__main__":
    main()
