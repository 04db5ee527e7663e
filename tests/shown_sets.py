"""Sets with a clip that a browser shows: every frame carries its number as a bar code, at timestamps that vary."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from attrs import evolve
from clips import write_clip

from midfoot.footage.proxy import write_proxy
from midfoot.outputs import write_numbers
from midfoot.records.measures import Measurement
from midfoot.store import Workspace, context_to_json, output_folder, tables
from midfoot.store.columns import new_id
from midfoot.store.rows import note_blob

SIZE = (640, 480)
BITS, BLOCK = 10, 40
READ_CODE = f"""video => {{
  const c = document.createElement('canvas'); c.width = {SIZE[0]}; c.height = {SIZE[1]};
  const ink = c.getContext('2d'); ink.drawImage(video, 0, 0, {SIZE[0]}, {SIZE[1]});
  let n = 0;
  for (let k = 0; k < {BITS}; k++)
    n |= (ink.getImageData(k * {BLOCK} + {BLOCK // 2}, {BLOCK // 2}, 1, 1).data[1] > 128 ? 1 : 0) << k;
  return n;
}}"""
"""JavaScript that reads the number out of the picture that a video element shows."""


def varying(frames: int, seed: int = 1) -> np.ndarray:
    """Timestamps with gaps from 20 to 50 ms, s."""
    gaps = np.random.default_rng(seed).uniform(0.020, 0.050, frames - 1)
    return np.concatenate([[0.0], np.cumsum(np.round(gaps, 4))])


def coded(n: int) -> np.ndarray:
    """A grey picture with the number's bits as black and white squares in its first row."""
    picture = np.full((SIZE[1], SIZE[0], 3), 120, np.uint8)
    for k in range(BITS):
        picture[:BLOCK, k * BLOCK : (k + 1) * BLOCK] = 255 if n >> k & 1 else 0
    x = 40 + (7 * n) % 500
    picture[200:260, x : x + 60] = (220, 60, 40)
    return picture


def coded_clip(path: Path, times_s: np.ndarray) -> np.ndarray:
    """Write the clip; gives the timestamps."""
    return write_clip(path, times_s=times_s, size=SIZE, pictures=[coded(n) for n in range(len(times_s))])


@cache
def _drawn(times: bytes) -> tuple[Path, Path]:
    """Draw and encode a clip and its proxy once for all tests of a run."""
    folder = Path(tempfile.mkdtemp(prefix="shown-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    clip, proxy = folder / "clip.mp4", folder / "proxy.mp4"
    coded_clip(clip, np.frombuffer(times, np.float64))
    write_proxy(clip, proxy)
    return clip, proxy


def add_shown(
    workspace: Workspace, measurement: Measurement | None, times_s: np.ndarray, *, lifter_id: str | None = None,
    **more: Any,
) -> tuple[str, str]:  # fmt: skip
    """A set with its proxy, measured unless `measurement` is None; gives the ids of set and clip."""
    set_id, clip_id = new_id(), new_id()
    clip, proxy = _drawn(np.asarray(times_s, np.float64).tobytes())
    shas = [workspace.blobs.put(path) for path in (clip, proxy)]
    with workspace.write() as connection:
        for sha256 in shas:
            note_blob(connection, sha256, workspace.blobs.size(sha256), "video/mp4")
        said = {"context": context_to_json(measurement.context)} if measurement is not None else {}
        connection.execute(
            tables.sets.insert().values(
                id=set_id, lift="squat", load_kg=140.0, lifter_id=lifter_id, state="ready", main_clip_id=clip_id,
                context_confirmed=True, **{**said, **more},
            )
        )  # fmt: skip
        connection.execute(
            tables.clips.insert().values(
                id=clip_id, set_id=set_id, sha256=shas[0], received_name="set.mp4", bytes=clip.stat().st_size,
                duration_s=float(times_s[-1]), width_px=SIZE[0], height_px=SIZE[1], proxy_sha256=shas[1],
            )
        )  # fmt: skip
    if measurement is not None:
        put_measurement(workspace, clip_id, measurement, "first")
    return set_id, clip_id


def put_measurement(workspace: Workspace, clip_id: str, measurement: Measurement, key: str) -> None:
    """Write a measurement as the one that counts."""
    folder = output_folder(workspace.measured(clip_id, key))
    write_numbers(evolve(measurement), folder)
    rows = tables.measurements
    with workspace.write() as connection:
        connection.execute(rows.update().where(rows.c.clip_id == clip_id).values(is_current=False))
        connection.execute(
            rows.insert().values(
                clip_id=clip_id, input_key=key, folder=workspace.relative(folder), summary={}, is_current=True
            )
        )
