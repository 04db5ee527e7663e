"""How long the workspace takes with 10,000 sets: questions, units of writing, copies, looking through, erasing.

python -m lab.bench_store [--sets 10000] [--megabytes 400]
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from sets import made_measurement

from midfoot.desk.erase import erase_lifter
from midfoot.desk.glance import summary_of
from midfoot.desk.lifter import changes_of, course, everybody, measures_of, sets_of
from midfoot.history import numbers_of
from midfoot.records.review import Edit
from midfoot.store import Workspace
from midfoot.store import tables as t
from midfoot.store.backup import back_up
from midfoot.store.deep import look_through
from midfoot.store.restore import restore
from midfoot.store.rows import append_edit

AT = datetime(2031, 1, 1, tzinfo=UTC)
LIFTERS = 200


def fill(workspace: Workspace, count: int, megabytes: int) -> list[str]:
    """Put in lifters, sets, clips (some with content) and the numbers of 50 measures each."""
    numbers = numbers_of(made_measurement())
    numbers["levels"] |= {f"m{i}_mm": {"value": i, "sd": 0.5, "unit": "mm", "reps": 5} for i in range(45)}
    summary = summary_of(made_measurement())
    lifters = [f"{i:016x}" for i in range(LIFTERS)]
    contents = [workspace.blobs.put([os.urandom(1 << 20)] * 10) for _ in range(megabytes // 10)]
    with workspace.write() as c:
        c.execute(t.lifters.insert(), [{"id": i, "name": f"Lifter {i}"} for i in lifters])
        if contents:
            c.execute(t.blobs.insert(), [{"sha256": s, "bytes": 10 << 20} for s in contents])
        for n in range(count):
            own, clip = f"s{n:015x}", f"c{n:015x}"
            sha256 = contents[n % len(contents)] if contents else "0" * 64
            c.execute(t.sets.insert().values(
                id=own, lifter_id=random.choice(lifters), lift=random.choice(("squat", "bench", "deadlift")),
                load_kg=100, received_at=AT + timedelta(hours=n), main_clip_id=clip, state="ready",
                context={"rpe": 8.0, "rir": None, "competition": None},
            ))  # fmt: skip
            c.execute(t.clips.insert().values(id=clip, set_id=own, sha256=sha256))
            c.execute(
                t.measurements.insert().values(
                    clip_id=clip, input_key="f" * 64, numbers=numbers, folder=f"measured/{clip}/x",
                    summary=summary,
                )
            )  # fmt: skip
    return lifters


def asked(workspace: Workspace, name: str, ask: Callable[[Any], Any], times: int = 40) -> None:
    """Print the median and 95th percentile of a question."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        with workspace.read() as c:
            ask(c)
        took.append((time.perf_counter() - start) * 1e3)
    took.sort()
    print(f"{name:44} median {took[times // 2]:7.1f} ms   p95 {took[int(times * 0.95)]:7.1f} ms")


def pages(workspace: Workspace, lifter_id: str, times: int = 40) -> None:
    """Print how long the desk takes to answer with its list pages, without the network."""
    from starlette.testclient import TestClient

    from midfoot.web import create_app
    from midfoot.web.security import COOKIE

    token = "t" * 43
    with TestClient(create_app(workspace, token=token), base_url="http://127.0.0.1:8421") as client:
        client.cookies.set(COOKIE, token)
        for path in (
            "/",
            "/?show=ready",
            "/?show=due",
            "/?q=squat",
            "/?q=feet+slide",
            "/lifters",
            f"/lifters/{lifter_id}",
        ):
            took, worked = [], []
            for _ in range(times + 1):
                start, cpu = time.perf_counter(), time.process_time()
                got = client.get(path, headers={"accept": "text/html"})
                took.append((time.perf_counter() - start) * 1e3)
                worked.append((time.process_time() - cpu) * 1e3)
                assert got.status_code == 200, got.text[:300]
            rest, own = sorted(took[1:]), sorted(worked[1:])  # the first one loads templates
            name = f"page {path}".replace(lifter_id, "ID")
            print(
                f"{name:44} median {rest[times // 2]:7.1f} ms   p95 {rest[int(times * 0.95)]:7.1f} ms   "
                f"of the processor {own[times // 2]:.1f} ms, {own[int(times * 0.95)]:.1f} ms",
                flush=True,
            )


def once(name: str, do: Callable[[], Any]) -> Any:
    """Print how long something takes."""
    start = time.perf_counter()
    found = do()
    print(f"{name:44} {time.perf_counter() - start:7.1f} s")
    return found


def main() -> None:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=10_000)
    parser.add_argument("--megabytes", type=int, default=400)
    wanted = parser.parse_args()
    random.seed(1)
    with tempfile.TemporaryDirectory() as place, Workspace.create(Path(place) / "w") as workspace:
        lifters = fill(workspace, wanted.sets, wanted.megabytes)
        one = lifters[3]
        asked(workspace, "everybody", everybody)
        asked(workspace, "sets of a lifter", lambda c: sets_of(c, one))
        asked(workspace, "a measure over a lifter's sets", lambda c: course(c, one, "squat", "m7_mm"))
        asked(workspace, "which measures a lifter has", lambda c: measures_of(c, one, "squat"))
        asked(workspace, "changes of a lifter", lambda c: changes_of(c, one))
        pages(workspace, one)
        took = []
        for n in range(200):
            start = time.perf_counter()
            with workspace.write() as c:
                append_edit(c, "s" + "0" * 15, Edit(id=f"e{n}", kind="note", text="x"))
            took.append((time.perf_counter() - start) * 1e3)
        took.sort()
        print(f"{'one edit in a unit of its own':44} median {took[100]:7.1f} ms   p95 {took[190]:7.1f} ms")
        once(f"a first copy ({wanted.megabytes} MB of clips)", lambda: back_up(workspace, Path(place) / "b"))
        once("a second copy", lambda: back_up(workspace, Path(place) / "b"))
        once(
            "put back, every byte held against its hash", lambda: restore(Path(place) / "b", Path(place) / "again")
        )
        once("looked through", lambda: look_through(workspace))
        once("a lifter erased", lambda: erase_lifter(workspace, lifters[5]))


if __name__ == "__main__":
    main()
