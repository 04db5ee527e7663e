"""The report page of one measured set: one file that needs nothing beside it."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2

from midfoot.publish import charts, grid, look
from midfoot.publish.findings_section import finding_rows
from midfoot.publish.moments import PART_WORDS, written
from midfoot.publish.page_template import page_template
from midfoot.publish.rules_table import rule_rows, rulebook_of
from midfoot.publish.stills import Still, finding_stills
from midfoot.publish.tables import rows_of, set_rows
from midfoot.records.base import Value
from midfoot.records.measures import Measurement
from midfoot.units import load_words

INLINE_HEIGHT_PX = 420
LIFT_WORDS = {"squat": "Squat", "bench": "Bench press", "deadlift": "Deadlift"}
VIEW_WORDS = {
    "side": "from the side",
    "front_oblique": "obliquely from the front",
    "rear_oblique": "obliquely from behind",
    "front": "from the front",
    "rear": "from behind",
    "unknown": "from a direction that could not be told",
}
TO_FILM = (
    "Put the phone at knee height, level, on a stand, square to the lifter's side (bench: to the bench's side).",
    "Stand back until the whole near plate and the whole lifter stay in the picture through the set.",
    "60 frames a second, enough light, no zoom, no slow-motion export.",
    "Say how heavy the bar is and how wide the largest plate is.",
    "The spotter never films; the phone stands outside the bar's and the spotters' way.",
)


def report_html(
    measurement: Measurement,
    pictures: Mapping[Still, look.Picture],
    *,
    video: str | None = None,
    load_facts: Sequence[tuple[str, str]] = (),
) -> str:
    """Write the report.

    Parameters
    ----------
    measurement : the measured set.
    pictures : stills already drawn, RGB, in order of time.
    video : file name of the annotated video beside the page, None when there is none.
    load_facts : name and words of what the set's load says, for the table of the set.

    Returns
    -------
    str
        A whole HTML page with everything in it but the video.
    """
    data = measurement.data
    shown = dict(zip(pictures, _stills(pictures), strict=True))
    of_findings = set(finding_stills(measurement))
    layout = grid.lay_out(data, measurement.measured.best_rep)
    return page_template("report.html.j2").render(
        title=LIFT_WORDS[data.asked.lift],
        headline=_headline(measurement),
        facts=_facts(measurement),
        video=video,
        reps=[{"n": rep.n, "outcome": rep.outcome.replace("_", " ")} for rep in data.reps.reps],
        stills=[s for still, s in shown.items() if still not in of_findings],
        findings=finding_rows(measurement, shown),
        held=measurement.found.held,
        notes=measurement.found.notes,
        grid_svg=grid.svg(layout) if layout is not None else "",
        over_time=charts.velocity_over_time(measurement.measured.curves),
        over_height=charts.velocity_over_height(measurement.measured.curves),
        table=rows_of(measurement),
        set_table=[*set_rows(measurement), *({"name": name, "words": words} for name, words in load_facts)],
        rules=rule_rows(measurement),
        rulebook=rulebook_of(measurement),
        warnings=measurement.warnings,
        candidates=data.track.candidates if data.track.status != "found" else (),
        to_film=TO_FILM,
        phases=[(PART_WORDS[p.kind], p.start_s, p.end_s) for p in data.reps.phases],
        steps=measurement.steps,
        version=measurement.version,
        colours={name: look.css(colour) for name, colour in COLOURS.items()},
        style=(Path(__file__).parent / "templates" / "report.css").read_text("utf-8"),
    )


COLOURS = {
    "paper": look.PAPER,
    "ink": look.INK,
    "soft": look.SOFT_TEXT,
    "grid": look.GRID,
    "strong": look.GRID_STRONG,
    "bar": look.BAR,
    "evidence": look.EVIDENCE,
    "card": look.CARD,
}
"""Names of the style sheet's colours by day; those by night stand in the sheet."""


def _headline(measurement: Measurement) -> str:
    data = measurement.data
    done = sum(rep.outcome == "completed" for rep in data.reps.reps)
    parts = [f"{done} completed rep{'' if done == 1 else 's'}"]
    other = len(data.reps.reps) - done
    if other:
        parts.append(f"{other} other")
    if data.asked.load_kg:
        parts.append(load_words(data.asked.load_kg, measurement.context.load_unit or "kg"))
    if data.asked.variation:
        parts.append(data.asked.variation)
    parts.append(f"filmed {VIEW_WORDS[data.view.view_class]}")
    return ", ".join(parts)


def _facts(measurement: Measurement) -> list[tuple[str, str]]:
    data = measurement.data
    view, scale, clip = data.view, data.scale, data.clip
    facing = view.facing.replace("image_", "to the picture's ").replace("_", " ")
    seen = float(data.track.seen.mean()) if len(data.track.seen) else 0.0
    status = data.track.status.replace("_", " ")
    facts = [
        ("Bar", f"{status}, followed by the {data.track.source}; seen in {seen:.0%} of frames"
         if data.track.source != "none" else f"not followed: {data.track.reason}"),
        ("Lifter", f"facing {facing}; {view.near_side or 'neither'} side nearer"
         if data.body.status == "seen" else f"not seen: {data.body.reason}"),
        ("Camera", f"yaw {_pm(view.yaw_deg)}°, roll {_pm(view.roll_deg)}°, {_pm(view.distance_m)} m away, "
         f"{_pm(view.height_m)} m high"),
        ("Scale", f"{_pm(scale.mm_per_px)} mm per px at the plate, {_pm(scale.body_mm_per_px)} at the body; "
         f"{scale.basis}" if scale is not None else "not known: nothing of known size was seen"),
        ("Clip", f"{clip.width_px} × {clip.height_px} px, {1 / clip.frame_interval_median_s:.0f} frames a second"
         f"{', variable' if clip.variable_rate else ''}, {clip.duration_s:.1f} s"),
    ]  # fmt: skip
    return facts


def _pm(value: Value) -> str:
    number, sd = written(value.value, value.sd)
    return f"{number} (sd {sd})" if sd else number


def _stills(pictures: Mapping[Still, look.Picture]) -> list[dict[str, Any]]:
    shown = []
    for still, picture in pictures.items():
        zoom = INLINE_HEIGHT_PX / picture.shape[0]
        small = cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
        code = base64.b64encode(look.jpeg(small, quality=82)).decode("ascii")
        shown.append(
            {
                "rep": still.rep,
                "name": still.name,
                "at_s": still.at_s,
                "words": still.words or "nothing measured here",
                "source": f"data:image/jpeg;base64,{code}",
                "width": small.shape[1],
                "height": small.shape[0],
            }
        )
    return shown
