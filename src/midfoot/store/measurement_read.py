"""A measured folder read back as the record it was written from, so that stages can go on without the clip.

What the document does not hold stays empty: velocity curves (computed again from the path), the network's own
depth estimate.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from midfoot.records.bar import BarPath, BarTrack, Candidate, Scale, View
from midfoot.records.base import FloatArray, RecordError, Value, Warned
from midfoot.records.body import LANDMARKS, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.context import Context
from midfoot.records.measures import Drift, Measure, Measured, Measurement, SetData, Step
from midfoot.records.reps import Moment, Phase, Rep, RepSet
from midfoot.records.rules import Margin, RuleCheck
from midfoot.store.context_json import context_from_json
from midfoot.store.files import StoreError
from midfoot.store.findings_json import found_from_json
from midfoot.store.folder import read_folder

STATES = {"hidden": 0, "inferred": 1, "seen": 2}


def read_measurement(folder: Path) -> Measurement:
    """Read what `midfoot measure` left in a folder, with the context beside it.

    Raises
    ------
    StoreError
        When it is no measured folder, or a file in it is damaged; the text says which and what to do.
    """
    document, arrays = read_folder(folder)
    context = _context(folder)
    try:
        return measurement_from(document, arrays, context)
    except (KeyError, TypeError, ValueError, RecordError) as error:
        raise StoreError(
            f"{folder / 'measurement.json'} cannot be read ({type(error).__name__}: {error}); measure the clip "
            "again with midfoot measure CLIP --out DIR."
        ) from None


def measurement_from(
    document: dict[str, Any], arrays: dict[str, FloatArray], context: Context | None = None
) -> Measurement:
    """Turn measurement.json and the arrays of body.npz into the record; KeyError or ValueError on damage."""
    reps = tuple(_rep(row) for row in document["reps"])
    phases = tuple(Phase(**p) for p in document["phases"])
    track, path = _bar(document["bar"])
    data = SetData(
        asked=Asked(**document["asked"]),
        clip=_clip(document["clip"]),
        view=_view(document["view"]),
        scale=_scale(document["scale"]),
        track=track,
        path=path,
        body=_body(document["body"], arrays),
        reps=RepSet(reps, phases),
    )
    whole = document["set"]
    measured = Measured(
        reps=tuple(tuple(_measure(i, m) for i, m in row["measures"].items()) for row in document["reps"]),
        whole=tuple(_measure(i, m) for i, m in whole["measures"].items()),
        best_rep=whole["best_rep"],
        drift=tuple(Drift(**{**d, "per_rep_change": tuple(d["per_rep_change"])}) for d in whole["drift"]),
    )
    return Measurement(
        data=data,
        measured=measured,
        warnings=tuple(Warned(**w) for w in document["warnings"]),
        steps=tuple(Step(**s) for s in document["provenance"]["steps"]),
        version=document["provenance"]["midfoot"],
        rule_checks=tuple(_rule_check(c) for c in document.get("rule_checks", ())),
        context=context or Context(),
        found=found_from_json(document),
    )


def _context(folder: Path) -> Context:
    file = folder / "context.json"
    if not file.is_file():
        return Context()
    try:
        return context_from_json(json.loads(file.read_text("utf-8")))
    except (OSError, ValueError, AttributeError, TypeError):
        raise StoreError(f"{file} cannot be read; measure the clip again with --context, or remove it.") from None


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _value(found: dict[str, float | None] | None) -> Value | None:
    return None if found is None else Value(_number(found["value"]), _number(found["sd"]))


def _known(found: dict[str, float | None] | None) -> Value:
    return _value(found) or Value(math.nan, math.nan)


def _clip(found: dict[str, Any]) -> ClipInfo:
    interval = found["frame_interval_s"]
    same = ("name", "sha256", "duration_s", "frames", "width_px", "height_px", "rotation_deg", "mirrored",
            "variable_rate", "codec", "bit_depth", "hdr", "reduced", "truncated")  # fmt: skip
    return ClipInfo(
        **{name: found[name] for name in same},
        frame_interval_median_s=interval["median"],
        frame_interval_max_s=interval["max"],
        cuts_s=tuple(found["cuts_s"]),
    )


def _view(found: dict[str, Any]) -> View:
    return View(
        found["near_side"], found["facing"], found["class"], _known(found["yaw_deg"]), _known(found["roll_deg"]),
        _known(found["pitch_deg"]), _known(found["camera_distance_m"]), _known(found["camera_height_m"]),
    )  # fmt: skip


def _scale(found: dict[str, Any] | None) -> Scale | None:
    if found is None:
        return None
    return Scale(_known(found["mm_per_px"]), _known(found["body_mm_per_px"]), found["plate_mm"], found["basis"])


def _bar(found: dict[str, Any]) -> tuple[BarTrack, BarPath | None]:
    rows = found["path"]

    def column(name: str) -> FloatArray:
        return np.array([_number(row[name]) for row in rows], np.float64)

    t_s = column("t_s")
    xy = np.column_stack([column("x_px"), column("y_px")]) if rows else np.zeros((0, 2))
    seen = np.array([bool(row["seen"]) for row in rows], bool)
    far = np.full_like(xy, np.nan)
    at = {row["t_s"]: i for i, row in enumerate(rows)}
    for row in found["far"]:
        if row["t_s"] in at:
            far[at[row["t_s"]]] = (_number(row["x_px"]), _number(row["y_px"]))
    common = found["common"]
    path = None
    if common is not None:
        path = BarPath(
            t_s=t_s, forward_mm=column("forward_mm"), up_mm=column("up_mm"),
            sd_forward_mm=column("sd_forward_mm"), sd_up_mm=column("sd_up_mm"), seen=seen,
            scale_pct=_number(common["scale_pct"]), yaw_deg=_number(common["yaw_deg"]),
            roll_deg=_number(common["roll_deg"]), source=found["source"],
        )  # fmt: skip
    track = BarTrack(
        status=found["status"],
        source=found["source"],
        t_s=t_s,
        xy_px=xy,
        steady_px=xy,
        sd_px=np.full_like(xy, np.nan),
        seen=seen,
        far_xy_px=far,
        diameter_px=_value(found["near_plate_diameter_px"]),
        aspect=_value(found.get("near_plate_aspect")),
        axis_deg=found.get("near_plate_axis_deg"),
        candidates=tuple(Candidate(**{k: _number(v) for k, v in c.items()}) for c in found["candidates"]),
        reason=found.get("reason", ""),
    )
    return track, path


def _body(found: dict[str, Any], arrays: dict[str, FloatArray]) -> BodyTrack:
    t_s, xy, sd = arrays["t_s"], arrays["xy_px"], arrays["sd_px"]
    state = np.array([[STATES[str(s)] for s in row] for row in arrays["status"]], np.int8)
    unknown = np.full((len(t_s), len(LANDMARKS)), np.nan)
    return BodyTrack(
        status=found["status"],
        model=found["model"],
        t_s=t_s,
        xy_px=xy,
        sd_px=sd,
        state=state.reshape(len(t_s), len(LANDMARKS)),
        peak=unknown,
        depth_m=unknown,
        world_m=np.full((len(t_s), len(LANDMARKS), 3), np.nan),
        near_side=found["near_side"],
        reason=found.get("reason", ""),
    )


def _rep(row: dict[str, Any]) -> Rep:
    def moment(name: str) -> Moment | None:
        at = row.get(f"{name}_s")
        return None if at is None else Moment(at, _number(row.get(f"{name}_sd_s")))

    return Rep(
        n=row["n"],
        outcome=row["outcome"],
        start_seen=row["start_seen"],
        end_seen=row["end_seen"],
        start=moment("start"),
        end=moment("end"),
        low_start=moment("low_start"),
        low_end=moment("low_end"),
        top_start=moment("top_start"),
        top_end=moment("top_end"),
        why=row.get("why", ""),
    )


def _measure(measure_id: str, found: dict[str, Any]) -> Measure:
    return Measure(
        measure_id, found["value"], found["unit"], found["sd"], found["sd_common"], found["status"],
        found["basis"], found["reason"], found.get("at_most"),
    )  # fmt: skip


def _rule_check(found: dict[str, Any]) -> RuleCheck:
    margin = found["margin"]
    return RuleCheck(**{**found, "margin": None if margin is None else Margin(**margin)})
