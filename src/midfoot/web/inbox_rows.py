"""What the inbox shows of each set: one query for a page of sets, and one for each thing that hangs on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from attrs import field, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.confirming import Reading, reading_of
from midfoot.desk.due import Due, Window, due_of, windows_of
from midfoot.records.context import Context
from midfoot.store import context_from_json
from midfoot.store.tables import (
    changes,
    clips,
    consents,
    follow_ups,
    jobs,
    lifters,
    measurements,
    publications,
    sets,
)
from midfoot.web.flags import Flag, flags_of

LISTS = (
    ("open", "Open"),
    ("new", "To confirm"),
    ("ready", "Ready"),
    ("measuring", "Being measured"),
    ("review", "Picked for review"),
    ("edition", "Picked for an edition"),
    ("refilm", "Waiting for a re-film"),
    ("due", "Follow-up due"),
    ("published", "Published"),
    ("archived", "Archived"),
)
PAGE_ROWS = 40
LIVE = ("queued", "running")


@frozen(kw_only=True)
class Clip:
    """One clip of a row."""

    id: str
    name: str
    duration_s: float | None
    width_px: int | None
    height_px: int | None
    has_frame: bool
    error: str


@frozen(kw_only=True)
class Work:
    """What is being done for a set, or why it could not be."""

    id: str
    kind: str
    state: str
    progress: float | None
    message: str
    error: str


@frozen(kw_only=True)
class Row:
    """One set of the inbox.

    `summary` is that of the main clip's measurement (desk/glance.py), None while there is none. `due` are the
    words of the changes whose follow-up is due, `follow_up` what is known of it and `window` what to ask for.
    """

    id: str
    lifter_id: str | None
    lifter: str
    lift: str | None
    variation: str
    load_kg: float | None
    received_at: datetime
    state: str
    picked: str
    waiting: str
    waiting_note: str
    archived: bool
    published: bool
    confirmed: bool
    text: str
    context: Context
    clips: tuple[Clip, ...] = ()
    work: tuple[Work, ...] = ()
    summary: dict[str, Any] | None = None
    flags: tuple[Flag, ...] = ()
    consents: tuple[str, ...] = ()
    due: tuple[str, ...] = ()
    due_on: date | None = field(default=None)
    follow_up: Due | None = None
    window: Window | None = None
    reading: Reading | None = None

    @property
    def frame_clip(self) -> str | None:
        """The clip whose frame stands for the set."""
        return next((c.id for c in self.clips if c.has_frame), None)

    @property
    def busy(self) -> Work | None:
        """What runs or waits, running first."""
        return min((w for w in self.work if w.state in LIVE), key=lambda w: w.state != "running", default=None)

    @property
    def broken(self) -> Work | None:
        """What could not be done, where nothing is tried any more."""
        return None if self.busy else next((w for w in self.work if w.state in ("failed", "cancelled")), None)


@frozen(kw_only=True)
class Found:
    """A page of rows, and whether there are more behind it."""

    rows: tuple[Row, ...]
    more: bool


def rows_of(
    connection: Connection, *, show: str = "open", words: str = "", start: int = 0, limit: int = PAGE_ROWS,
    today: date | None = None,
) -> Found:  # fmt: skip
    """Give one page of a list: what is ready first, in the order in which it came in."""
    today = today or date.today()
    rank = sa.case(
        (sets.c.state == "ready", 0), (sets.c.state == "new", 1), (sets.c.state == "failed", 2), else_=3
    )
    order: tuple[Any, ...] = (rank, sets.c.received_at, sets.c.id)
    if show in ("published", "archived"):
        order = (sets.c.received_at.desc(), sets.c.id)
    query = _query().where(_within(show, today), *_matching(words)).order_by(*order).offset(start).limit(limit + 1)
    found = connection.execute(query).all()
    return Found(rows=_filled(connection, found[:limit], today), more=len(found) > limit)


def row_of(connection: Connection, set_id: str, today: date | None = None) -> Row | None:
    """Give one set's row, None where there is no such set."""
    found = connection.execute(_query().where(sets.c.id == set_id)).all()
    rows = _filled(connection, found, today or date.today())
    return rows[0] if rows else None


def counts(connection: Connection, today: date | None = None) -> dict[str, int]:
    """Count the sets of every list."""
    day = today or date.today()
    columns = [sa.func.count(sa.case((_within(name, day), 1))).label(name) for name, _ in LISTS]
    return dict(connection.execute(sa.select(*columns).select_from(sets)).one()._mapping)


def _query() -> sa.Select[Any]:
    return sa.select(sets, lifters.c.name.label("lifter"), lifters.c.minor).select_from(
        sets.outerjoin(lifters, lifters.c.id == sets.c.lifter_id)
    )


def _within(show: str, today: date) -> sa.ColumnElement[bool]:
    here = sets.c.archived_at.is_(None)
    out = sets.c.id.in_(
        sa.select(publications.c.set_id).where(
            publications.c.kind == "lifter",
            publications.c.revoked_at.is_(None),
            publications.c.set_id.is_not(None),
        )
    )
    due = sets.c.id.in_(
        sa.select(changes.c.set_id)
        .join(follow_ups, follow_ups.c.change_id == changes.c.id)
        .where(follow_ups.c.due_on <= today, follow_ups.c.done_at.is_(None), changes.c.state == "open")
    )
    lists: dict[str, sa.ColumnElement[bool]] = {
        "open": here & ~out,
        "new": here & sets.c.context_confirmed.is_(False),
        "ready": here & ~out & (sets.c.state == "ready"),
        "measuring": here
        & ((sets.c.state == "measuring") | ((sets.c.state == "new") & sets.c.context_confirmed.is_(True))),
        "review": here & (sets.c.picked == "review"),
        "edition": here & (sets.c.picked == "edition"),
        "refilm": here & (sets.c.waiting == "refilm"),
        "due": here & due,
        "published": here & out,
        "archived": sets.c.archived_at.is_not(None),
    }
    return lists.get(show, lists["open"])


def _matching(words: str) -> list[sa.ColumnElement[bool]]:
    """Every word must stand somewhere: lifter, lift, variation, message, a clip's name, what was found."""
    found = []
    for word in words.split()[:8]:
        like = {"autoescape": True}
        found.append(
            sa.or_(
                lifters.c.name.icontains(word, **like),
                sets.c.lift.icontains(word, **like),
                sets.c.variation.icontains(word, **like),
                sets.c.pasted_text.icontains(word, **like),
                sa.exists().where(clips.c.set_id == sets.c.id, clips.c.received_name.icontains(word, **like)),
                sa.exists().where(  # the longest texts last, and only of sets that nothing else tells
                    clips.c.set_id == sets.c.id,
                    measurements.c.clip_id == clips.c.id,
                    measurements.c.is_current,
                    sa.cast(measurements.c.summary, sa.Text).icontains(word, **like),
                ),
            )
        )
    return found


def _filled(connection: Connection, found: Iterable[Any], today: date) -> tuple[Row, ...]:
    found = list(found)
    ids = [r.id for r in found]
    if not ids:
        return ()
    clips_of, summaries = _clips(connection, ids)
    work_of = _work(connection, {clip.id: set_id for set_id, many in clips_of.items() for clip in many}, set(ids))
    allowed = _allowed(connection, found)
    due = due_of(connection, ids, today)
    windows = windows_of(connection, due, {r.id: context_of(r.context) for r in found if r.id in due})
    out = set(
        connection.execute(
            sa.select(publications.c.set_id).where(
                publications.c.set_id.in_(ids),
                publications.c.kind == "lifter",
                publications.c.revoked_at.is_(None),
            )
        ).scalars()
    )
    rows = []
    for r in found:
        context = context_of(r.context)
        uses = tuple(dict.fromkeys((*allowed.get(r.id, ()), *(c.use for c in context.consents))))
        follow_up = due.get(r.id)
        rows.append(
            Row(
                id=r.id, lifter_id=r.lifter_id, lifter=r.lifter or context.lifter or "",
                lift=r.lift or context.lift,
                variation=r.variation or context.variation or "",
                load_kg=r.load_kg if r.load_kg is not None else context.load_kg, received_at=r.received_at,
                state=r.state, picked=r.picked, waiting=r.waiting, waiting_note=r.waiting_note,
                archived=r.archived_at is not None, published=r.id in out, confirmed=bool(r.context_confirmed),
                text=r.pasted_text, context=context, clips=tuple(clips_of.get(r.id, ())),
                work=tuple(work_of.get(r.id, ())), summary=summaries.get(r.main_clip_id) or next(
                    (summaries[c.id] for c in clips_of.get(r.id, ()) if c.id in summaries), None
                ),
                flags=flags_of(context, r.lift or context.lift, bool(r.minor), today), consents=uses,
                due=follow_up.texts if follow_up else (), due_on=follow_up.on if follow_up else None,
                follow_up=follow_up, window=windows.get(r.id),
                reading=reading_of(connection, r.id) if r.pasted_text and not r.context_confirmed else None,
            )
        )  # fmt: skip
    return tuple(rows)


def context_of(document: Any) -> Context:
    """Give the context kept with a set; what cannot be read says nothing."""
    if not isinstance(document, dict):
        return Context()
    try:
        return context_from_json(document)
    except ValueError:
        return Context()


def _clips(connection: Connection, ids: list[str]) -> tuple[dict[str, list[Clip]], dict[str, dict[str, Any]]]:
    query = (
        sa.select(
            clips.c.id, clips.c.set_id, clips.c.received_name, clips.c.duration_s, clips.c.width_px,
            clips.c.height_px, clips.c.frame_sha256, clips.c.error, measurements.c.summary,
        )
        .select_from(
            clips.outerjoin(measurements, (measurements.c.clip_id == clips.c.id) & measurements.c.is_current)
        )
        .where(clips.c.set_id.in_(ids))
        .order_by(clips.c.position, clips.c.added_at)
    )  # fmt: skip
    of_set: dict[str, list[Clip]] = defaultdict(list)
    summaries: dict[str, dict[str, Any]] = {}
    for r in connection.execute(query):
        of_set[r.set_id].append(
            Clip(id=r.id, name=r.received_name, duration_s=r.duration_s, width_px=r.width_px,
                 height_px=r.height_px, has_frame=r.frame_sha256 is not None, error=r.error)
        )  # fmt: skip
        if isinstance(r.summary, dict):
            summaries[r.id] = r.summary
    return of_set, summaries


def _work(connection: Connection, set_of_clip: dict[str, str], ids: set[str]) -> dict[str, list[Work]]:
    """Match jobs with sets by what they were asked: live ones all, ended ones the newest of each."""
    query = (
        sa.select(jobs)
        .where(jobs.c.state.in_((*LIVE, "failed", "cancelled")))
        .order_by(jobs.c.state.in_(LIVE).desc(), jobs.c.finished_at.desc(), jobs.c.created_at)
        .limit(600)
    )
    found: dict[str, list[Work]] = defaultdict(list)
    for r in connection.execute(query):
        payload = r.payload if isinstance(r.payload, dict) else {}
        set_id = str(payload.get("set_id") or set_of_clip.get(str(payload.get("clip_id") or ""), ""))
        if set_id in ids:
            found[set_id].append(
                Work(id=r.id, kind=r.kind, state=r.state, progress=r.progress, message=r.message, error=r.error)
            )
    return found


def _allowed(connection: Connection, found: list[Any]) -> dict[str, list[str]]:
    of_lifter: dict[str, list[str]] = defaultdict(list)
    for r in found:
        if r.lifter_id:
            of_lifter[r.lifter_id].append(r.id)
    query = sa.select(consents.c.use, consents.c.lifter_id, consents.c.set_id).where(
        consents.c.revoked_at.is_(None),
        consents.c.set_id.in_([r.id for r in found])
        | (consents.c.set_id.is_(None) & consents.c.lifter_id.in_(list(of_lifter))),
    )
    allowed: dict[str, list[str]] = defaultdict(list)
    for use, lifter_id, set_id in connection.execute(query):
        for target in [set_id] if set_id else of_lifter.get(lifter_id, []):
            allowed[target].append(use)
    return allowed
