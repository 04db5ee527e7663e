"""What the page of one set shows: its rows, and what is drawn from the measured folder.

A measured folder never changes (its name says what went in), so what is made of it is kept for the next call.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection, Row

from midfoot import measures
from midfoot.desk.page_words import on_page
from midfoot.history.compare import why_not_scales, why_not_views
from midfoot.mechanics_set import work_out
from midfoot.mechanics_words import reasons, sentences, what_if_rows
from midfoot.positions import arms_in_picture
from midfoot.publish import desk_charts, grid
from midfoot.publish.arms import arm_words
from midfoot.publish.scene import scene_of
from midfoot.records.measures import Curve, Measurement
from midfoot.review_pictures import load_panel
from midfoot.store import StoreError, read_measurement, tables
from midfoot.store.workspace import Workspace

KEPT = 12
"""Sets whose drawings are kept in memory."""
EARLIER = 12
"""Earlier sets of the lifter that are offered to compare with."""


@frozen(kw_only=True)
class ClipShown:
    """One clip of the set: `folder` is its measured folder, None while it is not measured.

    `width_px` and `height_px` are of the upright picture in which places are told, None before it was looked at.
    """

    id: str
    name: str
    view_said: str
    proxy_sha256: str | None
    frame_sha256: str | None
    error: str
    width_px: int | None
    height_px: int | None
    folder: Path | None
    measured: str


@frozen(kw_only=True)
class SetShown:
    """The set's own row, its clips in order, who lifts, and which clip is looked at.

    `version` names what is measured of all its clips and what is said of that: pages with the same one
    show the same.
    """

    row: Row[Any]
    lifter: Row[Any] | None
    clips: tuple[ClipShown, ...]
    clip: ClipShown | None
    earlier: tuple[Row[Any], ...]
    version: str


def set_shown(connection: Connection, workspace: Workspace, set_id: str, clip_id: str = "") -> SetShown | None:
    """Read a set for its page; None when there is none of that id.

    `clip_id` names the clip to look at; without, or of another set, it is the set's main clip.
    """
    sets, lifters, clips, done = tables.sets, tables.lifters, tables.clips, tables.measurements
    row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).first()
    if row is None:
        return None
    lifter = connection.execute(sa.select(lifters).where(lifters.c.id == row.lifter_id)).first()
    found = connection.execute(
        sa.select(
            clips, done.c.folder, done.c.id.label("measurement"), done.c.summary, done.c.numbers, done.c.judged,
            done.c.view,
        )
        .outerjoin(done, sa.and_(done.c.clip_id == clips.c.id, done.c.is_current.is_(True)))
        .where(clips.c.set_id == set_id)
        .order_by(clips.c.position, clips.c.added_at)
    ).all()  # fmt: skip
    shown = tuple(
        ClipShown(
            id=c.id, name=c.received_name, view_said=c.view_said, proxy_sha256=c.proxy_sha256,
            frame_sha256=c.frame_sha256, error=c.error, width_px=c.width_px, height_px=c.height_px,
            folder=workspace.path / c.folder if c.folder else None, measured=c.measurement or "",
        )
        for c in found
    )  # fmt: skip
    wanted = [i for i in (clip_id, row.main_clip_id) if i] + [c.id for c in shown]
    clip = next((c for i in wanted for c in shown if c.id == i), None)
    said = [[c.id, c.folder, c.summary, c.numbers, c.judged, c.view] for c in found]
    version = hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:16]
    return SetShown(
        row=row, lifter=lifter, clips=shown, clip=clip, earlier=_earlier(connection, row), version=version
    )


def _earlier(connection: Connection, row: Row[Any]) -> tuple[Row[Any], ...]:
    """Give earlier measured sets of this lifter and lift, the last first."""
    sets, clips, done = tables.sets, tables.clips, tables.measurements
    if row.lifter_id is None:
        return ()
    return tuple(
        connection.execute(
            sa.select(sets.c.id, sets.c.load_kg, sets.c.received_at, sets.c.variation)
            .where(
                sets.c.lifter_id == row.lifter_id, sets.c.lift == row.lift, sets.c.id != row.id,
                sets.c.received_at <= row.received_at,
                sa.exists().where(
                    clips.c.set_id == sets.c.id, done.c.clip_id == clips.c.id, done.c.is_current.is_(True)
                ),
            )
            .order_by(sets.c.received_at.desc())
            .limit(EARLIER)
        )
    )  # fmt: skip


def _stamp(folder: Path) -> int:
    try:
        return (folder / "measurement.json").stat().st_mtime_ns
    except OSError:
        raise StoreError(f"{folder} is not there any more; measure the set again.") from None


def scene(folder: Path) -> dict[str, Any]:
    """Give what the player draws of a measured folder (`publish.scene`), with the grid of all paths as SVG."""
    return _scene(folder, _stamp(folder))


def charts(folder: Path) -> dict[str, Any]:
    """Give the charts of a measured folder: `specs` by name, `titles`, and the samples `set` and `reps`."""
    return _charts(folder, _stamp(folder))


def against(folder: Path, other: Path) -> dict[str, Any]:
    """Give another set's `reps` to lay over the charts of this one, and `why` in words what cannot be compared.

    Where the two were filmed from different directions its way forward is left out; where a scale is not known,
    everything.
    """
    first, second = measured(folder), measured(other)
    views, scales = why_not_views(first, second), why_not_scales(first, second)
    rows = charts(other)["reps"]
    if scales:
        rows = []
    elif views:
        rows = [{**row, "forward": None} for row in rows]
    return {"reps": rows, "why": on_page(" ".join(w for w in (scales, views) if w))}


def mechanics(folder: Path) -> dict[str, Any]:
    """Give what the position costs the joints, in words and as arms to draw; raises StoreError with the reason."""
    return _mechanics(folder, _stamp(folder))


def measured(folder: Path) -> Measurement:
    """Give the measurement of a folder."""
    return _measured(folder, _stamp(folder))


@lru_cache(KEPT)
def _measured(folder: Path, stamp: int) -> Measurement:
    return read_measurement(folder)


@lru_cache(KEPT)
def _scene(folder: Path, stamp: int) -> dict[str, Any]:
    measurement = _measured(folder, stamp)
    layout = grid.lay_out(measurement.data, measurement.measured.best_rep)
    return {**scene_of(measurement), "grid": _grid(layout) if layout is not None else None}


def _grid(layout: grid.Layout) -> dict[str, Any]:
    """Give the paths as SVG, with where each cell's zero lies and its scale, so that a point can follow in it."""
    px_per_mm = 0.85
    return {"svg": grid.svg(layout, px_per_mm=px_per_mm), **grid.places(layout, px_per_mm)}


@lru_cache(KEPT)
def _charts(folder: Path, stamp: int) -> dict[str, Any]:
    measurement = _measured(folder, stamp)
    speed = measures.velocity_over_clip(measurement.data)
    rows = desk_charts.samples(measurement, speed if isinstance(speed, Curve) else None)
    return {"specs": desk_charts.specs(measurement, rows), "titles": desk_charts.TITLES, **rows}


@lru_cache(KEPT)
def _mechanics(folder: Path, stamp: int) -> dict[str, Any]:
    measurement = _measured(folder, stamp)
    worked = work_out(measurement)
    moments = []
    for rep in worked.reps:
        for moment in rep.moments:
            arms = arms_in_picture(measurement.data, moment)
            loads = {load.joint: load for load in moment.loads}
            moments.append(
                {
                    "rep": rep.n, "name": moment.name, "at_s": round(moment.at_s, 3),
                    "loads": [{"joint": load.joint, "words": list(arm_words(load))} for load in moment.loads],
                    "bar": _px(arms.bar_px) if arms else None,
                    "vertical": [_px(p) for p in arms.vertical_px] if arms else None,
                    "arms": [
                        {"joint": a.joint, "from": _px(a.joint_px), "to": _px(a.end_px),
                         "words": list(arm_words(loads[a.joint]))}
                        for a in arms.arms
                    ] if arms else [],
                }
            )  # fmt: skip
    found = worked.found
    return {
        "moments": moments,
        "what_if": what_if_rows(found),
        "sentences": [_here(s) for s in sentences(found)],
        "reasons": [_here(r) for r in reasons(found)],
        "why": "",
        "load": [list(pair) for pair in load_panel(measurement)],
    }


def _here(sentence: str) -> str:
    """Say it in the page's own words."""
    return on_page(sentence.strip().removeprefix("! "))


def _px(spot: tuple[float, float]) -> list[float]:
    return [round(spot[0], 1), round(spot[1], 1)]
