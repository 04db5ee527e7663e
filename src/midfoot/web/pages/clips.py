"""A clip's own files: the proxy with its table of timestamps, the first frame, the measurement as it stands."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter
from starlette.responses import FileResponse, JSONResponse, Response

from midfoot.footage.proxy import shown_times_s
from midfoot.store import tables
from midfoot.web.deps import Desk
from midfoot.web.problems import Problem, not_found

router = APIRouter(include_in_schema=False)
FOREVER = {"cache-control": "private, max-age=31536000, immutable"}
"""What lies under its own hash never changes; the address carries the hash."""
PREPARED = "The clip is still being prepared."


@router.get("/clips/{clip_id}/proxy.mp4")
def proxy(desk: Desk, clip_id: str) -> Response:
    """The clip as the browser plays it, with ranges."""
    return FileResponse(_blob(desk, clip_id, "proxy_sha256"), media_type="video/mp4", headers=FOREVER)


@router.get("/clips/{clip_id}/frame.jpg")
def frame(desk: Desk, clip_id: str) -> Response:
    """A frame of the clip, small."""
    return FileResponse(_blob(desk, clip_id, "frame_sha256"), media_type="image/jpeg", headers=FOREVER)


@router.get("/clips/{clip_id}/frames.json")
def frames(desk: Desk, clip_id: str) -> Response:
    """When each frame of the proxy is shown, s from the first: the player goes by this table alone."""
    return JSONResponse({"pts_s": _times(_blob(desk, clip_id, "proxy_sha256"))}, headers=FOREVER)


@router.get("/clips/{clip_id}/measurement.json")
def measurement(desk: Desk, clip_id: str) -> Response:
    """The measurement that counts now, as `midfoot measure` writes it."""
    with desk.read() as connection:
        folder = connection.execute(
            sa.select(tables.measurements.c.folder).where(
                tables.measurements.c.clip_id == clip_id, tables.measurements.c.is_current.is_(True)
            )
        ).scalar()
    if folder is None:
        raise not_found("measurement")
    return FileResponse(desk.path / folder / "measurement.json", media_type="application/json")


@lru_cache(64)
def _times(path: Path) -> list[float]:
    return [round(t, 6) for t in shown_times_s(path).tolist()]


def _blob(desk: Any, clip_id: str, column: str) -> Path:
    with desk.read() as connection:
        row = connection.execute(sa.select(tables.clips.c[column]).where(tables.clips.c.id == clip_id)).first()
    if row is None:
        raise not_found("clip")
    sha256 = row[0]
    if not sha256 or not desk.blobs.has(sha256):
        raise Problem(404, PREPARED, "It is shown as soon as that is done.")
    return Path(desk.blobs.path(sha256))
