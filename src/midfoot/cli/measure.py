"""`midfoot measure`: the main job on one clip."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

Lift = Literal["squat", "bench", "deadlift"]


def measure(
    clip: Path,
    /,
    *,
    out: Path,
    lift: Lift | None = None,
    variation: str | None = None,
    load: str | None = None,
    plate: str | None = None,
    from_s: Annotated[float | None, Parameter(name="--from")] = None,
    to_s: Annotated[float | None, Parameter(name="--to")] = None,
    mirrored: Annotated[bool, Parameter(negative=())] = False,
    real_speed: float = 1.0,
    bar_at: str | None = None,
    lifter_at: str | None = None,
    reps: Path | None = None,
    context: Path | None = None,
    rules: str | None = None,
    thresholds: Path | None = None,
    crease: str | None = None,
    knee_top: str | None = None,
    network: Literal["full", "heavy"] | None = None,
    video: bool = True,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Measure a set from one clip: numbers with their uncertainty, then a report, stills and a video.

    Example: midfoot measure set.mp4 --lift squat --load 140kg --out set/

    Parameters
    ----------
    clip
        The phone's own file (.mp4, .mov, .webm, .mkv).
    out
        Folder for measurement.json, report.html, annotated.mp4 and stills/.
    lift
        Which lift it is; may stand in the context file instead.
    variation
        In plain words, such as "paused" or "sumo".
    load
        What is on the bar, bar included: 140kg or 315lb.
    plate
        Diameter of the largest plate: 450mm, 45cm or 17.7in.
    from_s
        Measure from this second of the clip on.
    to_s
        Measure up to this second of the clip.
    mirrored
        The clip is a mirror image (front camera).
    real_speed
        How many times slower than life the clip plays: 8 for 240 frames a second stored at 30.
    bar_at
        The near end of the bar at one moment: X,Y@SECONDS in px of the upright picture.
    lifter_at
        The lifter at one moment: X,Y@SECONDS.
    reps
        File with moments of reps that override the measured ones (TOML or CSV).
    context
        TOML file with what the lifter said: lift, load, reps, rpe, pain, question ... (docs/context.md).
    rules
        Rule set to hold the set against, such as ipf-2026; none for no checks.
    thresholds
        TOML file with your own thresholds of findings over the package's (docs/findings/README.md).
    crease
        Crease of the hip at the low of a squat: X,Y@SECONDS; with --knee-top it calibrates the depth.
    knee_top
        Top of the knee at the same moment: X,Y@SECONDS.
    network
        Pose network: full, or heavy where it is installed.
    video
        Also encode the annotated video.
    json
        Print measurement.json instead of the table.
    """
    from attrs import evolve

    from midfoot.cli.context import asked_from, depth_marks_from, reading_from, rules_from, tap_from
    from midfoot.cli.stopping import stoppable
    from midfoot.desk.context_file import read_context
    from midfoot.units import unit_of

    said = read_context(context)
    asked = asked_from(said, lift=lift, variation=variation, load=load, plate=plate, from_s=from_s, to_s=to_s)
    said = evolve(said, load_unit=unit_of(load)) if load else said
    rule_set = rules_from(rules)
    marks = depth_marks_from(crease, knee_top, asked.lift)
    reading = reading_from(from_s, to_s, mirrored=mirrored, real_speed=real_speed)
    bar_tap, lifter_tap = tap_from(bar_at, "--bar-at"), tap_from(lifter_at, "--lifter-at")
    with stoppable() as stop:
        from midfoot.cli.one_set import measure_into
        from midfoot.cli.show import Show
        from midfoot.findings import read_thresholds
        from midfoot.pipeline import Request
        from midfoot.reps import read_given

        request = Request(
            clip=clip,
            asked=asked,
            reading=reading,
            bar_at=bar_tap,
            lifter_at=lifter_tap,
            given=read_given(reps) if reps is not None else None,
            network=network,
            context=said,
            rules=rule_set,
            depth_marks=marks,
            limits=read_thresholds(thresholds) if thresholds is not None else None,
        )
        with Show(quiet=json) as show:
            folder = measure_into(out, request, show, stop, video=video, as_json=json)
            show.where(folder, video=video)
    return 0
