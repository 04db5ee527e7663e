"""Findings made up for drafts: of a lift, as many as asked, with sizes, moments, changes and predictions."""

from __future__ import annotations

from datetime import date

from attrs import evolve
from sets import made_measurement

from midfoot.findings.registry import findings_of
from midfoot.records.context import Context
from midfoot.records.findings import Change, Evidence, Finding, Found, Held, Prediction, Size, TryAt
from midfoot.records.measures import Measurement
from midfoot.records.reps import Rep
from midfoot.records.review import Draft
from midfoot.review import apply, draft_of, load_library, moment_words, script_of

LIBRARY = load_library()
SAFE = Context(safeties="pins", rpe=8.0, lifter="Runa", training_age_years=3.0)
TODAY = date(2031, 5, 1)
UNIT_SIZE = {"mm": 27.0, "s": 0.3, "deg": 11.0, "ratio": 0.2, "pct": 14.0, "m_s": 0.1, "count": 1.0}


def finding(definition_id: str, lift: str, *, reps: tuple[int, ...] = (2,), confidence: str = "sure") -> Finding:
    """A finding as the engine would raise it, of this definition."""
    one = next(f for f in findings_of(lift) if f.id == definition_id)
    measure = one.signs[0].measure
    unit = next((u for u in ("mm", "deg", "ratio", "m_s", "pct", "count") if measure.endswith(f"_{u}")), "s")
    unit = "pct" if one.signs[0].as_pct else unit
    size = Size(UNIT_SIZE[unit], unit, UNIT_SIZE[unit] / 8, UNIT_SIZE[unit] / 4)
    changes = tuple(
        Change(c.id, c.kind, c.text, TryAt(c.max_load_pct, c.max_rpe),
               Prediction(c.measure, c.direction, size.value / 2, size.sd, unit), c.alters)
        for c in one.changes
    )  # fmt: skip
    return Finding(
        id=one.id, by="measured", title=one.title, text="for the coach", why=one.why, reps=reps,
        at_s=tuple(2.5 if n == 1 else 6.2 for n in reps), size=size, worst_rep=reps[-1], confidence=confidence,
        nature=one.nature, changes=changes[:1], other_changes=changes[1:],
        evidence=(Evidence(measure=measure, title="shown", unit=unit, values=(1.0, 2.0), sds=(0.1, 0.1)),),
    )  # fmt: skip


def measured(
    lift: str = "squat", ids: tuple[str, ...] = (), context: Context | None = None, *, held: bool = True
) -> Measurement:
    """A made set with these findings and, if asked, something that held."""
    shown = Evidence(measure="range_of_motion_mm", title="Range", unit="mm", values=(500.0, 500.0), sds=(1.0, 1.0))
    found = Found(
        findings=tuple(finding(i, lift) for i in ids),
        held=Held(text="Range held.", evidence=(shown,), within=(8.0,)) if held else None,
    )
    return evolve(made_measurement(lift=lift), found=found, context=context or Context())


def many(
    lift: str, placed: dict[str, tuple[int, ...]], count: int, best: int | None, *, held: bool
) -> Measurement:
    """A set of `count` reps, with findings on the reps they are placed on."""
    one = measured(lift, (), Context(safeties="pins", rpe=8.0), held=held)
    first = one.data.reps.reps[0]

    def moved(k: int) -> Rep:
        times = {f: getattr(first, f) for f in ("start", "low_start", "low_end", "end")}
        return evolve(first, n=k + 1, **{f: evolve(m, t_s=m.t_s + 3.5 * k) for f, m in times.items()})

    found = []
    for name, reps in placed.items():
        raised = finding(name, lift, reps=reps)
        found.append(evolve(raised, at_s=tuple(2.4 + 3.5 * (n - 1) for n in reps)))
    reps = evolve(one.data.reps, reps=tuple(moved(k) for k in range(count)))
    rows = evolve(one.measured, reps=(one.measured.reps[0],) * count, best_rep=best)
    return evolve(
        one, data=evolve(one.data, reps=reps), measured=rows, found=evolve(one.found, findings=tuple(found))
    )


def single(lift: str = "bench", view: str = "side") -> Measurement:
    """A set of one finished rep in which nothing was found."""
    one = many(lift, {}, 1, None, held=False)
    return evolve(one, data=evolve(one.data, view=evolve(one.data.view, view_class=view)))


def draft(measurement: Measurement, **more: object) -> Draft:
    return draft_of(measurement, LIBRARY, today=TODAY, **more)  # type: ignore[arg-type]


def voice(measurement: Measurement) -> list[str]:
    review = apply(draft(measurement), ())
    return [line.words for line in script_of(review, moment_words(measurement)).lines]


ALL_IDS = {lift: tuple(f.id for f in findings_of(lift)) for lift in ("squat", "bench", "deadlift")}
FAULTS = {
    lift: tuple(f.id for f in findings_of(lift) if f.nature == "fault") for lift in ("squat", "bench", "deadlift")
}
