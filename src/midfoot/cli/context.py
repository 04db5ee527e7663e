"""The set's context from a TOML file and from options: options win."""

from __future__ import annotations

import hashlib
import math
import tomllib
from pathlib import Path
from typing import Any

from midfoot.cli.failures import UseError
from midfoot.records.base import LIFTS
from midfoot.records.clip import Asked, Reading, Tap
from midfoot.units import length_mm, load_kg

PLATE_LOW_MM, PLATE_HIGH_MM = 150.0, 520.0
SLOWEST, FASTEST = 0.05, 64.0
"""What --real-speed may be: film that was sped up twenty times, and slow motion of 1920 frames a second at 30."""


def read_context(path: Path | None) -> tuple[dict[str, Any], str | None]:
    """Read a context file; gives its table and its SHA-256.

    Raises
    ------
    UseError
        When it is not there or not TOML.
    """
    if path is None:
        return {}, None
    try:
        data = path.read_bytes()
    except OSError:
        raise UseError(f"There is no context file {path}; check --context.") from None
    try:
        return tomllib.loads(data.decode("utf-8")), hashlib.sha256(data).hexdigest()
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise UseError(f"{path.name} is not a TOML file ({error}); correct it or leave --context out.") from None


def asked_from(
    context: dict[str, Any],
    sha256: str | None,
    *,
    lift: str | None,
    variation: str | None,
    load: str | None,
    plate: str | None,
    from_s: float | None,
    to_s: float | None,
) -> Asked:
    """Join context and options into what was asked.

    Raises
    ------
    UseError, UnitError
        When the lift is missing or unknown, or a value is of the wrong kind or absurd.
    """
    named = lift or context.get("lift")
    if named not in LIFTS:
        raise UseError(f'Name the lift: --lift {"|".join(LIFTS)}, or lift = "squat" in the context file.')
    load = load or _text(context, "load")
    plate = plate or _text(context, "plate")
    stature = _text(context, "stature")
    return Asked(
        lift=named,
        variation=variation or _text(context, "variation"),
        load_kg=load_kg(load) if load else None,
        reps=_whole(context, "reps", 1, 100),
        rpe=_between(context, "rpe", 1, 10),
        rir=_between(context, "rir", 0, 20),
        plate_mm=length_mm(plate, low_mm=PLATE_LOW_MM, high_mm=PLATE_HIGH_MM, what="a plate diameter")
        if plate
        else None,
        from_s=from_s,
        to_s=to_s,
        context_sha256=sha256,
        stature_m=length_mm(stature, low_mm=1000, high_mm=2400, what="a stature") / 1000 if stature else None,
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


def _text(context: dict[str, Any], key: str) -> str | None:
    value = context.get(key)
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise UseError(f'{key} in the context file must be text such as {key} = "..."; got {value!r}.')
    return str(value)


def _whole(context: dict[str, Any], key: str, low: int, high: int) -> int | None:
    value = context.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise UseError(f"{key} in the context file must be a whole number from {low} to {high}; got {value!r}.")
    return value


def _between(context: dict[str, Any], key: str, low: float, high: float) -> float | None:
    value = context.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise UseError(f"{key} in the context file must be a number from {low:g} to {high:g}; got {value!r}.")
    return float(value)
