"""What was asked, from the context file and from options: options win."""

from __future__ import annotations

import math

from midfoot.cli.failures import UseError
from midfoot.desk.context_file import PLATE_HIGH_MM, PLATE_LOW_MM
from midfoot.records.base import LIFTS
from midfoot.records.clip import Asked, DepthMarks, Reading, Tap
from midfoot.records.context import Context
from midfoot.units import length_mm, load_kg

SLOWEST, FASTEST = 0.05, 64.0
"""What --real-speed may be: film that was sped up twenty times, and slow motion of 1920 frames a second at 30."""


def asked_from(
    context: Context,
    *,
    lift: str | None = None,
    variation: str | None = None,
    load: str | None = None,
    plate: str | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
) -> Asked:
    """Join context and options into what was asked.

    Raises
    ------
    UseError, UnitError
        When the lift is missing or unknown, or an option's value is absurd.
    """
    named = lift or context.lift
    if named not in LIFTS:
        raise UseError(f'Name the lift: --lift {"|".join(LIFTS)}, or lift = "squat" in the context file.')
    return Asked(
        lift=named,
        variation=variation or context.variation,
        load_kg=load_kg(load) if load else context.load_kg,
        reps=context.reps,
        rpe=context.rpe,
        rir=context.rir,
        plate_mm=length_mm(plate, low_mm=PLATE_LOW_MM, high_mm=PLATE_HIGH_MM, what="a plate diameter")
        if plate
        else context.plate_mm,
        from_s=from_s,
        to_s=to_s,
        context_sha256=context.sha256,
        stature_m=context.stature_m,
    )


def reading_from(from_s: float | None, to_s: float | None, *, mirrored: bool, real_speed: float) -> Reading:
    """Join the options that say how the clip is to be read.

    Raises
    ------
    UseError
        When they contradict each other or cannot be.
    """
    for option, value in (("--from", from_s), ("--to", to_s)):
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise UseError(f"{option} is a second of the clip, counted from its first frame; got {value:g}.")
    if from_s is not None and to_s is not None and to_s <= from_s:
        raise UseError(f"--to must come after --from; got --from {from_s:g} and --to {to_s:g}.")
    if not SLOWEST <= real_speed <= FASTEST:
        raise UseError(
            f"--real-speed is how many times slower than life the clip plays, from {SLOWEST:g} to {FASTEST:g}; "
            f"got {real_speed:g}."
        )
    return Reading(from_s, to_s, mirrored, real_speed)


def tap_from(text: str | None, option: str) -> Tap | None:
    """Read a place and a moment such as "412,633@2.5": x and y in px of the upright picture, seconds.

    Raises
    ------
    UseError
        When it has another form.
    """
    if text is None:
        return None
    try:
        place, _, moment = text.partition("@")
        x, y = (float(v) for v in place.split(","))
        at = float(moment)
    except ValueError:
        raise UseError(f"{option} is written X,Y@SECONDS, such as {option} 412,633@2.5; got {text!r}.") from None
    if not all(math.isfinite(v) and v >= 0 for v in (x, y, at)):
        raise UseError(f"{option}: the place and the moment must not be negative; got {text!r}.")
    return Tap(x, y, at)


def rules_from(name: str | None) -> str | None:
    """Check the name of a rule set; `none` stands for no checks.

    Raises
    ------
    UseError
        When there is none of that name.
    """
    if name is None or name == "none":
        return name
    from midfoot.rules import RulesError, load

    try:
        return load(name).name
    except RulesError as error:
        raise UseError(f"--rules: {error}") from None


def depth_marks_from(crease: str | None, knee_top: str | None, lift: str) -> DepthMarks | None:
    """Read the marks that calibrate a squat's depth; None without any.

    Raises
    ------
    UseError
        When one of the two is missing, or the lift is no squat.
    """
    if crease is None and knee_top is None:
        return None
    if lift != "squat":
        raise UseError(f"--crease and --knee-top calibrate the depth of a squat; leave them out for a {lift}.")
    first, second = tap_from(crease, "--crease"), tap_from(knee_top, "--knee-top")
    if first is None or second is None:
        raise UseError("--crease and --knee-top belong together: give both, at the low of one rep.")
    return DepthMarks(first, second)
