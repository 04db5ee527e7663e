"""A lifter's depth offset: crease and knee top, once marked at the low of a squat, calibrate the later clips.

What is kept is how far the depth by the marks lies from that by the joints, with its error. The marks made last
count; taken back, they count no more.
"""

from __future__ import annotations

import json
import math
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.store.tables import lifters, repairs, sets

MEASURE = "depth_offset_mm"


def keep_offset(connection: Connection, set_id: str, clip_id: str, folder: Path) -> None:
    """Write the offset that a clip's marks gave to its lifter; nothing without a lifter.

    Parameters
    ----------
    folder : the clip's measured folder; without marks in it an offset that came from this clip is taken away.
    """
    lifter_id = connection.execute(sa.select(sets.c.lifter_id).where(sets.c.id == set_id)).scalar()
    if lifter_id is None:
        return
    there = connection.execute(sa.select(lifters.c.depth_marks).where(lifters.c.id == lifter_id)).scalar()
    own = isinstance(there, dict) and there.get("clip_id") == clip_id
    found, marked = offset_in(folder), _marked_at(connection, clip_id)
    if found is not None and marked is not None:
        later = isinstance(there, dict) and not own and str(there.get("marked_at", "")) > marked.isoformat()
        if not later:
            said: dict[str, Any] | None = {**found, "clip_id": clip_id, "marked_at": marked.isoformat()}
            connection.execute(lifters.update().where(lifters.c.id == lifter_id).values(depth_marks=said))
    elif own:
        connection.execute(lifters.update().where(lifters.c.id == lifter_id).values(depth_marks=None))


def offset_in(folder: Path) -> dict[str, float] | None:
    """Read the offset of a measured folder, mm with its whole sd; None where nobody marked."""
    document = json.loads((folder / "measurement.json").read_text("utf-8"))
    measure = document["set"]["measures"].get(MEASURE)
    if measure is None or measure["value"] is None:
        return None
    sd = math.hypot(measure["sd"] or 0.0, measure["sd_common"] or 0.0)
    return {"offset_mm": float(measure["value"]), "offset_sd_mm": sd}


def _marked_at(connection: Connection, clip_id: str) -> datetime | None:
    """Give when the marks of a clip that count were made."""
    return connection.execute(
        sa.select(repairs.c.at)
        .where(repairs.c.clip_id == clip_id, repairs.c.kind == "depth", repairs.c.undone_at.is_(None))
        .order_by(repairs.c.n.desc())
        .limit(1)
    ).scalar()
