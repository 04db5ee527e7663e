"""The draft of a review: what was found, said in the library's words, in the order a lifter needs it.

At most three changes. What the lifter said comes first and sets the limits: with pain it is only said what was
seen, with nothing to try; no advice on load for a minor, after a missed rep or without stated safeties; near a
competition rules first and nothing new in grip, stance or bar position. Nothing private (pain, injury, body mass,
age) is ever put into what is spoken.
"""

from __future__ import annotations

from datetime import date

from attrs import evolve

from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement
from midfoot.records.review import Accepted, Draft, Part, RepSpan, Since
from midfoot.review import moments
from midfoot.review.asked import asked_parts, needs_another_view
from midfoot.review.changes import changes_of, faults_of, spare_of, trial_of
from midfoot.review.library import Library, Picker
from midfoot.review.next_time import again_parts, caution_parts, drill_parts, film_parts, next_parts
from midfoot.review.said import LoadSays, Said, finding_values, level_of, lines_of, set_values, weeks_limits
from midfoot.review.seen import LEAST_TO_COMPARE, good_of, remarks_of, told_besides
from midfoot.review.since import since_parts

LEAST_FOR_BEST = 3


def draft_of(
    measurement: Measurement,
    library: Library,
    *,
    last: tuple[str, ...] = (),
    accepted: tuple[Accepted, ...] = (),
    today: date | None = None,
    load: LoadSays | None = None,
    observed: tuple[str, ...] = (),
    since: tuple[Since, ...] = (),
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
    observed : titles of what only the coach saw, to be looked for again.
    since : what became of the changes that the last review asked for.

    Returns
    -------
    Draft
    """
    context = measurement.context
    level = level_of(context)
    # words for a new or a competing lifter hold advice in themselves
    picker = Picker(library, "trained" if context.hurts else level, last)
    day = today or context.read_on
    held_back: list[str] = [n.text for n in measurement.found.notes]
    faults = faults_of(measurement, accepted, day, held_back)
    best = _model_rep(measurement, faults)
    said = Said(measurement, picker, set_values(measurement, best), best, load or LoadSays())
    hurts = said.hurts
    opening = " ".join(lines_of(said, [("opening", "greeting")]))
    greeting = picker.pick("opening", "greeting", "lifter", said.values)
    changes = changes_of(said, faults, held_back)
    good = good_of(said, faults)
    since_last = [] if hurts else since_parts(picker, said.values, since)
    asked = asked_parts(measurement, picker, said.values, changes)
    asked_view = needs_another_view(asked)
    parts = [
        *since_last,
        *asked,
        *good,
        *changes,
        *remarks_of(said),
        *next_parts(measurement, picker, said.values, changes, weeks_limits(context), said.load),
        *([] if hurts or weeks_limits(context) else drill_parts(picker, said.values, faults, _tried(changes))),
        *([] if hurts else film_parts(measurement, picker, said.values, changes, asked_view=asked_view)),
        *([] if hurts else again_parts(picker, said.values, observed)),
        *trial_of(said, faults, changes),
        *caution_parts(measurement, picker, said.values),
    ]
    few = len(measurement.data.reps.reps) < LEAST_FOR_BEST
    single = len(measurement.data.reps.reps) < LEAST_TO_COMPARE
    # Nobody is told to keep, or to do again, what hurt or was not finished alone.
    settled = not hurts and not moments.not_alone(measurement)
    across = measurement.data.view.view_class in ("front", "rear")
    look = "look" if measurement.data.track.source == "plate" and not across else "look_bar"
    usual = "usual_deadlift" if measurement.data.asked.lift == "deadlift" else "usual"
    tries = bool(faults) and not hurts
    # the script puts the first two before there is anything to look at
    first = [
        *([("yardstick", "link")] if best else [("no_yardstick", "link")] if few else []),
        (look, "link"),
        *([] if best or few else [("disagree", "link")]),
    ]
    rest = [*([("cannot_see", "link")] if faults else []),
            *([("more_reps" if single else "keep", "link")] if settled and not faults else []),
            *([("seen_only", "link"), ("disagree", "link")] if hurts else []),
            *([("light", "link")] if tries else []),
            ("film_tip_front" if across else "film_tip", "link"),
            *([("patience", "link")] if tries else []), (usual, "caution"),
            *([("disagree", "link")] if not faults and (best or few) else []), ("filmed", "good")]  # fmt: skip
    compare = (
        "compare"
        if len(measurement.data.reps.reps) > 1 and any(p.about == "held" for p in good)
        else "compare_one"
    )
    drafted = {p.id for p in parts}
    spare = [p for p in spare_of(said, faults) if p.id not in drafted]
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
        compare=tuple(lines_of(said, [(compare, "link")] * 2)),
        again=picker.pick("same_again", "link", "on_air", said.values),
        closing=picker.pick(_closing(parts, hurts), "closing", "on_air", said.values),
        parts=tuple(evolve(p, rank=k) for k, p in enumerate(parts)),
        # What was seen comes before what only fills; where something hurts nobody says why it was slow.
        spoken_more=(*lines_of(said, first), *([] if hurts else told_besides(said)), *lines_of(said, rest)),
        held_back=tuple(dict.fromkeys(held_back)),
        spare=tuple(evolve(p, rank=len(parts) + k) for k, p in enumerate(spare)),
    )


def _closing(parts: list[Part], hurts: bool) -> str:
    """Name the closing that fits: whether there is anything to try, and whether the camera stays where it is."""
    if hurts:
        return "closing_seen"
    nothing = not any(p.section == "change" and p.try_text for p in parts)
    where = next((p.about for p in parts if p.section == "film" and p.about in ("square", "asked_view")), "")
    tail = {"square": "_square", "asked_view": "_asked", "": ""}[where]
    return "closing" + ("_nothing" if nothing else "") + tail


def _tried(changes: list[Part]) -> list[str]:
    return [p.try_text for p in changes if p.try_text]


def _model_rep(measurement: Measurement, faults: tuple[Finding, ...]) -> int | None:
    """Give the rep to hold the others against, without a fault: the best one, or else the findings' reference."""
    faulty = {n for f in faults for n in f.reps}
    references = [f.evidence[0].reference_rep for f in faults if f.evidence]
    for rep in (measurement.measured.best_rep, *references):
        if rep is not None and rep not in faulty and len(measurement.data.reps.reps) > 1:
            return rep
    return None


def values_of(measurement: Measurement, part: Part) -> dict[str, str]:
    """Give what of a part's words came from its set: it goes back into braces when a wording is kept for good."""
    finding = next((f for f in measurement.found.findings if f.id == part.about), None)
    values = {
        k: v for k, v in set_values(measurement, None).items() if k in ("load", "count", "count_aloud", "hello")
    }
    if finding is None:
        return values
    own = finding_values(measurement, finding)
    return {**values, **{k: own[k] for k in ("reps", "reps_aloud", "size", "size_aloud", "ref", "moment")}}
