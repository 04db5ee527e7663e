"""What comes after the set: the next session, what to film, and the cautions that always stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement
from midfoot.records.review import Part
from midfoot.review import moments
from midfoot.review.library import Picker, small
from midfoot.review.names import GOALS
from midfoot.review.said import LoadSays
from midfoot.review.words import bar_load, listed

HARD_RPE, EASY_RPE = 9.0, 7.5
"""From 9 on the set was near the limit; up to 7.5 there was room (common practice, no source)."""
OFF_SHARE, ADD_SHARE = 0.05, 0.025
"""Of the load, taken off or added (common practice, no source)."""
FEW_FRAMES_S = 1 / 45
OBLIQUE_DEG = 15.0


def next_parts(
    measurement: Measurement,
    picker: Picker,
    values: Mapping[str, str],
    changes: Sequence[Part],
    meet: str,
    load_says: LoadSays | None = None,
) -> list[Part]:
    """Draft the next session; advice on load only where nothing stands against it.

    `meet` is `close`, `near` or "" for a competition in sight; `load_says` is what strength makes of the load.
    """
    says = load_says or LoadSays()
    out: list[Part] = []
    context, data = measurement.context, measurement.data
    if meet and not context.hurts:
        out += _part(picker, f"meet_{meet}", values, "next")
    against = _against_load(measurement)
    if against:
        about, quiet = against
        out += _part(picker, about, values, "next", quiet=quiet)
        return out
    load, effort, unit = data.asked.load_kg, context.effort_rpe, context.load_unit or "kg"
    if load and effort is None:
        out += _part(picker, "no_effort", values, "next")
    elif load and effort is not None and says.next_load:
        about = "range_hard" if effort >= HARD_RPE else "range"
        out += _part(picker, about, {**values, "kg": says.next_load}, "next")
    elif load and effort is not None:
        if effort >= HARD_RPE:
            out += _part(picker, "down", {**values, "kg": bar_load(OFF_SHARE * load, unit, down=False)}, "next")
        elif effort <= EASY_RPE and not meet:
            about = "up" if any(p.try_text for p in changes) else "up_kept"
            out += _part(picker, about, {**values, "kg": bar_load(ADD_SHARE * load, unit, down=False)}, "next")
        else:
            out += _part(picker, "same_load", values, "next")
    if says.maximum:
        out += _part(picker, "maximum", {**values, "kg": says.maximum}, "next")
    first = next((p for p in changes if p.try_at is not None and p.try_at.max_load_pct is not None), None)
    if load and first is not None and first.try_at is not None and first.try_at.max_load_pct is not None:
        rpe = first.try_at.max_rpe
        said = {
            **values,
            "kg": bar_load(first.try_at.max_load_pct / 100 * load, unit),
            "rpe": f"{rpe:g}" if rpe else "7",
        }
        out += _part(picker, "light_first", said, "next")
    if sum(p.section == "change" and bool(p.try_text) for p in changes) > 1:
        out += _part(picker, "one_thing", values, "next")
    return out


def _against_load(measurement: Measurement) -> tuple[str, bool] | None:
    """Give what forbids advice on load, and whether it is private; None where nothing does."""
    context = measurement.context
    if context.hurts:
        return "no_load_pain", True
    if context.minor:
        return "no_load_minor", True
    if moments.not_alone(measurement):
        return "no_load_missed", False
    if not context.guarded:
        return ("no_load_floor" if measurement.data.asked.lift == "deadlift" else "no_load_guard"), False
    return None


def film_parts(
    measurement: Measurement,
    picker: Picker,
    values: Mapping[str, str],
    changes: Sequence[Part],
    *,
    asked_view: bool = False,
) -> list[Part]:
    """Draft what to film next: what would test the change, and what this clip could not show.

    `asked_view`: the answer to the lifter's question says already from where.
    """
    out: list[Part] = []
    view, clip = measurement.data.view, measurement.data.clip
    first = next((p for p in changes if p.prediction is not None), None)
    if first is not None and first.prediction is not None:
        goal = GOALS.get(first.prediction.measure, "")
        out += _part(picker, "check", {**values, "thing": goal}, "film") if goal else []
    oblique = view.view_class in ("front_oblique", "rear_oblique") and abs(view.yaw_deg.value) > OBLIQUE_DEG
    if asked_view:
        out += _part(picker, "asked_view", values, "film")
    elif oblique or view.view_class == "unknown":
        out += _part(picker, "square", values, "film")
    else:
        out += _part(picker, "same_view", values, "film")
    if clip.frame_interval_median_s > FEW_FRAMES_S:
        out += _part(picker, "rate", values, "film")
    if any(w.id == "plate_diameter_assumed" for w in measurement.warnings):
        out += _part(picker, "plate", values, "film")
    elif not first and measurement.data.asked.lift == "squat" and view.view_class == "side":
        said = {**values, "view": "from the front", "things": "what knees and hips do to the side"}
        out += _part(picker, "other_view", said, "film")
    return out


def drill_parts(
    picker: Picker, values: Mapping[str, str], faults: Sequence[Finding], taken: Sequence[str]
) -> list[Part]:
    """Draft one drill for the first change that has one and does not propose it already."""
    for finding in faults:
        for change in (*finding.changes, *finding.other_changes):
            if change.kind != "drill" or any(t.startswith(change.text) for t in taken):
                continue
            words = picker.pick(change.id, "drill", "lifter", values, fallback=change.text)
            text = picker.pick("drill", "next", "lifter", {**values, "cue": small(words)}) if words else ""
            if text:
                return [Part(id="next:drill", section="next", text=text)]
    return []


def again_parts(picker: Picker, values: Mapping[str, str], observed: Sequence[str]) -> list[Part]:
    """Draft what to look for again: what no camera measures is only compared when it is marked in both sets."""
    things = list(dict.fromkeys(small(title.rstrip(".")) for title in observed))
    return _part(picker, "mark_again", {**values, "things": listed(things)}, "film") if things else []


def caution_parts(measurement: Measurement, picker: Picker, values: Mapping[str, str]) -> list[Part]:
    """Draft the cautions: what was said of pain and age, what would catch the bar, the usual, the referee."""
    context = measurement.context
    out: list[Part] = []
    if context.hurts:
        out += _part(picker, "hurts", values, "caution", quiet=True)
    if context.minor:
        out += _part(picker, "minor", values, "caution", quiet=True)
    deadlift = measurement.data.asked.lift == "deadlift"
    unguarded = not context.guarded and not deadlift
    if unguarded:
        out += _part(picker, "guard", values, "caution")
    usual = "usual_deadlift" if deadlift else "stop_pain" if unguarded else "usual"
    if not (context.hurts and usual == "stop_pain"):  # said already, and more of it
        out += _part(picker, usual, values, "caution")
    if measurement.rule_checks:
        out += _part(picker, "referee", values, "caution")
    return out


CAUTIONS = {
    "hurts": "Stop what hurts, do not load it, and see a licensed clinician.",
    "minor": "A guardian should know what you lift.",
    "guard": "Set safeties or have a spotter first.",
    "stop_pain": "Stop when something hurts.",
    "usual": "Set the safeties, and stop on pain.",
    "usual_deadlift": "Leave room to drop the bar, and stop on pain.",
    "no_load_pain": "No advice on weight this time. Do not load what hurts; stop if it gets worse.",
    "no_load_minor": "No advice on weight for lifters under 18.",
    "no_load_missed": "No advice on weight after a missed rep.",
    "no_load_guard": "No advice on weight without stated safeties.",
    "no_load_floor": "No advice on weight before I know that you have room to drop the bar.",
}
"""Said when every other wording was said last time: a caution is never left out for the sake of style."""


def _part(
    picker: Picker, about: str, values: Mapping[str, str], section: str, *, quiet: bool = False
) -> list[Part]:
    kind = {"next": "next", "film": "film", "caution": "caution"}[section]
    text = picker.pick(about, kind, "lifter", values) or CAUTIONS.get(about, "")
    return [Part(id=f"{section}:{about}", section=section, about=about, text=text, quiet=quiet)] if text else []
