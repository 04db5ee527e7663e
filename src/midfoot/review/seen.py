"""What is good and what was seen besides: what held, the best rep, what needs no change by itself."""

from __future__ import annotations

from midfoot.records.findings import Finding
from midfoot.records.review import Part
from midfoot.review import moments
from midfoot.review.library import capital
from midfoot.review.names import name_of, unseen_of
from midfoot.review.said import Said, figure_of, finding_values
from midfoot.review.words import listed, reps_words

LEAST_TO_COMPARE = 2


def good_of(said: Said, faults: tuple[Finding, ...]) -> list[Part]:
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
        about = "all_done" if len(done) > 1 else "one_done"
        out.append(
            Part(id="good:done", section="good", about="done",
                 text=said.picker.pick(about, "good", "lifter", said.values),
                 aloud=said.picker.pick(about, "good", "on_air", said.values), caption="All of it finished")
        )  # fmt: skip
    if best is not None:
        at = moments.of_reps(said.measurement, (best,))
        out.append(
            Part(id="good:best", section="good", about="best_rep", reps=(best,), at_s=at,
                 text=said.picker.pick("best_seen" if said.hurts else "best", "good", "lifter", said.values),
                 caption=f"Rep {best}, the one to keep in mind")
        )  # fmt: skip
    if not out:
        out.append(
            Part(id="good:filmed", section="good", about="filmed",
                 text=said.picker.pick("filmed", "good", "lifter", said.values),
                 aloud=said.picker.pick("filmed", "good", "on_air", said.values))
        )  # fmt: skip
    return [p for p in out if p.text]


def remarks_of(said: Said) -> list[Part]:
    """Say what needs no change by itself (slowing down in a hard set), or that nothing does."""
    out = []
    found = said.measurement.found.findings
    for finding in found:
        if finding.nature != "information" or finding.confidence == "hint":
            continue
        values = {**said.values, **finding_values(said.measurement, finding)}
        text = said.picker.pick(finding.id, "claim", "lifter", values, fallback=finding.text or finding.title)
        if text:
            section = "good" if finding.by == "coach" else "seen"
            out.append(
                Part(id=f"{section}:{finding.id}", section=section, by=finding.by, about=finding.id, text=text,
                     why=said.picker.pick(finding.id, "explanation", "lifter", values, fallback=finding.why),
                     reps=finding.reps, at_s=finding.at_s, figure=figure_of(finding),
                     confidence=finding.confidence)
            )  # fmt: skip
    if not any(f.nature == "fault" and f.confidence != "hint" for f in found):
        out += _nothing(said)
    return out


def told_besides(said: Said) -> list[str]:
    """Give what is spoken of what needs no change by itself."""
    told = [f for f in said.measurement.found.findings if f.nature == "information" and f.confidence != "hint"]
    words = [
        said.picker.pick(f.id, "claim", "on_air", {**said.values, **finding_values(said.measurement, f)})
        for f in told
    ]
    return [w for w in words if w]


def _nothing(said: Said) -> list[Part]:
    """Say that nothing was found, and no more than that.

    A rep that was not finished alone is named, one rep compares with nothing, a view hides its share.
    """
    reps = said.measurement.measured.reps
    shown = {m.id for rep in reps for m in rep if m.value is not None}
    failed = moments.not_alone(said.measurement)
    values = {
        **said.values,
        "things": listed(unseen_of(said.measurement.data.asked.lift, shown)),
        "reps": reps_words(failed),
        "reps_aloud": reps_words(failed, aloud=True),
    }
    kinds: tuple[str, ...] = ("nothing_partly", "nothing")
    if said.hurts:
        kinds = ("nothing_seen",)
    elif failed:
        kinds = ("nothing_missed", "nothing_seen")
    elif len(reps) < LEAST_TO_COMPARE:
        kinds = ("nothing_alone", "nothing_seen")
    for kind in kinds:
        text = said.picker.pick(kind, "claim", "lifter", values)
        if text:
            aloud = said.picker.pick(kind, "claim", "on_air", values)
            at = moments.of_reps(said.measurement, failed) if kind == "nothing_missed" else ()
            return [
                Part(id="change:nothing", section="change", about="nothing", text=text, aloud=aloud,
                     reps=failed if at else (), at_s=at)
            ]  # fmt: skip
    return []
