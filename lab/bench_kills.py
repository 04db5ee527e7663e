"""Kills workers at random moments of real measurements and counts what became of every clip.

    python -m lab.bench_kills --clips 30 --kills 30 --workers 2 --seed 1

Every clip is small and different, so that the whole pipeline runs on each in a few seconds. A kill is SIGKILL to a
worker that has a job. In the end every clip has one measurement, its folder is whole, nothing half-made is left.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import tempfile
import time
from collections import Counter
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import sqlalchemy as sa

from midfoot.desk.intake import confirm, take_clip
from midfoot.desk.measuring import MAKING, is_whole
from midfoot.jobs import KINDS, Supervisor, enqueue
from midfoot.records.context import Context
from midfoot.store import Workspace
from midfoot.store.tables import jobs, measurements

FRAMES = 45


def write(path: Path, n: int) -> None:
    """Write a clip in which a square walks; `n` more frames make it differ from the others."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 160, 96, "yuv420p"
        for k in range(FRAMES + n):
            picture = np.full((96, 160, 3), 60, np.uint8)
            picture[24:40, 8 + k : 24 + k] = 230
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = k, Fraction(1, 30)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def counted(workspace: Workspace) -> Counter[str]:
    """Count the jobs by state."""
    with workspace.read() as connection:
        return Counter(connection.execute(sa.select(jobs.c.state).where(jobs.c.kind == "measure")).scalars())


def main() -> int:
    """Run it; prints what came of it, exits 1 when anything is lost or doubled."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=int, default=30)
    parser.add_argument("--kills", type=int, default=30)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    with tempfile.TemporaryDirectory() as folder, Workspace.create(Path(folder) / "desk") as workspace:
        for n in range(asked.clips):
            write(Path(folder) / f"{n}.mp4", n)
            taken = take_clip(workspace, Path(folder) / f"{n}.mp4", f"{n}.mp4")
            with workspace.write() as connection:
                confirm(connection, taken.set_id, Context(lift="squat"))
                enqueue(connection, "measure", f"measure:{taken.clip_id}", {"clip_id": taken.clip_id})
        crew = Supervisor(workspace, asked.workers, {"measure": KINDS["measure"]})
        crew.start()
        killed, began = 0, time.monotonic()
        while (states := counted(workspace))["queued"] + states["running"]:
            if states["running"] and killed < asked.kills:
                time.sleep(chance.uniform(0.0, 4.0))
                with workspace.read() as connection:
                    names = connection.execute(sa.select(jobs.c.worker).where(jobs.c.state == "running")).scalars()
                    busy = set(names)
                alive = crew.pids_of(busy)
                if alive:
                    os.kill(chance.choice(alive), signal.SIGKILL)
                    killed += 1
            time.sleep(0.1)
        crew.stop()
        with workspace.read() as connection:
            rows = connection.execute(sa.select(measurements)).all()
            tried = sa.select(jobs.c.attempt).where(jobs.c.kind == "measure")
            attempts = Counter(connection.execute(tried).scalars())
        whole = sum(is_whole(workspace.path / r.folder) for r in rows)
        left = [p for p in (workspace.path / "measured").rglob(f"{MAKING}*")]
        double = len(rows) - len({r.clip_id for r in rows})
        print(
            f"{asked.clips} clips, {killed} kills in {time.monotonic() - began:.0f} s: {len(rows)} measurements, "
            f"{double} double, {whole} whole, {len(left)} left half-made, {states['failed']} given up; "
            f"attempts {dict(sorted(attempts.items()))}"
        )
        return int(len(rows) != asked.clips or double or whole != asked.clips or bool(left))


if __name__ == "__main__":
    raise SystemExit(main())
