"""Follow-ups that are due: what to ask the lifter for, and the later set that answers, found by itself.

A later set of the same lifter and lift answers as soon as it is measured and confirmed, if it is alike enough in
view, load and effort for a change to be judged. Its verdict waits there until the review of that set goes out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import field, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.follow_up import Verdict, foretold_of, verdicts_of
from midfoot.desk.review_sources import NoReviewError, sources_of
from midfoot.history import LOAD_SHARE, RPE_STEP
from midfoot.store import StoreError
from midfoot.store.tables import changes, follow_ups, measurements, sets
from midfoot.units import KG_PER_LB

if TYPE_CHECKING:
    from midfoot.store import Workspace

HARDEST = 10.0


@frozen(kw_only=True)
class Window:
    """What the next set must be like, so that it can be held against the first.

    Attributes
    ----------
    view : str
        The class of view that it is to be filmed from; "" where the first one's could not be told.
    loads : (float, float) or None
        From and to, in the lifter's unit, so that both can be put on a bar; None where no load was said.
    unit : str
    efforts : (float, float) or None
        On the scale to 10; None where nobody said how hard the first set was.
    """

    view: str = ""
    loads: tuple[float, float] | None = None
    unit: str = "kg"
    efforts: tuple[float, float] | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What has to be said of the first set before any other can be held against it."""
        out = [] if self.loads is not None else ["its load"]
        return (*out, *([] if self.efforts is not None else ["how hard it was"]))


@frozen(kw_only=True)
class Due:
    """What is due of one set: the changes that its review asked for.

    Attributes
    ----------
    set_id : str
    texts : tuple of str
        What was to be tried, one a change.
    foretold : tuple of str
        What each should do, for the coach; "" for what only an eye can tell.
    on : date
        The earliest day.
    asked_at : datetime or None
        When the lifter was asked for the next set.
    later : str or None
        The set that answers, measured and not yet published.
    verdicts : tuple of str
        What the figures say of it so far.
    """

    set_id: str
    texts: tuple[str, ...]
    foretold: tuple[str, ...]
    on: date
    asked_at: datetime | None = None
    later: str | None = None
    verdicts: tuple[str, ...] = field(default=())


def window_of(view: str, load_kg: float | None, unit: str, effort: float | None) -> Window:
    """Give what the next set must be like: loads within a tenth, efforts within one point, the same view."""
    loads = None
    if load_kg:
        step, own = (1.0, load_kg / KG_PER_LB) if unit == "lb" else (0.5, load_kg)
        low, high = own * (1 - LOAD_SHARE), own * (1 + LOAD_SHARE)
        loads = math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step
    efforts = None if effort is None else (max(effort - RPE_STEP, 1.0), min(effort + RPE_STEP, HARDEST))
    return Window(view="" if view == "unknown" else view, loads=loads, unit=unit, efforts=efforts)


def due_of(connection: Connection, set_ids: Iterable[str], today: date) -> dict[str, Due]:
    """Give what is due of the sets named, by set."""
    ids = list(set_ids)
    query = (
        sa.select(changes, follow_ups.c.due_on, follow_ups.c.asked_at)
        .join(follow_ups, follow_ups.c.change_id == changes.c.id)
        .where(changes.c.set_id.in_(ids), follow_ups.c.due_on <= today, follow_ups.c.done_at.is_(None),
               changes.c.state == "open")
        .order_by(follow_ups.c.due_on, changes.c.part_id)
    )  # fmt: skip
    rows: dict[str, list[Any]] = defaultdict(list)
    for row in connection.execute(query):
        rows[row.set_id].append(row)
    answers = _answers(connection, [r.id for mine in rows.values() for r in mine])
    out = {}
    for set_id, mine in rows.items():
        # the latest set that answers any of them answers for all
        found = [a for r in mine for a in answers.get(r.id, ())]
        later = max(found, key=lambda a: a.received_at, default=None)
        out[set_id] = Due(
            set_id=set_id, texts=tuple(r.text for r in mine), foretold=tuple(foretold_of(r) for r in mine),
            on=mine[0].due_on, asked_at=max((r.asked_at for r in mine if r.asked_at), default=None),
            later=later.set_id if later is not None else None,
            verdicts=tuple(a.verdict for a in found if later is not None and a.set_id == later.set_id),
        )  # fmt: skip
    return out


def _answers(connection: Connection, change_ids: list[str]) -> dict[str, list[Any]]:
    query = (
        sa.select(follow_ups.c.change_id, follow_ups.c.set_id, follow_ups.c.verdict, sets.c.received_at)
        .join(sets, sets.c.id == follow_ups.c.set_id)
        .where(follow_ups.c.change_id.in_(change_ids), follow_ups.c.verdict.is_not(None),
               follow_ups.c.done_at.is_(None), sets.c.archived_at.is_(None))
    )  # fmt: skip
    found: dict[str, list[Any]] = defaultdict(list)
    for row in connection.execute(query):
        found[row.change_id].append(row)
    return found


def match(workspace: Workspace, set_id: str) -> tuple[Verdict, ...]:
    """Hold a set that was measured and confirmed against the lifter's open changes, and keep what it answers.

    What an earlier measurement of the set said goes, the coach's own word stays. Gives what it answers.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).first()
    if row is None or not row.context_confirmed or not row.lifter_id:
        return ()
    try:
        found = verdicts_of(workspace, sources_of(workspace, set_id))
    except (NoReviewError, StoreError):
        return ()
    answered = tuple(v for v in found if v.alike)
    with workspace.write() as connection:
        mine = sa.and_(
            follow_ups.c.set_id == set_id, follow_ups.c.due_on.is_(None), follow_ups.c.done_at.is_(None)
        )
        kept = {}
        for old in connection.execute(sa.select(follow_ups).where(mine)).all():
            if (old.detail or {}).get("by") == "coach":
                kept[old.change_id] = old
            else:
                connection.execute(sa.delete(follow_ups).where(follow_ups.c.id == old.id))
        done = set(
            connection.execute(
                sa.select(follow_ups.c.change_id).where(
                    follow_ups.c.set_id == set_id, follow_ups.c.done_at.is_not(None)
                )
            ).scalars()
        )
        for one in answered:
            if one.change_id not in kept and one.change_id not in done:
                detail = {"by": "measured", "why": one.why, "figures": one.figures}
                connection.execute(
                    sa.insert(follow_ups).values(
                        change_id=one.change_id, set_id=set_id, verdict=one.verdict, detail=detail
                    )
                )
    return answered


def windows_of(connection: Connection, set_ids: Iterable[str], said: dict[str, Any]) -> dict[str, Window]:
    """Give what the next set must be like, by set; `said` is the context of each (`records.context.Context`)."""
    rows = connection.execute(
        sa.select(sets.c.id, sets.c.load_kg, measurements.c.view,
                  measurements.c.numbers["view"]["class"].label("seen"))
        .outerjoin(measurements, sa.and_(measurements.c.clip_id == sets.c.main_clip_id,
                                         measurements.c.is_current.is_(True)))
        .where(sets.c.id.in_(list(set_ids)))
    )  # fmt: skip
    out = {}
    for r in rows:
        context = said[r.id]
        load = r.load_kg if r.load_kg is not None else context.load_kg
        out[r.id] = window_of(r.view or r.seen or "unknown", load, context.load_unit or "kg", context.effort_rpe)
    return out
