"""What a set's review is made from, out of the workspace: measured clips, what was said, earlier reviews."""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa
from attrs import evolve, field, frozen
from sqlalchemy.engine import Connection

from midfoot import review
from midfoot.desk.own_floors import limits_of
from midfoot.desk.review_edits import accepted_of
from midfoot.findings import Limit, Limits, defaults
from midfoot.records.context import Competition, Context
from midfoot.records.measures import Measurement
from midfoot.records.review import Accepted, Edit
from midfoot.reviewing import prepared
from midfoot.second_view import ViewsError
from midfoot.store import REVIEW, context_from_json, edits_from_json, read_measurement, read_review
from midfoot.store.rows import edits_of
from midfoot.store.tables import clips, lifters, measurements, publications, review_edits, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

KEEP = 64
"""Prepared sets held in memory; each is a few hundred kB."""


class NoReviewError(ValueError):
    """There is nothing to review yet: the text says why and what would do."""


@frozen(kw_only=True)
class Earlier:
    """An earlier set of the lifter whose review went out."""

    set_id: str
    received_at: datetime
    lift: str
    load_kg: float | None
    folder: Path


@frozen(kw_only=True)
class Sources:
    """Everything that one set's review is made from.

    Attributes
    ----------
    set_id, lift : str
    received_at : datetime
    lifter_id, shown_name : str
        "" where no lifter is known.
    measurement : Measurement
        Prepared: with what was said, the other clips and the findings of both.
    edits : tuple of Edit
    said_before : tuple of str
        Every text of the lifter's last review.
    accepted : tuple of Accepted
    library : Library
    last : Earlier or None
    limits : Limits
        Thresholds of findings that it is drafted with.
    problems : tuple of str
        What could not be taken in, each a sentence with its remedy.
    """

    set_id: str
    lift: str
    received_at: datetime
    lifter_id: str = ""
    shown_name: str = ""
    measurement: Measurement
    edits: tuple[Edit, ...] = ()
    said_before: tuple[str, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    library: review.Library = field(repr=False)
    last: Earlier | None = None
    limits: Limits = field(factory=defaults, repr=False, eq=False)
    problems: tuple[str, ...] = ()


def sources_of(workspace: Workspace, set_id: str) -> Sources:
    """Gather what a set's review is made from.

    Raises
    ------
    NoReviewError
        When there is no such set, or it is not measured.
    StoreError
        When what was measured is damaged.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).first()
        if row is None:
            raise NoReviewError("There is no such set; go back to the inbox.")
        person = (
            connection.execute(sa.select(lifters).where(lifters.c.id == row.lifter_id)).first()
            if row.lifter_id
            else None
        )
        context = context_of(row, person)
        folders = folders_of(connection, workspace, row)
        edits = edits_of(connection, set_id)
        last = last_of(connection, workspace, row)
        accepted = accepted_before(connection, row)
    if not folders:
        raise NoReviewError("This set is not measured yet; its review is drafted as soon as it is.")
    limits, wrong = limits_of(workspace, set_id)
    measurement, problems = measured_set(folders, context, limits)
    library, complaint = own_library(workspace.library)
    kept = read_review(last.folder) if last is not None else None
    return Sources(
        set_id=set_id,
        lift=measurement.data.asked.lift,
        received_at=row.received_at,
        lifter_id=row.lifter_id or "",
        shown_name=(person.shown_name or person.name) if person is not None else context.lifter or "",
        measurement=measurement,
        edits=edits,
        said_before=kept.said if kept is not None else (),
        accepted=accepted,
        library=library,
        last=last,
        limits=limits,
        problems=(*problems, *complaint, *wrong),
    )


def context_of(row: sa.Row[tuple[object, ...]], person: sa.Row[tuple[object, ...]] | None) -> Context:
    """Give what was said of a set, with what is known of its lifter where the set itself says nothing."""
    said = context_from_json(row.context) if row.context else Context()
    if said.read_on is None:
        said = evolve(said, read_on=row.received_at.date())
    if said.lift is None and row.lift:
        said = evolve(said, lift=row.lift, variation=said.variation or row.variation or None)
    if said.load_kg is None and row.load_kg is not None:
        said = evolve(said, load_kg=row.load_kg)
    if person is None:
        return said
    if said.under_18 is None and person.minor is not None:
        said = evolve(said, under_18=bool(person.minor))
    if not said.lifter and (person.shown_name or person.name):
        said = evolve(said, lifter=person.shown_name or person.name)
    if said.competition is None and person.competition_on is not None:
        meet = Competition(person.competition_on, person.competition_rules or None, person.competition_name)
        said = evolve(said, competition=meet)
    if said.stature_m is None and person.stature_m is not None:
        said = evolve(said, stature_m=person.stature_m)
    return said


def folders_of(connection: Connection, workspace: Workspace, row: sa.Row[tuple[object, ...]]) -> tuple[Path, ...]:
    """Give the measured folders of a set's clips, the measured view first; empty while that is not measured."""
    found = connection.execute(
        sa.select(clips.c.id, measurements.c.folder)
        .join(measurements, measurements.c.clip_id == clips.c.id)
        .where(clips.c.set_id == row.id, measurements.c.is_current.is_(True))
        .order_by(clips.c.position, clips.c.added_at)
    ).all()
    main = next((f for f in found if f.id == row.main_clip_id), found[0] if found else None)
    if main is None or (row.main_clip_id and main.id != row.main_clip_id):
        return ()
    return tuple(workspace.path / f.folder for f in (main, *(f for f in found if f.id != main.id)))


def measured_set(
    folders: tuple[Path, ...], context: Context, limits: Limits
) -> tuple[Measurement, tuple[str, ...]]:
    """Read and prepare a set; a second clip that does not show it is left out and said so."""
    stamps, used = tuple(_stamp(f) for f in folders), tuple(limits.values())
    try:
        return _prepared(folders, stamps, context, used), ()
    except ViewsError as error:
        return _prepared(folders[:1], stamps[:1], context, used), (f"The other clip is left out. {error}",)


def _stamp(folder: Path) -> int:
    file = folder / "measurement.json"
    return file.stat().st_mtime_ns if file.is_file() else 0


@lru_cache(maxsize=KEEP)
def _prepared(
    folders: tuple[Path, ...], stamps: tuple[int, ...], context: Context, limits: tuple[Limit, ...]
) -> Measurement:
    others = tuple((read_measurement(f), f"clip {k + 2}") for k, f in enumerate(folders[1:]))
    return prepared(read_measurement(folders[0]), context=context, others=others, limits={x.id: x for x in limits})


def own_library(folder: Path) -> tuple[review.Library, tuple[str, ...]]:
    """Give the coach's wording over the program's; a file that breaks the form is said, and left out."""
    try:
        return review.load_library(folder if folder.is_dir() else None), ()
    except review.LibraryError as error:
        return review.load_library(None), (f"Your own wording is left out: {error}",)


def last_of(connection: Connection, workspace: Workspace, row: sa.Row[tuple[object, ...]]) -> Earlier | None:
    """Give the lifter's last set before this one whose review went out and whose words are kept."""
    if not row.lifter_id:
        return None
    found = connection.execute(
        sa.select(sets.c.id, sets.c.received_at, sets.c.lift, sets.c.load_kg)
        .where(
            sets.c.lifter_id == row.lifter_id,
            sets.c.id != row.id,
            sets.c.received_at < row.received_at,
            sa.exists().where(publications.c.set_id == sets.c.id, publications.c.kind == "lifter"),
        )
        .order_by(sets.c.received_at.desc())
    ).all()
    for one in found:
        folder = workspace.review(one.id)
        if (folder / REVIEW).is_file():
            return Earlier(set_id=one.id, received_at=one.received_at, lift=one.lift or "", load_kg=one.load_kg,
                           folder=folder)  # fmt: skip
    return None


def accepted_before(connection: Connection, row: sa.Row[tuple[object, ...]]) -> tuple[Accepted, ...]:
    """Give what the coach accepts of the lifter, from the edits of his other sets."""
    if not row.lifter_id:
        return ()
    rows = connection.execute(
        sa.select(review_edits.c.set_id, review_edits.c.edit)
        .join(sets, sets.c.id == review_edits.c.set_id)
        .where(sets.c.lifter_id == row.lifter_id, sets.c.id != row.id, sets.c.lift == row.lift)
        .order_by(review_edits.c.set_id, review_edits.c.n)
    ).all()
    by_set: dict[str, list[object]] = {}
    for one in rows:
        by_set.setdefault(one.set_id, []).append(one.edit)
    return tuple(
        Accepted(*found) for documents in by_set.values() for found in accepted_of(edits_from_json(documents))
    )


def day_of(sources: Sources) -> date:
    """Give the day from which on it is counted what is near or past."""
    return sources.measurement.context.read_on or sources.received_at.date()
