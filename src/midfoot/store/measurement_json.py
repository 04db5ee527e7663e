"""measurement.json: the contract other people's scripts rely on. It changes only by adding.

Records do not know how they are written; this module does. Numbers that were not measured are null, NaN never
appears. Times in seconds on the clip's clock.
"""

from __future__ import annotations

import json
import math
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
from attrs import asdict

from midfoot.records.bar import BarPath, BarTrack, Scale, View
from midfoot.records.base import Value
from midfoot.records.body import LANDMARKS, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import Drift, Measure, Measured, Measurement
from midfoot.records.reps import Moment, Rep, RepSet
from midfoot.records.rules import RuleCheck
from midfoot.store.findings_json import found_to_json

SCHEMA_ID = "midfoot/measurement/1"


@cache
def schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of measurement.json."""
    text = resources.files("midfoot.store").joinpath("measurement.schema.json").read_text("utf-8")
    return dict(json.loads(text))


def validate(document: dict[str, Any]) -> None:
    """Check a document against the schema; raises jsonschema's ValidationError."""
    import jsonschema

    jsonschema.Draft202012Validator(schema()).validate(document)


def to_json(measurement: Measurement) -> dict[str, Any]:
    """Turn a measurement into the document of section "measurement.json": plain dicts, lists and numbers."""
    data = measurement.data
    findings, said_of_set = found_to_json(measurement.found)
    return {
        "schema": SCHEMA_ID,
        "asked": _asked(data.asked),
        "clip": _clip(data.clip),
        "view": _view(data.view),
        "scale": _scale(data.scale),
        "bar": _bar(data.track, data.path),
        "body": _body(data.body),
        "phases": [asdict(p) for p in data.reps.phases],
        "reps": _reps(data.reps, measurement.measured),
        "set": {
            "measures": {m.id: _measure(m) for m in measurement.measured.whole},
            "best_rep": measurement.measured.best_rep,
            "drift": [_drift(d) for d in measurement.measured.drift],
            **said_of_set,
        },
        "rule_checks": [_rule_check(c) for c in measurement.rule_checks],
        "findings": findings,
        "warnings": [asdict(w) for w in measurement.warnings],
        "provenance": {"midfoot": measurement.version, "steps": [asdict(s) for s in measurement.steps]},
    }


def _number(value: float | None, digits: int = 6) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)


def _value(value: Value | None, digits: int = 5) -> dict[str, float | None] | None:
    return None if value is None else {"value": _number(value.value, digits), "sd": _number(value.sd, digits)}


def _asked(asked: Asked) -> dict[str, Any]:
    return asdict(asked)


def _clip(clip: ClipInfo) -> dict[str, Any]:
    return {
        "name": clip.name,
        "sha256": clip.sha256,
        "duration_s": _number(clip.duration_s),
        "frames": clip.frames,
        "width_px": clip.width_px,
        "height_px": clip.height_px,
        "rotation_deg": clip.rotation_deg,
        "mirrored": clip.mirrored,
        "variable_rate": clip.variable_rate,
        "frame_interval_s": {
            "median": _number(clip.frame_interval_median_s),
            "max": _number(clip.frame_interval_max_s),
        },
        "codec": clip.codec,
        "bit_depth": clip.bit_depth,
        "hdr": clip.hdr,
        "reduced": _number(clip.reduced),
        "truncated": clip.truncated,
        "cuts_s": [_number(t) for t in clip.cuts_s],
    }


def _view(view: View) -> dict[str, Any]:
    return {
        "near_side": view.near_side,
        "facing": view.facing,
        "class": view.view_class,
        "yaw_deg": _value(view.yaw_deg),
        "roll_deg": _value(view.roll_deg),
        "pitch_deg": _value(view.pitch_deg),
        "camera_distance_m": _value(view.distance_m),
        "camera_height_m": _value(view.height_m),
    }


def _scale(scale: Scale | None) -> dict[str, Any] | None:
    if scale is None:
        return None
    return {
        "mm_per_px": _value(scale.mm_per_px),
        "body_mm_per_px": _value(scale.body_mm_per_px),
        "plate_mm": _number(scale.plate_mm),
        "basis": scale.basis,
    }


def _bar(track: BarTrack, path: BarPath | None) -> dict[str, Any]:
    rows: list[dict[str, Any]] = []
    for i, t_s in enumerate(track.t_s):
        row: dict[str, Any] = {"t_s": _number(t_s)}
        row["forward_mm"] = _number(path.forward_mm[i], 3) if path else None
        row["up_mm"] = _number(path.up_mm[i], 3) if path else None
        row["x_px"], row["y_px"] = _number(track.xy_px[i, 0], 3), _number(track.xy_px[i, 1], 3)
        row["seen"] = bool(track.seen[i])
        row["sd_forward_mm"] = _number(path.sd_forward_mm[i], 3) if path else None
        row["sd_up_mm"] = _number(path.sd_up_mm[i], 3) if path else None
        rows.append(row)
    far_seen = [bool(np.isfinite(xy).all()) for xy in track.far_xy_px]
    far = [
        {"t_s": _number(t), "x_px": _number(xy[0], 3), "y_px": _number(xy[1], 3), "seen": True}
        for t, xy, seen in zip(track.t_s, track.far_xy_px, far_seen, strict=True)
        if seen
    ]
    common = None
    if path is not None:
        common = {
            "scale_pct": _number(path.scale_pct),
            "yaw_deg": _number(path.yaw_deg),
            "roll_deg": _number(path.roll_deg),
        }
    return {
        "status": track.status,
        "source": track.source,
        "reason": track.reason,
        "near_plate_diameter_px": _value(track.diameter_px),
        "near_plate_aspect": _value(track.aspect),
        "near_plate_axis_deg": _number(track.axis_deg),
        "candidates": [{k: _number(v, 3) for k, v in asdict(c).items()} for c in track.candidates],
        "path": rows,
        "common": common,
        "far": far,
    }


def _body(body: BodyTrack) -> dict[str, Any]:
    return {
        "status": body.status,
        "reason": body.reason,
        "model": body.model,
        "landmarks": list(LANDMARKS),
        "near_side": body.near_side,
        "file": "body.npz",
    }


def _moments(rep: Rep) -> dict[str, Any]:
    names = ("start", "low_start", "low_end", "top_start", "top_end", "end")
    found: dict[str, Any] = {}
    for name in names:
        moment: Moment | None = getattr(rep, name)
        if moment is None and name.startswith(("low", "top")):
            continue
        found[f"{name}_s"] = _number(moment.t_s) if moment else None
        found[f"{name}_sd_s"] = _number(moment.sd_s) if moment else None
    return found


def _reps(reps: RepSet, measured: Measured) -> list[dict[str, Any]]:
    return [
        {
            "n": rep.n,
            "outcome": rep.outcome,
            "start_seen": bool(rep.start_seen),
            "end_seen": bool(rep.end_seen),
            **_moments(rep),
            "why": rep.why,
            "measures": {m.id: _measure(m) for m in row},
        }
        for rep, row in zip(reps.reps, measured.reps, strict=True)
    ]


def _measure(measure: Measure) -> dict[str, Any]:
    return {
        "value": _number(measure.value),
        "unit": measure.unit,
        "sd": _number(measure.sd),
        "sd_common": _number(measure.sd_common),
        "status": measure.status,
        "basis": measure.basis,
        "reason": measure.reason,
        **({} if measure.at_most is None else {"at_most": _number(measure.at_most)}),
    }


def _drift(drift: Drift) -> dict[str, Any]:
    return {
        "measure": drift.measure,
        "per_rep_change": [_number(v) for v in drift.per_rep_change],
        "change_first_last": _number(drift.change_first_last),
        "sd": _number(drift.sd),
        "clear_from_rep": drift.clear_from_rep,
        "trend": drift.trend,
    }


def _rule_check(check: RuleCheck) -> dict[str, Any]:
    margin = check.margin
    return {
        "id": check.id,
        "rep": check.rep,
        "verdict": check.verdict,
        "margin": None
        if margin is None
        else {"value": _number(margin.value), "unit": margin.unit, "sd": _number(margin.sd)},
        "at_s": _number(check.at_s),
        "rulebook": check.rulebook,
        "clause": check.clause,
        "title": check.title,
        "reason": check.reason,
        "measure": check.measure,
        "source": check.source,
    }
