"""What mechanics works out of a measured set, and the frames on which it draws the moment arms."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from attrs import asdict, frozen

from midfoot import footage, publish
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
from midfoot.mechanics_words import CANNOT, LIMITS
from midfoot.positions import arms_in_picture, places_of
from midfoot.records.base import NotMeasured
from midfoot.records.measures import Measurement
from midfoot.records.mechanics import ArmsInPicture, Length, Lifter, MomentOfRep, RepMechanics, Segment
from midfoot.records.reps import Rep
from midfoot.review_pictures import reading_of
from midfoot.store import StoreError
from midfoot.units import body_mass_kg, length_mm, load_kg

SCHEMA_ID = "midfoot/mechanics/1"
LEAST_FORWARD_MM = 5.0
MOMENTS = {
    "squat": (
        ("start", "start"), ("low", "low_end"), ("slowest", ""), ("farthest forward", ""), ("end", "end")
    ),
    "bench": (("start", "start"), ("touch", "low_end"), ("slowest", ""), ("end", "end")),
    "deadlift": (("lift-off", "start"), ("slowest", ""), ("farthest forward", ""), ("top", "top_start")),
}  # fmt: skip
"""Names of a rep's moments, and where the measurement has them; the others are found on the bar's path."""
DRAWN = ("low", "touch", "lift-off", "slowest", "farthest forward")
"""Moments of which the frame is shown; the farthest only of a rep that has no slowest point."""


@frozen
class Told:
    """What is known of lifter and load beside the measurement, in SI; it goes before what the context says."""

    body_mass_kg: float | None = None
    stature_m: float | None = None
    sex: str | None = None
    load_kg: float | None = None

    @classmethod
    def read(cls, body_mass: str | None, stature: str | None, sex: str | None, load: str | None) -> Told:
        """Read "83kg", "178cm", "m" and "140kg"; UnitError where one cannot be read."""
        return cls(
            body_mass_kg(body_mass) if body_mass else None,
            length_mm(stature, low_mm=1000, high_mm=2400, what="a stature") / 1000 if stature else None,
            sex,
            load_kg(load) if load else None,
        )


@frozen
class Worked:
    """mechanics.json's document, and the reps as records."""

    found: dict[str, Any]
    reps: tuple[RepMechanics, ...]


def work_out(measurement: Measurement, told: Told = Told(), table: str = "de_leva") -> Worked:
    """Work out a measured set.

    Raises
    ------
    StoreError
        When bar or lifter were not followed well enough, or no rep was found.
    """
    data, context = measurement.data, measurement.context
    asked = data.asked
    kg = told.load_kg or asked.load_kg
    mass = told.body_mass_kg or context.body_mass_kg
    tall = told.stature_m or context.stature_m or asked.stature_m
    sex = told.sex or {"female": "f", "male": "m"}.get(context.sex or "")
    known = {"load": kg, "body_mass": mass, "stature": tall, "sex": sex if tall is not None else ""}
    cannot = [CANNOT[name] for name, value in known.items() if value is None]
    places = places_of(data)
    if isinstance(places, NotMeasured):
        raise StoreError(f"{places.reason[0].upper()}{places.reason[1:]}; {places.remedy}.")
    if not data.reps.reps:
        raise StoreError("No rep was found in this set; give them with midfoot measure --reps.")
    seen = seen_lengths(places)
    lifter = _lifter(sex, tall, mass, table, seen)
    lift = asked.lift
    reps, drift = mechanics_of(lift, places, _reps(measurement), lifter, kg)
    model = lifter or _lifter(sex, tall, 75.0, table, seen)  # geometry needs no mass
    best = measurement.measured.best_rep or data.reps.reps[0].n
    row = next(k for k, r in enumerate(data.reps.reps) if r.n == best)
    measured = {m.id: m.value for m in measurement.measured.reps[row]}
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
    return Worked(clean, reps)


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


def _reps(measurement: Measurement) -> list[tuple[int, dict[str, float], tuple[float, float] | None]]:
    found = []
    for place, rep in enumerate(measurement.data.reps.reps):
        times = {
            name: FOUND[name](measurement, place) if not key else _at_s(rep, key)
            for name, key in MOMENTS[measurement.data.asked.lift]
        }
        named = {name: at_s for name, at_s in times.items() if at_s is not None}
        found.append((rep.n, named, rep.ascent_s))
    return found


def _at_s(rep: Rep, name: str) -> float | None:
    moment = getattr(rep, name)
    return None if moment is None else float(moment.t_s)


def _farthest_s(measurement: Measurement, place: int) -> float | None:
    """Give when the bar stands farthest forward of where the ascent began; None where it never does by 5 mm."""
    span, path = measurement.data.reps.reps[place].ascent_s, measurement.data.path
    if span is None or path is None:
        return None
    rows = np.flatnonzero((path.t_s >= span[0]) & (path.t_s <= span[1]) & np.isfinite(path.forward_mm))
    if not len(rows):
        return None
    forward = path.forward_mm[rows]
    far = int(np.argmax(forward))
    return float(path.t_s[rows[far]]) if forward[far] - forward[0] >= LEAST_FORWARD_MM else None


def _slowest_s(measurement: Measurement, place: int) -> float | None:
    """Give when the bar passes the height of its slowest point on the way up; None where there is no such dip."""
    rep, path = measurement.data.reps.reps[place], measurement.data.path
    height = measurement.measured.of(place, "sticking_height_mm")
    first, last = rep.low_start or rep.start, rep.top_start or rep.end
    if height is None or height.value is None or first is None or last is None or path is None:
        return None
    rows = np.flatnonzero((path.t_s >= first.t_s) & (path.t_s <= last.t_s) & np.isfinite(path.up_mm))
    ups = path.up_mm[rows]
    if not len(ups):
        return None
    k = int(np.argmin(ups))
    risen = np.flatnonzero(ups[k:] >= ups[k] + height.value)
    return float(path.t_s[rows[k + int(risen[0])]]) if len(risen) else None


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(v) for v in value]
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


FOUND = {"slowest": _slowest_s, "farthest forward": _farthest_s}


def drawn_arms(
    measurement: Measurement, reps: tuple[RepMechanics, ...], clip: Path
) -> list[tuple[str, str, publish.Picture]]:
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
    shown = _drawn(measurement, reps)
    info, found = measurement.data.clip, []
    scene = publish.scene_of([arms for _, _, arms in shown], (info.width_px, info.height_px))
    frames = footage.frames_at(clip, [m.at_s for _, m, _ in shown], reading_of(measurement))
    for (n, moment, arms), frame in zip(shown, frames, strict=False):
        head = f"rep {n}, {moment.name}"
        words = "level distance from the bar's vertical to each joint; moment of both sides together"
        picture = publish.arms_still(frame.rgb(), arms, moment, scene, head=head, words=words)
        found.append(
            (f"rep{n:02d}-arms-{moment.name.replace(' ', '-')}.jpg", f"{head}, {moment.at_s:.2f} s", picture)
        )
    return found


def arms_of(measurement: Measurement, reps: tuple[RepMechanics, ...]) -> tuple[ArmsInPicture, ...]:
    """Give where the moment arms of the moments that matter lie in their frames, in order of time."""
    return tuple(arms for _, _, arms in _drawn(measurement, reps))


def _drawn(
    measurement: Measurement, reps: tuple[RepMechanics, ...]
) -> list[tuple[int, MomentOfRep, ArmsInPicture]]:
    shown: list[tuple[int, MomentOfRep, ArmsInPicture]] = []
    for rep in reps:
        names = {moment.name for moment in rep.moments}
        shows = [n for n in DRAWN if n != "farthest forward" or "slowest" not in names]
        for moment in rep.moments:
            arms = arms_in_picture(measurement.data, moment) if moment.name in shows else None
            if arms is not None and arms.arms:
                shown.append((rep.n, moment, arms))
    shown.sort(key=lambda one: one[1].at_s)
    return shown
