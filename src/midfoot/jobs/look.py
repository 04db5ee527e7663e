"""The job `look`: what a received file is, its thumbnail, the browser's proxy; then it asks for the measuring."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.footage import FootageError, Stopped
from midfoot.jobs import queue
from midfoot.jobs.job import Finish, Job
from midfoot.jobs.kinds import HURRY
from midfoot.jobs.look_child import FRAME, PROXY, TIMES
from midfoot.jobs.settling import settle
from midfoot.store.blobs import PARTS
from midfoot.store.rows import note_blob
from midfoot.store.tables import clips, jobs, sets

MOST_S = 1800.0
TOO_MUCH = (
    "{name} could not be read within the limits of time and memory for an upload; send the phone's own file, or "
    "the set alone, cut out of it."
)


def run(job: Job) -> Finish | None:
    """Look at the clip of the payload (`clip_id`)."""
    clip_id = str(job.payload["clip_id"])
    with job.workspace.read() as connection:
        clip = connection.execute(sa.select(clips).where(clips.c.id == clip_id)).first()
    if clip is None:
        return None
    blobs = job.workspace.blobs
    if clip.proxy_sha256 and clip.frame_sha256 and blobs.has(clip.proxy_sha256) and blobs.has(clip.frame_sha256):
        return lambda connection: _then(connection, clip_id, job.claimed.id)
    blobs.make_room(0)
    parts = blobs.root / PARTS
    parts.mkdir(parents=True, exist_ok=True)
    out = Path(tempfile.mkdtemp(prefix="look-", dir=parts))
    try:
        found = looked(blobs.path(clip.sha256), out, clip.received_name, job.progress, job.stop)
        sizes = {name: (out / name).stat().st_size for name in (FRAME, PROXY, TIMES)}
        shas = {name: blobs.adopt(out / name) for name in sizes}
    finally:
        shutil.rmtree(out, ignore_errors=True)

    def finish(connection: Connection) -> None:
        for name, kind in ((FRAME, "image/jpeg"), (PROXY, "video/mp4"), (TIMES, "application/json")):
            note_blob(connection, shas[name], sizes[name], kind)
        connection.execute(
            clips.update()
            .where(clips.c.id == clip_id)
            .values(
                duration_s=found["duration_s"], width_px=found["width_px"], height_px=found["height_px"],
                frame_sha256=shas[FRAME], proxy_sha256=shas[PROXY], times_sha256=shas[TIMES], error="",
                probe={**found, "times_sha256": shas[TIMES]},
            )
        )  # fmt: skip
        _then(connection, clip_id, job.claimed.id)

    return finish


def _then(connection: Connection, clip_id: str, job_id: str) -> None:
    """Ask for what follows: what a sender is told at once, and the measuring, soon where the coach waits."""
    from midfoot.jobs import glimpse

    glimpse.ask(connection, clip_id)
    ask_measure(connection, clip_id)
    waited_for = sa.select(jobs.c.priority).where(jobs.c.id == job_id)
    if (connection.execute(waited_for).scalar() or 0) >= HURRY:
        queue.hurry(connection, [f"measure:{clip_id}"])


def ask_measure(connection: Connection, clip_id: str) -> str | None:
    """Ask for a clip to be measured, where it is known which lift it shows; gives the job's id."""
    row = connection.execute(
        sa.select(sets.c.id, sets.c.lift).join(clips, clips.c.set_id == sets.c.id).where(clips.c.id == clip_id)
    ).first()
    if row is None:
        return None
    job_id = queue.enqueue(connection, "measure", f"measure:{clip_id}", {"clip_id": clip_id}) if row.lift else None
    settle(connection, row.id)
    return job_id


def looked(
    clip: Path,
    out: Path,
    name: str,
    progress: Callable[[str, float], None],
    stop: threading.Event,
    *,
    most_s: float = MOST_S,
    env: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Look at a file in a limited process and give what it found.

    Raises
    ------
    FootageError
        When it is no video, or breaks the limits; the sentence names it as it was received.
    Stopped
        When `stop` was set.
    """
    with (out / "said").open("w+b") as said, (out / "told").open("w+b") as told:
        child = subprocess.Popen(
            [sys.executable, "-m", "midfoot.jobs.look_child", str(clip), str(out)],
            stdin=subprocess.PIPE, stdout=said, stderr=told, env=env,
        )  # fmt: skip
        until = time.monotonic() + most_s
        try:
            while child.poll() is None:
                if stop.wait(0.1):
                    raise Stopped
                if time.monotonic() > until:
                    raise FootageError(TOO_MUCH.format(name=name))
                progress("taking a first look", _share(out / "told"))
        finally:
            child.kill()
            child.wait()
            if child.stdin is not None:
                child.stdin.close()
        said.seek(0)
        text = said.read().decode("utf-8", "replace").strip()
    limits = (-signal.SIGKILL, -signal.SIGXCPU, -signal.SIGXFSZ, -signal.SIGSEGV, -signal.SIGABRT)
    if child.returncode in limits:
        raise FootageError(TOO_MUCH.format(name=name))
    try:
        found = json.loads(text.splitlines()[-1])
    except (ValueError, IndexError):
        tail = (out / "told").read_text("utf-8", "replace")[-400:]
        if "MemoryError" in tail or "Cannot allocate" in tail:
            raise FootageError(TOO_MUCH.format(name=name)) from None
        raise RuntimeError(f"the first look ended with {child.returncode}: {tail}") from None
    if "error" in found:
        raise FootageError(str(found["error"]).replace(clip.name, name))
    return dict(found)


def _share(told: Path) -> float:
    try:
        line = told.read_bytes()[-64:].decode("ascii", "ignore").strip().splitlines()[-1]
        at_s, of_s = (float(v) for v in line.split())
    except (OSError, ValueError, IndexError):
        return 0.0
    return min(1.0, at_s / max(of_s, 1e-9))
