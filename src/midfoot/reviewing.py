"""From a measured folder to its review: composes store, findings, review and publish, and writes the files.

Words first (review.json, script, CSV, subtitles), then pages, then pictures: what a coach reads is on disk before
a video is encoded. Every file is whole or not there.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

from attrs import evolve, frozen

from midfoot import __version__, review
from midfoot.drift_cost import MEASURES, hip_cost
from midfoot.findings import Limits, find, limits_from
from midfoot.load_words import FOR_THE_LIFTER, load_facts, next_load
from midfoot.records.clip import Asked
from midfoot.records.context import Context
from midfoot.records.findings import Found
from midfoot.records.measures import Measurement
from midfoot.records.review import Accepted, Edit, Review, Script, Since
from midfoot.review.apply import OBSERVED
from midfoot.second_view import join
from midfoot.set_up_change import with_geometry
from midfoot.store import (
    REVIEW,
    Kept,
    StoreError,
    read_measurement,
    read_review,
    review_to_json,
    write_whole,
)

SCRIPT_TEXT, SCRIPT_MARKDOWN, TABLE = "script.txt", "script.md", "review.csv"
Progress = Callable[[str, float], None]


@frozen(kw_only=True)
class Wanted:
    """What is to be reviewed and with what.

    `edits` are added to those that the folder's review holds. `last` is the folder of the lifter's last review.
    `context` replaces what stands beside the measurement; `library` is the coach's folder of wording. `also` are
    folders of other clips of the same set: what this one does not show is taken from them; without any,
    those of the folder's review. `clip` is the clip itself, remembered for the next time.
    """

    folder: Path
    context: Context | None = None
    edits: tuple[Edit, ...] = ()
    library: Path | None = None
    last: Path | None = None
    also: tuple[Path, ...] = ()
    clip: Path | None = None
    today: date | None = None


@frozen(kw_only=True)
class Reviewed:
    """A review with all that it was made from."""

    measurement: Measurement
    review: Review
    script: Script
    edits: tuple[Edit, ...]
    before: tuple[str, ...]
    also: tuple[Path, ...] = ()
    clip: Path | None = None


def review_folder(wanted: Wanted) -> Reviewed:
    """Draft the review of a measured folder and put every edit in.

    Raises
    ------
    StoreError
        When the folder is not measured, or its review is damaged.
    review.LibraryError, review.EditError
        When the coach's wording or the edits break the form.
    second_view.ViewsError
        When another clip does not show the same set.
    """
    kept = read_review(wanted.folder)
    also = wanted.also or _joined_before(wanted.folder, kept)
    measurement = prepared(
        read_measurement(wanted.folder),
        context=wanted.context,
        others=tuple((read_measurement(other), f"clip in {other.name}") for other in also),
    )
    last = _last(wanted, kept)
    clip = wanted.clip or (wanted.folder / kept.clip if kept.clip else None)
    done = made(
        measurement,
        joined(kept.edits, wanted.edits),
        library=review.load_library(wanted.library),
        last=last.said,
        accepted=last.accepted,
        today=wanted.today,
    )
    return evolve(done, also=also, clip=clip)


def prepared(
    measurement: Measurement, *, context: Context | None = None,
    others: tuple[tuple[Measurement, str], ...] = (), limits: Limits | None = None,
) -> Measurement:  # fmt: skip
    """Make a measured set ready to be reviewed: what was said of it, its other clips, its findings, its geometry.

    Parameters
    ----------
    measurement : as it was read.
    context : replaces what stands beside the measurement.
    others : other clips of the same set and what each is called.
    limits : thresholds of findings; None takes those it was measured with.

    Raises
    ------
    second_view.ViewsError
        When another clip does not show the same set.
    """
    if context is not None:
        measurement = evolve(
            measurement,
            context=context,
            data=evolve(measurement.data, asked=_asked(measurement.data.asked, context)),
        )
    for other, name in others:
        measurement = join(measurement, other, name)
    if context is not None or others or limits is not None or measurement.found == Found():
        used = limits if limits is not None else measured_with(measurement)
        found = find(measurement.data, measurement.measured, measurement.context, measurement.warnings, used)
        measurement = evolve(measurement, found=found)
    return with_geometry(measurement)


def measured_with(measurement: Measurement) -> Limits:
    """Give the thresholds that a set was measured with, as its own record names them."""
    step = next((s for s in measurement.steps if s.name == "findings"), None)
    return limits_from(step.parameters if step is not None else {})


def _asked(asked: Asked, context: Context) -> Asked:
    """Take load and effort as they are said by now: the clip was measured with what was known then."""
    load = asked.load_kg if context.load_kg is None else context.load_kg
    if context.rpe is None and context.rir is None:
        return evolve(asked, load_kg=load)
    return evolve(asked, load_kg=load, rpe=context.rpe, rir=context.rir)


def made(
    measurement: Measurement,
    edits: tuple[Edit, ...],
    *,
    library: review.Library,
    last: tuple[str, ...] = (),
    accepted: tuple[Accepted, ...] = (),
    today: date | None = None,
    since: tuple[Since, ...] = (),
) -> Reviewed:
    """Draft the review of a prepared set and put every edit in.

    Parameters
    ----------
    measurement : of `prepared`.
    edits : all edits ever made, the oldest first.
    library : the coach's wording over the program's.
    last : every text of this lifter's last review, which this one does not repeat.
    accepted : what the coach accepts of this lifter.
    today : the day of the review; None takes the day on which the context was read.
    since : what became of the changes that the last review asked for.

    Raises
    ------
    review.EditError
        When the edits do not hold together.
    """
    draft = review.draft_of(
        measurement,
        library,
        last=last,
        accepted=accepted,
        today=today,
        load=load_says(measurement),
        observed=watched(edits),
        since=since,
    )
    result = review.apply(draft, edits)
    script = review.script_of(result, review.moment_words(measurement))
    return Reviewed(measurement=measurement, review=result, script=script, edits=edits, before=last)


def _joined_before(folder: Path, kept: Kept) -> tuple[Path, ...]:
    """Give the folders of the other clips that the folder's review was made with."""
    found = tuple(folder / name for name in kept.also)
    for place in found:
        if not place.is_dir():
            raise StoreError(
                f"The review was made with a second clip in {place}, which is not there; put it back, or name the "
                "other clips of this set with --also."
            )
    return found


def _from(folder: Path, place: Path) -> str:
    """Write a place as seen from the folder, so that both can be moved together."""
    try:
        return os.path.relpath(place, folder)
    except ValueError:  # on another drive
        return str(place.resolve())


def watched(edits: tuple[Edit, ...]) -> tuple[str, ...]:
    """Give the titles of what the coach saw amiss: no camera measures it, so it is looked for again."""
    return tuple(e.text for e in review.effective(edits) if e.id.startswith(OBSERVED) and e.section == "change")


def load_says(measurement: Measurement) -> review.LoadSays:
    """Give what mechanics and strength make of the load, for the review: only what changes what is said."""
    cost = hip_cost(measurement)
    costs = {}
    if cost is not None and cost.as_kg is not None:
        for finding in measurement.found.findings:
            of_drift = bool(finding.evidence) and finding.evidence[0].measure in MEASURES
            if of_drift and cost.drift.rep in finding.reps:
                costs[finding.id] = (max(cost.as_kg.value - cost.as_kg.sd, 0.0), cost.as_kg.value + cost.as_kg.sd)
    context = measurement.context
    easy = context.effort_rpe is not None and context.effort_rpe <= review.EASY_RPE
    return review.LoadSays(
        maximum=dict(load_facts(measurement)).get(FOR_THE_LIFTER, ""),
        costs_kg=costs,
        next_load=next_load(measurement, more=easy and not review.weeks_limits(context)),
    )


def _last(wanted: Wanted, kept: Kept) -> Kept:
    """Give the lifter's last review; without one named, what this set's own draft was last held against."""
    if wanted.last is not None:
        return read_review(wanted.last)
    return Kept(said=kept.before)


def joined(before: tuple[Edit, ...], more: tuple[Edit, ...]) -> tuple[Edit, ...]:
    """Add edits to those that are there; the same edit given again is not doubled.

    Raises
    ------
    review.EditError
        When an edit has the id of another one: edits are added and never changed.
    """
    there = {e.id: e for e in before}
    new = []
    for edit in more:
        if edit.id in there and there[edit.id] != edit:
            raise review.EditError(
                f"The edit {edit.id!r} stands in the review already with other words; edits are only added, so "
                "give the new one an id of its own."
            )
        if edit.id not in there:
            new.append(edit)
    return (*before, *new)


def write_words(done: Reviewed, folder: Path) -> list[str]:
    """Write review.json, the script as text and Markdown, and the table; gives the names of the files."""
    said = review.texts_of(done.review, done.script)
    document = review_to_json(
        done.review, done.edits, done.script, said=said, before=done.before, version=__version__,
        also=tuple(_from(folder, p) for p in done.also),
        clip=_from(folder, done.clip) if done.clip is not None else "",
    )  # fmt: skip
    files = {
        REVIEW: json.dumps(document, indent=1, allow_nan=False, ensure_ascii=False) + "\n",
        SCRIPT_TEXT: review.script_text(done.script),
        SCRIPT_MARKDOWN: review.script_text(done.script, markdown=True),
        TABLE: review.table_csv(done.review),
    }
    for name, text in files.items():
        with write_whole(folder / name) as beside:
            beside.write_text(text, "utf-8")
    return list(files)
