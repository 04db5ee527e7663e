"""How what was said of a set stands in its rows."""

from __future__ import annotations

import attrs
import sqlalchemy as sa
from attrs import evolve
from sqlalchemy.engine import Connection

from midfoot.jobs import enqueue
from midfoot.records.context import Context
from midfoot.store import context_to_json
from midfoot.store.tables import clips, sets

NOTE = "intake."
"""Key of the settings under which a set's notes wait until the coach confirms; they name nobody."""


class IntakeError(ValueError):
    """A file or a text cannot be taken in: one sentence with the remedy."""


def over(before: Context, said: Context) -> Context:
    """Lay what was said now over what was said before; what is not said now stays."""
    empty = Context()
    fresh = {
        name: getattr(said, name)
        for name in (f.name for f in attrs.fields(Context))
        if getattr(said, name) != getattr(empty, name)
    }
    return evolve(before, **fresh)


def write_context(connection: Connection, set_id: str, said: Context) -> None:
    """Write what was said, and into the set's own columns what lists are searched and clips are measured by."""
    row = connection.execute(sa.select(sets.c.lift, sets.c.load_kg).where(sets.c.id == set_id)).one()
    connection.execute(
        sets.update()
        .where(sets.c.id == set_id)
        .values(
            context=context_to_json(said), lift=said.lift or row.lift, load_kg=said.load_kg or row.load_kg,
            variation=said.variation or "",
        )
    )  # fmt: skip
    if said.lift:
        for clip_id in connection.execute(
            sa.select(clips.c.id).where(clips.c.set_id == set_id, clips.c.proxy_sha256.is_not(None))
        ).scalars():
            enqueue(connection, "measure", f"measure:{clip_id}", {"clip_id": clip_id})
