"""The draft of a review: what was found, said in the library's words, in the order a lifter needs it.

At most three changes. What the lifter said comes first and sets the limits: no advice on load with pain, for a
minor, after a missed rep or without stated safeties; near a competition rules first and nothing new in grip,
stance or bar position. Nothing private (pain, injury, body mass, age) is ever put into what is spoken.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from attrs import evolve, field, frozen

from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS, Context
from midfoot.records.findings import Change, Finding, Size
from midfoot.records.measures import Measurement
from midfoot.records.review import Accepted, Draft, Figure, Part, RepSpan
from midfoot.review import moments
from midfoot.review.asked import asked_parts
from midfoot.review.library import Library, Picker, capital, small
from midfoot.review.names import name_of
from midfoot.review.next_time import caution_parts, film_parts, next_parts
from midfoot.review.words import about_kilos, figure, foreseen, listed, number, reps_words
from midfoot.units import load_words

MOST_CHANGES = 3
NEW_YEARS = 1.0
"""Training for less than a year is spoken to as new (common practice, no source)."""
LEAST_FOR_BEST = 3
LIFT_ALOUD = {"squat": "the squat", "bench": "the bench press", "deadlift": "the deadlift"}
VIEW_ALOUD = {
    "side": "from the side", "front_oblique": "from the front at an angle",
    "rear_oblique": "from behind at an angle", "front": "from the front", "rear": "from behind",
    "unknown": "on a phone",
}  # fmt: skip


@frozen(kw_only=True)
class LoadSays:
    """What mechanics and strength make of the load, put together outside; empty where nothing is to be said.

    `maximum` is the estimated maximum in a lifter's words; `costs_kg` by finding what a drift costs the hips, as
    so many kg more on the bar: least and most.
    """

    maximum: str = ""
    costs_kg: Mapping[str, tuple[float, float]] = field(factory=dict)


@frozen
class _Said:
    """What every part draws on."""

    measurement: Measurement
    picker: Picker
    values: dict[str, str]
    best: int | None
    load: LoadSays


def draft_of(
    measurement: Measurement,
    library: Library,
    *,
    last: tuple[str, ...] = (),
    accepted: tuple[Accepted, ...] = (),
    today: date | None = None,
    load: LoadSays | None = None,
) -> Draft:
    """Draft the review of a measured set.

    Parameters
    ----------
    measurement : the set with what was found in it and what was said of it.
    library : the coach's words.
    last : every text of this lifter's last review; none of its sentences comes again.
    accepted : what the coach accepts of this lifter.
    today : the day of the review; None takes the day on which the context was read.
    load : what mechanics and strength make of the load.

    Returns
    -------
    Draft
    """
    context = measurement.context
    level = level_of(context)
    picker = Picker(library, level, last)
    day = today or context.read_on
    held_back: list[str] = [n.text for n in measurement.found.notes]
    faults = _faults(measurement, accepted, day, held_back)
    best = _model_rep(measurement, faults)
    said = _Said(measurement, picker, _values(measurement, best), best, load or LoadSays())
    opening = " ".join(_lines(said, [("opening", "greeting")]))
    greeting = picker.pick("opening", "greeting", "lifter", said.values)
    changes = _changes(said, faults, held_back)
    good = _good(said, faults)
    parts = [
        *asked_parts(measurement, picker, said.values, changes),
        *good,
        *changes,
        *_remarks(said),
        *next_parts(measurement, picker, said.values, changes, weeks_limits(context), said.load.maximum),
        *film_parts(measurement, picker, said.values, changes),
        *_trial(said, faults, changes),
        *caution_parts(measurement, picker, said.values),
    ]
    few = len(measurement.data.reps.reps) < LEAST_FOR_BEST
    more = [*([("yardstick", "link")] if best else [("no_yardstick", "link")] if few else []),
            ("look", "link"), ("cannot_see", "link"), *([("light", "link")] if faults else []),
            ("film_tip", "link"), ("patience", "link"), ("usual", "caution"), ("filmed", "good")]  # fmt: skip
    return Draft(
        lift=measurement.data.asked.lift,
        lifter=context.lifter or "",
        load_kg=measurement.data.asked.load_kg,
        level=level,
        best_rep=best,
        spans=tuple(
            RepSpan(r.n, *span) for r in measurement.data.reps.reps if (span := moments.span(r)) is not None
        ),
        greeting=greeting,
        opening=opening,
        compare=tuple(_lines(said, [("compare", "link")] * 2)),
        again=picker.pick("same_again", "link", "on_air", said.values),
        closing=picker.pick("closing", "closing", "on_air", said.values),
        parts=tuple(evolve(p, rank=k) for k, p in enumerate(parts)),
        spoken_more=tuple(_lines(said, more)),
        held_back=tuple(dict.fromkeys(held_back)),
    )


def level_of(context: Context) -> str:
    """Tell how a lifter is spoken to: `competing` with one ahead, `new` in the first year, else `trained`."""
    if context.weeks_to_competition is not None:
        return "competing"
    years = context.training_age_years
    return "new" if years is not None and years < NEW_YEARS else "trained"


def weeks_limits(context: Context) -> str:
    """Tell what a coming competition allows: `close`, `near` or ""."""
    weeks = context.weeks_to_competition
    if weeks is None or weeks > MEET_NEAR_WEEKS:
        return ""
    return "close" if weeks <= MEET_CLOSE_WEEKS else "near"


def _model_rep(measurement: Measurement, faults: tuple[Finding, ...]) -> int | None:
    """Give the rep to hold the others against, without a fault: the best one, or else the findings' reference."""
    faulty = {n for f in faults for n in f.reps}
    references = [f.evidence[0].reference_rep for f in faults if f.evidence]
    for rep in (measurement.measured.best_rep, *references):
        if rep is not None and rep not in faulty and len(measurement.data.reps.reps) > 1:
            return rep
    return None


def _values(measurement: Measurement, best: int | None) -> dict[str, str]:
    context, data = measurement.context, measurement.data
    count = len(data.reps.reps)
    load = data.asked.load_kg
    return {
        "hello": f"Hello {context.lifter}" if context.lifter else "Hello",
        "lift": LIFT_ALOUD[data.asked.lift],
        "lift_aloud": LIFT_ALOUD[data.asked.lift],
        "count": f"{count} rep{'s' if count != 1 else ''}",
        "count_aloud": f"{number(count)} repetition{'s' if count != 1 else ''}",
        "load": load_words(load) if load else "",
        "load_aloud": f" with {load:.0f} kilos" if load else " ",
        "view": VIEW_ALOUD[data.view.view_class],
        "best": str(best) if best else "",
        "best_aloud": reps_words((best,), aloud=True) if best else "",
    }


def _lines(said: _Said, wanted: list[tuple[str, str]]) -> list[str]:
    found = [said.picker.pick(about, kind, "on_air", said.values) for about, kind in wanted]
    return [" ".join(f.split()).replace(" ,", ",").replace(" .", ".") for f in found if f]


def _faults(
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
                f"{finding.title} ({where}): a hint only, look for yourself. {' '.join(finding.doubts)}"
            )
        elif len(chosen) >= (1 if limit else MOST_CHANGES):
            held_back.append(
                f"{finding.title} ({where}): left out, {'one change' if limit else 'three changes'} at most."
            )
        else:
            chosen.append(finding)
    return tuple(chosen)


def _changes(said: _Said, faults: tuple[Finding, ...], held_back: list[str]) -> list[Part]:
    out = []
    limit = weeks_limits(said.measurement.context)
    for finding in faults:
        values = {**said.values, **_finding_values(said.measurement, finding)}
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
        if finding.id in said.load.costs_kg:
            low, high = said.load.costs_kg[finding.id]
            dear = pick("drift_cost", "explanation", "lifter", {**values, "kg": about_kilos(low, high)})
            why = " ".join(s for s in (why, dear) if s)
        change = _change_of(finding, limit, held_back)
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
                figure=_figure(finding),
                confidence=finding.confidence,
                prediction=change.prediction if change is not None else None,
                try_at=change.try_at if change is not None else None,
            )
        )
    return out


def foreseen_by(change: Change) -> str:
    """Say what a change of set-up should do on the lifter's own segments; "" where that is not known."""
    said = [foreseen(p.measure, p.direction, Size(p.size, p.unit, p.sd, 0.0)) for p in change.geometry]
    return listed([s for s in said if s]) if any(said) else ""


def _trial(said: _Said, faults: tuple[Finding, ...], changes: list[Part]) -> list[Part]:
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


def _aloud(said: _Said, finding: Finding, change: Change | None, values: dict[str, str]) -> str:
    pick = said.picker.pick
    claim = pick(finding.id, "claim", "on_air", values) or pick("again", "claim", "on_air", values)
    if len(finding.reps) > 1 and values["reps_aloud"] not in claim:
        claim = f"{claim} {pick('where', 'link', 'on_air', values)}".strip()
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


def _finding_values(measurement: Measurement, finding: Finding) -> dict[str, str]:
    size = _figure(finding)
    worst = finding.worst_rep or (finding.reps[-1] if finding.reps else None)
    at = moments.at_of(finding, worst)
    return {
        "reps": reps_words(finding.reps),
        "reps_aloud": reps_words(finding.reps, aloud=True),
        "rep": str(worst) if worst else "",
        "rep_aloud": reps_words((worst,), aloud=True) if worst else "",
        "size": size.words if size else "",
        "size_aloud": size.aloud if size else "",
        "ref": _reference(finding),
        "title": finding.title.rstrip(".")[:1].lower() + finding.title.rstrip(".")[1:],
        "moment": moments.words(measurement, worst, at),
    }


def values_of(measurement: Measurement, part: Part) -> dict[str, str]:
    """Give what of a part's words came from its set: it goes back into braces when a wording is kept for good."""
    finding = next((f for f in measurement.found.findings if f.id == part.about), None)
    values = {
        k: v for k, v in _values(measurement, None).items() if k in ("load", "count", "count_aloud", "hello")
    }
    if finding is None:
        return values
    own = _finding_values(measurement, finding)
    return {**values, **{k: own[k] for k in ("reps", "reps_aloud", "size", "size_aloud", "ref", "moment")}}


def _reference(finding: Finding) -> str:
    rep = finding.evidence[0].reference_rep if finding.evidence else None
    return f"rep {rep}" if rep is not None else "your best one"


def _figure(finding: Finding) -> Figure | None:
    if finding.size is None:
        return None
    measure = finding.evidence[0].measure if finding.evidence else ""
    return figure(measure, finding.size, finding.worst_rep)


def _good(said: _Said, faults: tuple[Finding, ...]) -> list[Part]:
    """Say what is good: what held, the best rep, that all of it was finished; never what is a fault below."""
    data, held = said.measurement.data, said.measurement.found.held
    out: list[Part] = []
    best = said.best
    touched = {e.measure for f in faults for e in f.evidence}
    names = []
    if held is not None:
        names = [name_of(e.measure, e.title) for e in held.evidence if e.measure not in touched]
    names = list(dict.fromkeys(names))[:3]
    if names:
        values = {**said.values, "things": listed(names)}
        out.append(
            Part(id="good:held", section="good", about="held", caption=f"{capital(names[0])} held",
                 text=said.picker.pick("held", "good", "lifter", values),
                 aloud=said.picker.pick("held_aloud", "good", "on_air", values))
        )  # fmt: skip
    done = [r for r in data.reps.reps if r.outcome == "completed"]
    if not out and done and len(done) == len(data.reps.reps):
        out.append(
            Part(id="good:done", section="good", about="done",
                 text=said.picker.pick("all_done", "good", "lifter", said.values),
                 aloud=said.picker.pick("all_done", "good", "on_air", said.values), caption="All of it finished")
        )  # fmt: skip
    if best is not None:
        at = moments.of_reps(said.measurement, (best,))
        out.append(
            Part(id="good:best", section="good", about="best_rep", reps=(best,), at_s=at,
                 text=said.picker.pick("best", "good", "lifter", said.values),
                 caption=f"Rep {best}, the one to keep in mind")
        )  # fmt: skip
    if not out:
        out.append(
            Part(id="good:filmed", section="good", about="filmed",
                 text=said.picker.pick("filmed", "good", "lifter", said.values),
                 aloud=said.picker.pick("filmed", "good", "on_air", said.values))
        )  # fmt: skip
    return [p for p in out if p.text]


def _remarks(said: _Said) -> list[Part]:
    """Say what needs no change by itself (slowing down in a hard set), or that nothing does."""
    out = []
    found = said.measurement.found.findings
    for finding in found:
        if finding.nature != "information" or finding.confidence == "hint":
            continue
        values = {**said.values, **_finding_values(said.measurement, finding)}
        text = said.picker.pick(finding.id, "claim", "lifter", values, fallback=finding.text or finding.title)
        if text:
            section = "good" if finding.by == "coach" else "next"
            out.append(
                Part(id=f"{section}:{finding.id}", section=section, by=finding.by, about=finding.id, text=text,
                     why=said.picker.pick(finding.id, "explanation", "lifter", values, fallback=finding.why),
                     reps=finding.reps, at_s=finding.at_s, figure=_figure(finding), confidence=finding.confidence)
            )  # fmt: skip
    if not any(f.nature == "fault" and f.confidence != "hint" for f in found):
        text = said.picker.pick("nothing", "claim", "lifter", said.values)
        if text:
            out.append(
                Part(id="change:nothing", section="change", about="nothing", text=text,
                     aloud=said.picker.pick("nothing", "claim", "on_air", said.values))
            )  # fmt: skip
    return out
