"""What to change: the faults chosen, each with what was seen, why it matters and what to try."""

from __future__ import annotations

from datetime import date

from midfoot.records.findings import Change, Finding, Size
from midfoot.records.measures import Measurement
from midfoot.records.review import Accepted, Part
from midfoot.review import moments
from midfoot.review.library import capital, small
from midfoot.review.said import Said, figure_of, finding_values, weeks_limits
from midfoot.review.words import about_load, foreseen, listed, reps_words

MOST_CHANGES = 3
LIKELY = "Fairly sure, not certain."
"""Said of what is only likely when every other wording was said last time."""


def faults_of(
    measurement: Measurement, accepted: tuple[Accepted, ...], day: date | None, held_back: list[str]
) -> tuple[Finding, ...]:
    """Choose what to change: sure or likely, not accepted, three at most, one with a meet in sight."""
    load = measurement.data.asked.load_kg
    taken = {a.about for a in accepted if day is not None and a.holds(day, load)}
    limit = weeks_limits(measurement.context)
    chosen: list[Finding] = []
    for finding in measurement.found.findings:
        if finding.nature != "fault":
            continue
        where = reps_words(finding.reps)
        if finding.id in taken:
            held_back.append(f"{finding.title} ({where}): accepted for this lifter.")
        elif finding.confidence == "hint":
            held_back.append(
                f"{finding.title} ({where}): a hint only, look for yourself. {capital('; '.join(finding.doubts))}."
            )
        elif len(chosen) >= (1 if limit else MOST_CHANGES):
            held_back.append(
                f"{finding.title} ({where}): left out, {'one change' if limit else 'three changes'} at most."
            )
        else:
            chosen.append(finding)
    return tuple(chosen)


def changes_of(said: Said, faults: tuple[Finding, ...], held_back: list[str]) -> list[Part]:
    """Draft the changes; with pain each is only what was seen and why it matters, without a cue."""
    out = []
    limit = weeks_limits(said.measurement.context)
    for finding in faults:
        values = {**said.values, **finding_values(said.measurement, finding)}
        pick = said.picker.pick
        claim = (
            pick(
                finding.id,
                "claim",
                "lifter",
                values,
                fallback="" if said.picker.knows(finding.id) else finding.text,
            )
            or pick("again", "claim", "lifter", values)
            or finding.title
        )
        why = pick(finding.id, "explanation", "lifter", values, fallback=finding.why)
        if finding.id in said.load.costs_kg and not said.hurts:
            low, high = said.load.costs_kg[finding.id]
            more = about_load(low, high, said.measurement.context.load_unit or "kg")
            dear = pick("drift_cost", "explanation", "lifter", {**values, "kg": more})
            why = " ".join(s for s in (why, dear) if s)
        if finding.confidence == "likely":
            # Where something hurts nobody is sent to film another set.
            why = f"{why} {LIKELY if said.hurts else pick('likely', 'link', 'lifter', values) or LIKELY}"
        change = None if said.hurts else _change_of(finding, limit, held_back)
        try_text = ""
        if change is not None:
            try_text = pick(change.id, "cue", "lifter", values, fallback=change.text) or pick(
                "again", "cue", "lifter", values
            )
            if things := foreseen_by(change):
                foretold = pick("geometry", "cue", "lifter", {**values, "things": things})
                try_text = " ".join(s for s in (try_text, foretold) if s)
        out.append(
            Part(
                id=f"change:{finding.id}",
                section="change",
                by=finding.by,
                about=finding.id,
                text=claim,
                why=why,
                aloud=_aloud(said, finding, change, values),
                caption=capital(finding.title.rstrip(".")),
                try_text=try_text,
                reps=finding.reps,
                at_s=finding.at_s or moments.of_reps(said.measurement, finding.reps),
                figure=figure_of(finding),
                confidence=finding.confidence,
                prediction=change.prediction if change is not None else None,
                try_at=change.try_at if change is not None else None,
            )
        )
    return out


def spare_of(said: Said, faults: tuple[Finding, ...]) -> list[Part]:
    """Word the faults that the draft leaves out, so that the coach can take one up as it stands."""
    taken = {f.id for f in faults}
    left = [f for f in said.measurement.found.findings if f.nature == "fault" and f.id not in taken]
    return changes_of(said, tuple(left), [])


def foreseen_by(change: Change) -> str:
    """Say what a change of set-up should do on the lifter's own segments; "" where that is not known."""
    said = [foreseen(p.measure, p.direction, Size(p.size, p.unit, p.sd, 0.0)) for p in change.geometry]
    return listed([s for s in said if s]) if any(said) else ""


def trial_of(said: Said, faults: tuple[Finding, ...], changes: list[Part]) -> list[Part]:
    """Propose one trial of the set-up to film where geometry says what it should do; none before a meet."""
    context = said.measurement.context
    taken = {p.try_text for p in changes}
    if context.hurts or weeks_limits(context):
        return []
    for finding in faults:
        for change in finding.other_changes:
            things = foreseen_by(change)
            if not things or any(t.startswith(change.text) for t in taken):
                continue
            text = said.picker.pick(
                "trial", "film", "lifter", {**said.values, "cue": change.text, "things": things}
            )
            return [Part(id="film:trial", section="film", about=finding.id, text=text)] if text else []
    return []


def _aloud(said: Said, finding: Finding, change: Change | None, values: dict[str, str]) -> str:
    pick = said.picker.pick
    claim = pick(finding.id, "claim", "on_air", values) or pick("again", "claim", "on_air", values)
    if len(finding.reps) > 1 and values["reps_aloud"] not in claim:
        claim = f"{claim} {pick('where', 'link', 'on_air', values)}".strip()
    if finding.confidence == "likely":
        doubt = LIKELY if said.hurts else pick("likely", "link", "on_air", values)
        claim = f"{claim} {doubt}".strip()
    why = pick(finding.id, "explanation", "on_air", values)
    cue = ""
    if change is not None:
        words = pick(change.id, "cue", "on_air", values, fallback=change.text)
        cue = pick("try", "link", "on_air", {**values, "cue": small(words)}) if words else ""
        cue = cue or words or pick("again", "cue", "on_air", values)
    return " ".join(s for s in (claim, why, cue) if s)


def _change_of(finding: Finding, limit: str, held_back: list[str]) -> Change | None:
    """Take the first change that a coming competition allows."""
    for change in (*finding.changes, *finding.other_changes):
        if limit == "close" and change.alters:
            held_back.append(
                f"{change.text} (left out: no change of {change.alters.replace('_', ' ')} before a meet)"
            )
            continue
        return change
    return None
