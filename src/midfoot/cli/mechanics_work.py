"""What `midfoot mechanics` works out of a measured folder, and the frames on which it draws the moment arms."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from attrs import asdict, frozen

from midfoot import footage, publish
from midfoot.cli.failures import UseError
from midfoot.cli.mechanics_words import CANNOT, LIMITS
from midfoot.mechanics import (
    TRIED,
    joined,
    mechanics_of,
    predictions,
    seen_lengths,
    sources_of_lengths,
    the_lifter,
    what_if,
)
from midfoot.positions import arms_in_picture, places_of
from midfoot.records.base import FloatArray, NotMeasured
from midfoot.records.clip import Reading
from midfoot.records.context import Context
from midfoot.records.mechanics import ArmsInPicture, Length, Lifter, MomentOfRep, RepMechanics, Segment
from midfoot.store import StoreError, context_from_json, read_folder
from midfoot.units import body_mass_kg, length_mm, load_kg

SCHEMA_ID = "midfoot/mechanics/1"
LEAST_FORWARD_MM = 5.0
MOMENTS = {
    "squat": (
        ("start", "start_s"), ("low", "low_end_s"), ("slowest", ""), ("farthest forward", ""), ("end", "end_s")
    ),
    "bench": (("start", "start_s"), ("touch", "low_end_s"), ("slowest", ""), ("end", "end_s")),
    "deadlift": (("lift-off", "start_s"), ("slowest", ""), ("farthest forward", ""), ("top", "top_start_s")),
}  # fmt: skip
"""Names of a rep's moments, and where the measurement has them; the others are found on the bar's path."""
DRAWN = ("low", "touch", "lift-off", "slowest", "farthest forward")
"""Moments of which the frame is shown; the farthest only of a rep that has no slowest point."""


@frozen
class Worked:
    """mechanics.json's document, the measurement's with its arrays, and the reps as records."""

    found: dict[str, Any]
    document: dict[str, Any]
    arrays: dict[str, FloatArray]
    reps: tuple[RepMechanics, ...]


def work_out(
    folder: Path, body_mass: str | None, stature: str | None, sex: str | None, load: str | None, table: str
) -> Worked:
    """Work out a measured folder.

    Raises
    ------
    StoreError, UnitError
        When the folder is not a measured one, or a value cannot be read.
    """
    mass = body_mass_kg(body_mass) if body_mass else None
    told_m = length_mm(stature, low_mm=1000, high_mm=2400, what="a stature") / 1000 if stature else None
    told_kg = load_kg(load) if load else None
    document, arrays = read_folder(folder)
    asked = document["asked"]
    context = _context(folder)
    kg, tall = told_kg or asked["load_kg"], told_m or asked.get("stature_m")
    if context is not None:
        mass, tall = mass or context.body_mass_kg, tall or context.stature_m
        sex = sex or {"female": "f", "male": "m"}.get(context.sex or "")
    told = {"load": kg, "body_mass": mass, "stature": tall, "sex": sex if tall is not None else ""}
    cannot = [CANNOT[name] for name, value in told.items() if value is None]
    places = places_of(document, arrays)
    if isinstance(places, NotMeasured):
        raise StoreError(f"{folder}: {places.reason}; {places.remedy}.")
    if not document["reps"]:
        raise StoreError(f"{folder}: no rep was found in this set; give them with midfoot measure --reps.")
    seen = seen_lengths(places)
    lifter = _lifter(sex, tall, mass, table, seen)
    lift = asked["lift"]
    reps, drift = mechanics_of(lift, places, _reps(document), lifter, kg)
    model = lifter or _lifter(sex, tall, 75.0, table, seen)  # geometry needs no mass
    best = document["set"]["best_rep"] or document["reps"][0]["n"]
    rep = next(r for r in document["reps"] if r["n"] == best)
    measured = {k: m["value"] for k, m in rep["measures"].items()}
    changes = what_if(lift, model, measured) if model is not None else ()
    source, lengths = sources_of_lengths(table)
    found = {
        "schema": SCHEMA_ID, "lift": lift, "load_kg": kg, "body_mass_kg": mass, "stature_m": tall, "sex": sex,
        "segments": {
            "table": table, "source": source, "lengths": lengths, "of_this_lifter": _lengths(model, table, seen)
        },
        "reps": [asdict(r) for r in reps], "drift_10_mm": asdict(drift) if drift else None,
        "what_if": [asdict(w) for w in changes], "what_if_beside_rep": best,
        "predictions": _predictions(lift, model), "cannot": cannot, "limits": LIMITS,
    }  # fmt: skip
    clean: dict[str, Any] = _finite(found)
    return Worked(clean, document, arrays, reps)


def _context(folder: Path) -> Context | None:
    file = folder / "context.json"
    try:
        return context_from_json(json.loads(file.read_text("utf-8"))) if file.is_file() else None
    except (OSError, ValueError, AttributeError):
        raise StoreError(f"{file} cannot be read; measure the clip again with --context.") from None


def _lifter(
    sex: str | None, tall: float | None, mass: float | None, table: str, seen: Mapping[str, Length]
) -> Lifter | None:
    """Scale the table to stature and mass, with the lengths that were seen joined in."""
    if tall is None or mass is None:
        return None
    half = "female" if sex == "f" else "male"
    plain = the_lifter(half, tall, mass, table=table)
    return the_lifter(half, tall, mass, table=table, lengths=joined(plain, seen))


def _lengths(model: Lifter | None, table: str, seen: Mapping[str, Length]) -> dict[str, Any]:
    """Give every segment's length in mm: what is used, what stature gives, what was seen and whether it counts."""
    if model is None:
        return {n: {"used": None, "stature": None, "seen": _mm(length)} for n, length in seen.items()}
    plain = the_lifter(model.sex, model.stature_m, model.body_mass_kg, table=table)
    counted = joined(plain, seen)
    return {
        name: {
            "used": _mm(_length(s)),
            "stature": _mm(_length(plain.segments[name])),
            "seen": _mm(seen[name]) if name in seen else None,
            "counted": name in counted,
        }
        for name, s in model.segments.items()
    }


def _predictions(lift: str, model: Lifter | None) -> list[dict[str, Any]]:
    """Give what a later set can refute of each change of set-up: measures by their ids."""
    if model is None:
        return []
    return [
        {"what": tried.words, "alters": tried.alters, "by_mm": tried.by_mm,
         "predictions": [asdict(p) for p in predictions(lift, model, tried.alters, tried.by_mm)]}
        for tried in TRIED[lift] if tried.alters != "sumo"
    ]  # fmt: skip


def _length(segment: Segment) -> Length:
    return Length(segment.length_m, segment.length_sd * segment.length_m, 0)


def _mm(length: Length) -> dict[str, float]:
    return {"value": 1000 * length.m, "sd": 1000 * length.sd_m, "frames": length.frames}


def _reps(document: dict[str, Any]) -> list[tuple[int, dict[str, float], tuple[float, float] | None]]:
    lift = document["asked"]["lift"]
    first, last = ("start_s", "top_start_s") if lift == "deadlift" else ("low_end_s", "end_s")
    found = []
    for rep in document["reps"]:
        times = {name: rep.get(key) if key else FOUND[name](document, rep) for name, key in MOMENTS[lift]}
        span = (rep.get(first), rep.get(last))
        named = {name: at_s for name, at_s in times.items() if at_s is not None}
        found.append((rep["n"], named, None if None in span else span))
    return found


def _farthest_s(document: dict[str, Any], rep: dict[str, Any]) -> float | None:
    """Give when the bar stands farthest forward of where the ascent began; None where it never does by 5 mm."""
    deadlift = document["asked"]["lift"] == "deadlift"
    first, last = rep.get("start_s" if deadlift else "low_end_s"), rep.get("top_start_s" if deadlift else "end_s")
    if first is None or last is None:
        return None
    path = [p for p in document["bar"]["path"] if first <= p["t_s"] <= last and p["forward_mm"] is not None]
    far = max(path, key=lambda p: float(p["forward_mm"]), default=None)
    if far is None or far["forward_mm"] - path[0]["forward_mm"] < LEAST_FORWARD_MM:
        return None
    return float(far["t_s"])


def _slowest_s(document: dict[str, Any], rep: dict[str, Any]) -> float | None:
    """Give when the bar passes the height of its slowest point on the way up; None where there is no such dip."""
    height = rep["measures"].get("sticking_height_mm", {}).get("value")
    first = rep.get("low_start_s", rep.get("start_s"))
    last = rep.get("top_start_s" if document["asked"]["lift"] == "deadlift" else "end_s")
    if height is None or first is None or last is None:
        return None
    path = [p for p in document["bar"]["path"] if first <= p["t_s"] <= last and p["up_mm"] is not None]
    ups = np.array([p["up_mm"] for p in path])
    if not len(ups):
        return None
    k = int(np.argmin(ups))
    risen = np.flatnonzero(ups[k:] >= ups[k] + height)
    return float(path[k + int(risen[0])]["t_s"]) if len(risen) else None


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(v) for v in value]
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


FOUND = {"slowest": _slowest_s, "farthest forward": _farthest_s}


def clip_of(folder: Path, document: dict[str, Any], given: Path | None) -> Path | None:
    """Give the clip that was measured: as given, or found by its name beside or in the folder; None without one.

    Raises
    ------
    UseError
        When the given clip is not there or not the one that was measured.
    """
    name, sha256 = document["clip"]["name"], document["clip"]["sha256"]
    if given is not None:
        if not given.is_file():
            raise UseError(f"There is no clip {given}; check --clip.")
        if _sha256(given) != sha256:
            raise UseError(f"--clip: {given} is not the clip that was measured ({name}); give that file.")
        return given
    places = (folder / name, folder.resolve().parent / name, Path(name))
    return next((p for p in places if p.is_file() and _sha256(p) == sha256), None)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def drawn_arms(worked: Worked, clip: Path) -> list[tuple[str, str, publish.Picture]]:
    """Draw the moment arms on the frames of the moments that matter.

    Returns
    -------
    list of (file name, what it shows, picture)
        In order of time.

    Raises
    ------
    footage.FootageError
        When the clip cannot be decoded.
    """
    shown: list[tuple[int, MomentOfRep, ArmsInPicture]] = []
    for rep in worked.reps:
        names = {moment.name for moment in rep.moments}
        shows = [n for n in DRAWN if n != "farthest forward" or "slowest" not in names]
        for moment in rep.moments:
            arms = arms_in_picture(worked.document, worked.arrays, moment) if moment.name in shows else None
            if arms is not None and arms.arms:
                shown.append((rep.n, moment, arms))
    shown.sort(key=lambda one: one[1].at_s)
    info, found = worked.document["clip"], []
    scene = publish.scene_of([arms for _, _, arms in shown], (info["width_px"], info["height_px"]))
    frames = footage.frames_at(clip, [m.at_s for _, m, _ in shown], _reading(worked.document))
    for (n, moment, arms), frame in zip(shown, frames, strict=False):
        head = f"rep {n}, {moment.name}"
        words = "level distance from the bar's vertical to each joint; moment of both sides together"
        picture = publish.arms_still(frame.rgb(), arms, moment, scene, head=head, words=words)
        found.append(
            (f"rep{n:02d}-arms-{moment.name.replace(' ', '-')}.jpg", f"{head}, {moment.at_s:.2f} s", picture)
        )
    return found


def _reading(document: dict[str, Any]) -> Reading:
    steps = document.get("provenance", {}).get("steps", [])
    told: dict[str, Any] = next((s["parameters"] for s in steps if s["name"] == "footage"), {})
    return Reading(**{k: told[k] for k in ("from_s", "to_s", "mirrored", "real_speed") if k in told})
