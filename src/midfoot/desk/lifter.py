"""A lifter over the weeks: sets, what a measure did against date and load, competitions, consents.

Reads only. Each function takes a connection of `Workspace.read` and asks one question of the database.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from attrs import field, frozen
from sqlalchemy.engine import Connection

from midfoot.history import why_not_together
from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS
from midfoot.store.tables import changes, clips, consents, follow_ups, lifters, measurements, sets

NAME = re.compile(r"[a-z0-9_]+")


@frozen(kw_only=True)
class OneOf:
    """A lifter in the list of all: how many sets, when the last came, what is due."""

    id: str
    name: str
    shown_name: str
    minor: bool | None
    sets: int
    last_at: datetime | None
    open_changes: int
    due_on: date | None
    competition_on: date | None


@frozen(kw_only=True)
class SetOf:
    """A set in a lifter's list."""

    id: str
    lift: str | None
    variation: str
    load_kg: float | None
    received_at: datetime
    state: str
    rpe: float | None
    frame_sha256: str | None
    reps: int | None
    archived: bool


@frozen(kw_only=True)
class Point:
    """One set on the line of a measure.

    Attributes
    ----------
    set_id : str
    at : datetime
    load_kg, rpe : float or None
    value, sd : float
        Mean over the completed reps, in `unit`; sd with the error common to the clip.
    unit : str
    view : str
    apart : str
        Why it may not stand on one line with the latest set ("" when it may): another view, an unknown scale.
    """

    set_id: str
    at: datetime
    load_kg: float | None
    rpe: float | None
    value: float
    sd: float
    unit: str
    view: str
    apart: str = ""


@frozen(kw_only=True)
class Countdown:
    """Days until a competition and what that allows: `rules_first` up to 4 weeks, `one_change` up to 10."""

    on: date
    name: str
    rules: str
    days: int
    allows: str = field(default="")

    @property
    def weeks(self) -> float:
        """Weeks until it."""
        return self.days / 7.0


def everybody(connection: Connection) -> tuple[OneOf, ...]:
    """Give all lifters, who sent last first."""
    of_sets = (
        sa.select(sets.c.lifter_id, sa.func.count().label("n"), sa.func.max(sets.c.received_at).label("last"))
        .group_by(sets.c.lifter_id)
        .subquery()
    )
    of_changes = (
        sa.select(
            changes.c.lifter_id, sa.func.count(changes.c.id.distinct()).label("n"),
            sa.func.min(follow_ups.c.due_on).label("due"),
        )
        .outerjoin(follow_ups, sa.and_(follow_ups.c.change_id == changes.c.id, follow_ups.c.done_at.is_(None)))
        .where(changes.c.state == "open")
        .group_by(changes.c.lifter_id)
        .subquery()
    )  # fmt: skip
    rows = connection.execute(
        sa.select(lifters, of_sets.c.n.label("n"), of_sets.c.last, of_changes.c.n.label("open"), of_changes.c.due)
        .outerjoin(of_sets, of_sets.c.lifter_id == lifters.c.id)
        .outerjoin(of_changes, of_changes.c.lifter_id == lifters.c.id)
        .order_by(of_sets.c.last.desc().nulls_last(), lifters.c.name)
    )
    return tuple(
        OneOf(
            id=r.id, name=r.name, shown_name=r.shown_name or r.name, minor=r.minor, sets=r.n or 0, last_at=r.last,
            open_changes=r.open or 0, due_on=r.due, competition_on=r.competition_on,
        )
        for r in rows
    )  # fmt: skip


def sets_of(connection: Connection, lifter_id: str) -> tuple[SetOf, ...]:
    """Give a lifter's sets, the latest first."""
    rows = connection.execute(
        sa.select(
            sets, clips.c.frame_sha256, sets.c.context["rpe"].label("rpe"), sets.c.context["rir"].label("rir"),
            measurements.c.numbers["reps"].label("reps"),
        )
        .outerjoin(clips, clips.c.id == sets.c.main_clip_id)
        .outerjoin(measurements, _current())
        .where(sets.c.lifter_id == lifter_id)
        .order_by(sets.c.received_at.desc())
    )  # fmt: skip
    return tuple(
        SetOf(
            id=r.id, lift=r.lift, variation=r.variation, load_kg=r.load_kg, received_at=r.received_at,
            state=r.state, rpe=_effort(r.rpe, r.rir), frame_sha256=r.frame_sha256, reps=r.reps,
            archived=r.archived_at is not None,
        )
        for r in rows
    )  # fmt: skip


def course(connection: Connection, lifter_id: str, lift: str, measure: str) -> tuple[Point, ...]:
    """Give a measure over a lifter's sets of one lift, the oldest first, without sets in which it was not seen.

    One query. Each point says whether it may be held against the latest one.
    """
    if not NAME.fullmatch(measure):
        return ()
    numbers = measurements.c.numbers
    rows = connection.execute(
        sa.select(
            sets.c.id, sets.c.received_at, sets.c.load_kg, sets.c.context["rpe"].label("rpe"),
            sets.c.context["rir"].label("rir"), numbers["levels"][measure].label("level"),
            numbers["view"].label("view"), numbers["scale_pct"].label("scale_pct"),
        )
        .join(measurements, _current())
        .where(sets.c.lifter_id == lifter_id, sets.c.lift == lift)
        .order_by(sets.c.received_at)
    ).all()  # fmt: skip
    seen = [r for r in rows if r.level is not None]
    if not seen:
        return ()
    last = _numbers(seen[-1])
    return tuple(
        Point(
            set_id=r.id, at=r.received_at, load_kg=r.load_kg, rpe=_effort(r.rpe, r.rir), value=r.level["value"],
            sd=r.level["sd"], unit=r.level["unit"], view=r.view["class"],
            apart=why_not_together(r.level["unit"], _numbers(r), last),
        )
        for r in seen
    )  # fmt: skip


def measures_of(connection: Connection, lifter_id: str, lift: str) -> dict[str, int]:
    """Give the measures seen in a lifter's sets of a lift and in how many of them, the most often seen first."""
    rows = connection.execute(
        sa.select(measurements.c.numbers["levels"].label("levels"))
        .select_from(sets)
        .join(measurements, _current())
        .where(sets.c.lifter_id == lifter_id, sets.c.lift == lift)
    ).scalars()
    found: dict[str, int] = {}
    for levels in rows:
        for measure in levels or ():
            found[measure] = found.get(measure, 0) + 1
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def countdown(connection: Connection, lifter_id: str, today: date) -> Countdown | None:
    """Give the next competition, as the lifter's card or else the latest set says; None when none is ahead."""
    card = connection.execute(
        sa.select(lifters.c.competition_on, lifters.c.competition_name, lifters.c.competition_rules).where(
            lifters.c.id == lifter_id
        )
    ).first()
    if card is not None and card.competition_on is not None and card.competition_on >= today:
        return _until(card.competition_on, card.competition_name, card.competition_rules, today)
    said = connection.execute(
        sa.select(sets.c.context["competition"].label("said"))
        .where(sets.c.lifter_id == lifter_id, sets.c.context["competition"]["on"].as_string().is_not(None))
        .order_by(sets.c.received_at.desc())
    ).scalars()
    for meet in said:
        on = date.fromisoformat(meet["on"])
        if on >= today:
            return _until(on, meet.get("name") or "", meet.get("rules") or "", today)
    return None


def consents_of(connection: Connection, lifter_id: str) -> tuple[dict[str, Any], ...]:
    """Give every consent of a lifter and of the sets, with wording, when and by whom; revoked ones too."""
    own = sa.select(sets.c.id).where(sets.c.lifter_id == lifter_id)
    rows = connection.execute(
        sa.select(consents)
        .where(sa.or_(consents.c.lifter_id == lifter_id, consents.c.set_id.in_(own)))
        .order_by(consents.c.given_at, consents.c.id)
    )
    return tuple(dict(r._mapping) for r in rows)


def _current() -> sa.ColumnElement[bool]:
    return sa.and_(measurements.c.clip_id == sets.c.main_clip_id, measurements.c.is_current.is_(True))


def _numbers(row: Any) -> dict[str, Any]:
    return {"view": row.view, "scale_pct": row.scale_pct}


def _effort(rpe: float | None, rir: float | None) -> float | None:
    return rpe if rpe is not None else None if rir is None else 10.0 - rir


def _until(on: date, name: str, rules: str, today: date) -> Countdown:
    days = (on - today).days
    near = days / 7.0
    allows = "rules_first" if near <= MEET_CLOSE_WEEKS else "one_change" if near <= MEET_NEAR_WEEKS else ""
    return Countdown(on=on, name=name, rules=rules, days=days, allows=allows)
