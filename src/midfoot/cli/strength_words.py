"""What `midfoot strength` prints, and how it reads a set with its velocity."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import attrs

from midfoot.cli.failures import UseError
from midfoot.records.base import NotMeasured, Value
from midfoot.records.strength import BodyMassClass, Countdown, Loaded, LoadedSet, OneRm, Plan, Points, Profile
from midfoot.strength import for_the_lifter
from midfoot.units import KG_PER_LB, load_kg, load_words, unit_of

NAMES = {"dots": "DOTS", "ipf_gl": "IPF GL", "wilks": "Wilks", "wilks_2020": "Wilks 2020"}
CAUTION = "Safeties or spotters, stop on pain."


def points_lines(found: Mapping[str, Points | NotMeasured], body_class: BodyMassClass) -> list[str]:
    """Lay out points, one formula a line."""
    lines = []
    for name, one in found.items():
        if isinstance(one, NotMeasured):
            lines.append(f"{NAMES[name]:<11}      -   {one.reason}")
            continue
        held = (
            f"   body mass counted as {one.body_mass_used_kg:g} kg, the formula's limit"
            if one.held_at_limit
            else ""
        )
        lines.append(f"{NAMES[name]:<11}{one.points:8.2f}{held}")
    over = f"over {body_class.over_kg:g} kg" if body_class.over_kg else "from the lightest"
    to = f" to {body_class.to_kg:g} kg" if body_class.to_kg is not None else ""
    lines += ["", f"Class: {body_class.federation} {body_class.name} ({over}{to}; classes of {body_class.year})"]
    return lines


def one_rm_lines(found: OneRm, unit: str = "kg") -> list[str]:
    """Lay out an estimated maximum: every method, then the estimate and its doubt."""
    width = max(len(m.name) for m in found.methods)
    lines = [f"{m.name:<{width}}  {_load(m.kg, unit):>9}" + ("" if m.counted else "  (not counted)")
             for m in found.methods]  # fmt: skip
    lines += ["", f"Estimated maximum {_load(found.kg, unit)}, sd {_load(found.sd_kg, unit)}"]
    if found.sd_kg > 0:
        if found.high_kg > found.low_kg:
            lines.append(f"The methods lie from {_load(found.low_kg, unit)} to {_load(found.high_kg, unit)}.")
        lines.append(f"For the lifter: {for_the_lifter(found)}.")
    lines.append(
        f"From {found.basis}." if found.basis[0].isdigit() else f"{found.basis[0].upper()}{found.basis[1:]}."
    )
    return lines


def profile_lines(found: Profile) -> list[str]:
    """Lay out a load-velocity line."""
    lines = ["     load   velocity      line"]
    for one in sorted(found.sets, key=lambda s: s.load_kg):
        on_line = found.at_zero_m_s.value + found.per_kg_m_s.value * one.load_kg
        lines.append(f"{one.load_kg:6.1f} kg  {one.velocity_m_s:5.2f} m/s  {on_line:5.2f} m/s")
    lines += [
        "",
        f"{-1000 * found.per_kg_m_s.value:.1f} mm/s slower per kg, sd {1000 * found.per_kg_m_s.sd:.1f}",
        f"Estimated maximum {found.one_rm.kg:.1f} kg, sd {found.one_rm.sd_kg:.1f} kg; "
        f"for the lifter: {for_the_lifter(found.one_rm)}",
        f"From a {found.one_rm.basis}.",
    ]
    return lines


def plates_lines(found: Loaded, asked: str) -> list[str]:
    """Lay out what goes on each side."""
    with_collars = "no collars" if found.collars.startswith("0") else f"collars of {found.collars} each"
    head = f"{found.bar} bar, {with_collars}, {found.plates} plates; each side from the inside:"
    ways = [w for w in (found.exact, found.below, found.above) if w is not None]
    lines = [head]
    if found.exact is None:
        lines.append(f"{asked.strip()} cannot be loaded: {found.reason}.")
    unit = unit_of(asked)
    for way in ways:
        side = " + ".join(f"{n} x {size}" if n > 1 else size for size, n in way.side) or "nothing"
        kind = "" if way.kind == "exact" else f"nearest {way.kind}: "
        lines.append(f"{kind}{load_words(way.kg, unit)} = {side}")
    return lines


def attempts_lines(found: Plan, until: Countdown | None) -> list[str]:
    """Lay out three attempts."""
    lines = [f"{'':8}{'low':>9}{'target':>9}{'high':>9}  kg"]
    lines += [f"{a.name:8}{a.low_kg:9.1f}{a.target_kg:9.1f}{a.high_kg:9.1f}" for a in found.attempts]
    lines += ["", f"From an estimated maximum of {found.one_rm.kg:.1f} kg, sd {found.one_rm.sd_kg:.1f} kg; "
              "low on a bad day, high on a good one."]  # fmt: skip
    if until is not None:
        lines.append(f"{until.weeks:.1f} weeks to the competition: {until.words}.")
    return [*lines, CAUTION]


def as_json(value: Any) -> None:
    """Print records as JSON; no number is null, what could not be computed has a reason and a remedy."""
    print(json.dumps(_plain(value), indent=1, allow_nan=False))


def set_from(text: str) -> LoadedSet:
    """Read LOAD@VELOCITY or LOAD@VELOCITY+-SD.

    Raises
    ------
    UseError, UnitError
        When it has another form.
    """
    load, at, speed = text.partition("@")
    if not at:
        raise UseError(f"--set is written LOAD@VELOCITY, such as --set 100kg@0.55; got {text!r}.")
    velocity = velocity_from(speed, "--set")
    return LoadedSet(load_kg(load), velocity.value, velocity.sd)


def velocity_from(text: str, option: str) -> Value:
    """Read VELOCITY or VELOCITY+-SD in m/s.

    Raises
    ------
    UseError
        When it has another form, or cannot be.
    """
    value, _, sd = text.replace("±", "+-").partition("+-")
    try:
        found = Value(float(value.removesuffix("m/s")), float(sd or 0))
    except ValueError:
        raise UseError(
            f"{option}: a velocity is a number of m/s such as 0.55 or 0.55+-0.02; got {text!r}."
        ) from None
    if not (0 < found.value <= 3 and 0 <= found.sd <= 1):
        raise UseError(f"{option}: a mean velocity lies between 0 and 3 m/s; got {text!r}.")
    return found


def _load(kg: float, unit: str) -> str:
    words = f"{kg:.1f} kg"
    return words if unit == "kg" else f"{words} ({load_words(round(kg / KG_PER_LB) * KG_PER_LB, unit)})"


def _plain(value: Any) -> Any:
    if attrs.has(type(value)):
        return {a.name: _plain(getattr(value, a.name)) for a in attrs.fields(type(value))}
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
