"""One clip drawn, measured without a click, and scored against its truth, as one line of plain numbers."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import time
import traceback
from pathlib import Path
from typing import Any

import numpy as np
from attrs import evolve, frozen

from lab.bench_records import there
from lab.clip_jobs import Job
from lab.made import compared
from lab.score_clip import followed, score

FOREFINGERS_MM = 140.0
"""What the measure of the grip takes off the wrists' distance (measures/ends.py, from anatomy, unverified)."""


@frozen
class Bench:
    """How a run goes about its clips: where lines go, how fine it draws, what it keeps of clips gone wrong.

    With `films` every clip is kept there and, where it is there already, not drawn again: measuring code can then
    be read anew on the same clips at a third of the time.
    """

    out: Path
    finer: float = 1.5
    keep: bool = False
    films: Path | None = None

    def line(self, job: Job) -> Path:
        return self.out / f"{job.name}.line.json"

    def __call__(self, job: Job) -> dict[str, Any]:
        """Make, measure and score one clip; what goes wrong is said in the line and not raised."""
        row: dict[str, Any] = {"name": job.name, "seed": job.made.seed, "changed": job.changed}
        folder = self.films / job.name if self.films else Path(tempfile.mkdtemp(prefix="lab-clips-"))
        try:
            row.update(_measured(job, folder, self.finer))
        except Exception as error:
            row["failed"] = f"{type(error).__name__}: {error}"
            row["trace"] = traceback.format_exc()[-1500:]
        if self.keep and odd(row):
            shutil.copytree(folder, self.out / "kept" / job.name, dirs_exist_ok=True)
        if not self.films:
            shutil.rmtree(folder, ignore_errors=True)
        self.out.mkdir(parents=True, exist_ok=True)
        beside = self.line(job).with_suffix(".part")
        beside.write_text(json.dumps(row))
        beside.replace(self.line(job))
        return row


def odd(row: dict[str, Any]) -> bool:
    """Whether a clip is worth a look: failed, the wrong thing followed, or an error far beyond its sd."""
    if row.get("failed") or row["followed"] in ("wrong", "far end") or row["lifter_right"] is False:
        return True
    far = any(abs(row["errors"][k]) > 3 * row["sds"][k] for k in ("scale_pct", "yaw_deg") if k in row["sds"])
    late = (row.get("worst_moment_s") or 0.0) > 0.08
    return far or late or row["reps_found"] != row["reps_matched"] or row["outcomes_found"] != row["outcomes_true"]


def _measured(job: Job, folder: Path, finer: float) -> dict[str, Any]:
    import cv2

    from midfoot import pipeline
    from midfoot.records.clip import Asked, Reading
    from midfoot.store import to_json

    cv2.setNumThreads(1)
    cards = int(os.environ.get("LAB_EGL_DEVICES", "1"))
    if cards > 1:
        os.environ["LAB_EGL_DEVICE"] = str(os.getpid() % cards)
    begun = time.perf_counter()
    true = _filmed(job, folder, finer)
    filmed = time.perf_counter()
    request = pipeline.Request(
        clip=folder / "clip.mp4", asked=Asked(true["lift"], plate_mm=job.told_mm),
        reading=Reading(mirrored=true["mirrored"], real_speed=true["real_speed"]),
    )  # fmt: skip
    found = pipeline.measure_clip(request)
    made, body = job.made, found.data.body
    row = {
        "lift": true["lift"], "variation": true["variation"], "yaw_deg": true["camera"]["yaw_deg"],
        "told": job.told_mm, "plate_px": true["plate_diameter_mm"] / true["camera"]["mm_per_px"],
        "fps": true["fps"], "frames": len(true["t_s"]), "size_px": [true["width_px"], true["height_px"]],
        "discs": [d.diameter_m for d in made.discs], "thick_mm": [1000 * d.thickness_m for d in made.discs],
        "others": [w for _, w in made.around.others],
        "post": bool(made.around.posts), "caption": made.take.caption, "mirrored": true["mirrored"],
        "blurred": made.take.exposure_s > 0, "rolling": made.take.readout_s > 0, "bend": made.eye.bend,
        "rock_deg": made.eye.rock_deg,
        "pan_deg": made.eye.pan_deg, "zoom": made.eye.zoom, "lower": made.eye.lower, "gain": made.take.gain,
        "film_s": round(filmed - begun, 1), "measure_s": round(time.perf_counter() - filmed, 1),
    }  # fmt: skip
    arrays = {"t_s": np.asarray(body.t_s), "xy_px": body.xy_px} if len(body.t_s) else None
    row.update(score(to_json(found), true, arrays))
    row["followed"] = followed(row)
    row["all"] = _all_measures(true, found)
    if job.view is not None:
        row.update(_findings(job, true, found))
    return row


def _filmed(job: Job, folder: Path, finer: float) -> dict[str, Any]:
    """Give a clip's truth, which is written last: where it is there the clip is whole."""
    told = folder / "clip.json"
    if told.exists():
        return dict(json.loads(told.read_text()))
    from lab.render.sets import write_set

    return write_set(job.made, folder, "clip", finer=finer)


def _all_measures(true: dict[str, Any], found: Any) -> list[dict[str, Any]]:
    """Every measure that the truth holds, of every rep, where the reps are the true ones."""
    return compared(true["lift"], with_wrists(found.measured.reps), as_seen(true))


def as_seen(true: dict[str, Any]) -> list[dict[str, float]]:
    """The truth's rows with the tilt as the camera has it (the near end up), and what is between the wrists."""
    sign = 1.0 if true["camera"]["near_side"] == "left" else -1.0
    return [
        {
            **row,
            "bar_tilt_deg": sign * row["tilt_left_up_deg"],
            "bar_tilt_change_deg": sign * row["tilt_change_left_up_deg"],
        }
        for row in true["reps"]
    ]


def with_wrists(reps: Any) -> list[list[Any]]:
    """The measures of every rep, with the distance of the wrists beside the grip that is read from it."""
    out = []
    for rep in reps:
        more = [
            evolve(m, id="wrists_apart_mm", value=None if m.value is None else m.value + FOREFINGERS_MM)
            for m in rep
            if m.id == "grip_width_mm"
        ]
        out.append([*rep, *more])
    return out


def _findings(job: Job, true: dict[str, Any], found: Any) -> dict[str, Any]:
    """What is there by the truth and what was said, as `lab.bench_records` keeps it."""
    faults, said = job.made.faults, found.found.findings
    return {
        "view": job.view, "fault": faults[0].kind if faults else None, "size": faults[0].size if faults else None,
        "from_rep": faults[0].from_rep if faults else None,
        "reps_right": len(found.data.reps.reps) == len(true["reps"]),
        "there": there(job.made.lift, as_seen(true), faults, oblique=job.view != "side"),
        "found": {f.id: f.confidence for f in said}, "faults": [f.id for f in said if f.nature == "fault"],
        "by": {f.id: [f.evidence[0].measure, list(f.reps)] for f in said if f.evidence},
    }  # fmt: skip
