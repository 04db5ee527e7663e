"""A workspace with measured sets made from numbers: a squat whose second rep runs forward and ends short."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from attrs import evolve
from sets import RANGE_MM, made_measurement

from midfoot.records.context import Context
from midfoot.records.measures import Measure, Measurement
from midfoot.records.reps import Rep
from midfoot.store import Workspace, context_to_json, to_json
from midfoot.store.tables import blobs, clips, lifters, measurements, sets

SAID = Context(
    lifter="Runa", safeties="pins", rpe=8.0, load_kg=100.0, question="Does the bar drift forward?",
    read_on=date(2031, 5, 1),
)  # fmt: skip


def squat(*, forward_mm: float = 47.0, short_mm: float = 0.0, reps: int = 3, shift_s: float = 0.0) -> Measurement:
    """A squat of `reps`; from the second on the bar runs forward, and the last ends short of the tallest."""
    base = made_measurement()
    first = base.data.reps.reps[0]

    def rep(k: int) -> Rep:
        names = ("start", "low_start", "low_end", "end")
        times = {n: getattr(first, n) for n in names}
        return evolve(first, n=k + 1, **{n: evolve(m, t_s=m.t_s + 2.4 * k + shift_s) for n, m in times.items()})

    rows = tuple(
        (
            Measure("range_of_motion_mm", RANGE_MM, "mm", 1.3, 3.5, "measured", "plate"),
            *(
                Measure(name, forward_mm if k else 1.0, "mm", 1.0, 0.1, "measured", "plate")
                for name in ("path_departure_mm", "path_forward_mm")
            ),
            Measure(
                "lockout_shortfall_mm", short_mm if k == reps - 1 else 0.0, "mm", 0.8, 0.1, "measured", "plate"
            ),
            Measure("trunk_angle_low_deg", 41.0, "deg", 2.0, 6.0, "inferred", "hip to bar"),
        )
        for k in range(reps)
    )
    data = evolve(base.data, reps=evolve(base.data.reps, reps=tuple(rep(k) for k in range(reps))))
    return evolve(base, data=data, measured=evolve(base.measured, reps=rows, drift=(), curves=(), best_rep=1))


def write_folder(measurement: Measurement, folder: Path) -> Path:
    """Write a measured folder as the main job does."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "measurement.json").write_text(json.dumps(to_json(measurement)))
    body = measurement.data.body
    words = np.array(["hidden", "inferred", "seen"])[body.state]
    np.savez(folder / "body.npz", t_s=body.t_s, xy_px=body.xy_px, sd_px=body.sd_px, status=words)
    (folder / "context.json").write_text(json.dumps(context_to_json(measurement.context)))
    return folder


def add_lifter(workspace: Workspace, name: str = "Runa", **more: object) -> str:
    """A lifter; gives the id."""
    with workspace.write() as connection:
        made = connection.execute(lifters.insert().values(name=name, **more))
        return str(made.inserted_primary_key[0])


def add_set(
    workspace: Workspace, measurement: Measurement | None = None, context: Context = SAID, *,
    lifter_id: str | None = None, day: int = 1, name: str = "a",
) -> str:  # fmt: skip
    """A set with one measured clip, received on a day of May 2031; gives the id."""
    received = datetime(2031, 5, day, 12, tzinfo=UTC)
    sha = (name * 64)[:64]
    with workspace.write() as connection:
        made = connection.execute(
            sets.insert().values(
                lift="squat", load_kg=context.load_kg, received_at=received, lifter_id=lifter_id, state="ready",
                context=context_to_json(evolve(context, read_on=received.date())), context_confirmed=True,
            )
        )  # fmt: skip
        set_id = str(made.inserted_primary_key[0])
        connection.execute(blobs.insert().values(sha256=sha, bytes=1))
        clip = connection.execute(clips.insert().values(set_id=set_id, sha256=sha, width_px=640, height_px=480))
        clip_id = str(clip.inserted_primary_key[0])
        connection.execute(sets.update().where(sets.c.id == set_id).values(main_clip_id=clip_id))
    if measurement is not None:
        measure(workspace, set_id, measurement)
    return set_id


def measure(workspace: Workspace, set_id: str, measurement: Measurement, key: str = "k1") -> Path:
    """Keep a measurement as the current one of a set's clip, as a job does."""
    with workspace.write() as connection:
        clip_id = str(connection.execute(clips.select().where(clips.c.set_id == set_id)).first().id)
        folder = write_folder(measurement, workspace.measured(clip_id, key))
        connection.execute(measurements.update().where(measurements.c.clip_id == clip_id).values(is_current=False))
        connection.execute(
            measurements.insert().values(clip_id=clip_id, input_key=key, folder=workspace.relative(folder))
        )
    return folder
