"""Findings of sets that were measured before findings were noted one by one: read back, and noted."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

import sqlalchemy as sa

from midfoot.desk.archive import current
from midfoot.desk.cases import cases_of, note
from midfoot.desk.glance import can_judge
from midfoot.desk.review_sources import NoReviewError, sources_of
from midfoot.store import StoreError
from midfoot.store.tables import measurements, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

Tell = Callable[[str, float], None]


def gather(workspace: Workspace, *, tell: Tell | None = None, stop: threading.Event | None = None) -> int:
    """Note the findings of every measured set that has none noted; gives of how many.

    A set whose measurement cannot be read any more is passed over and tried again the next time.
    """
    with workspace.read() as connection:
        waiting = connection.execute(
            sa.select(sets.c.id, measurements.c.id.label("measurement"))
            .join(measurements, current())
            .where(measurements.c.judged.is_(None))
            .order_by(sets.c.received_at.desc())
        ).all()
    done = 0
    for k, row in enumerate(waiting):
        if stop is not None and stop.is_set():
            break
        if tell is not None:
            tell("taking earlier sets into the archive", k / len(waiting))
        try:
            found = sources_of(workspace, row.id)
        except (NoReviewError, StoreError):
            continue
        view = found.measurement.data.view.view_class
        with workspace.write() as connection:
            kept = connection.execute(
                measurements.update()
                .where(measurements.c.id == row.measurement, measurements.c.judged.is_(None))
                .values(judged=" ".join(can_judge(found.measurement)), view=view)
            )
            if kept.rowcount:
                note(connection, row.id, cases_of(found.measurement, found.limits), found.edits)
                done += 1
    return done
