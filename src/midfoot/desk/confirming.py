"""What was read of a set, for the coach to look through; and what he confirmed, kept. Clips joined to one set."""

from __future__ import annotations

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.intake_rows import NOTE, IntakeError, write_context
from midfoot.desk.pasted import Doubt, Pasted, read
from midfoot.desk.who import known_as, lifter_named
from midfoot.jobs import enqueue
from midfoot.records.context import Context
from midfoot.store import context_from_json
from midfoot.store.columns import now
from midfoot.store.rows import audit, setting
from midfoot.store.tables import clips, sets, settings


@frozen(kw_only=True)
class Reading:
    """What the text of one set says, for the coach to confirm, with notes on how it came to this set."""

    pasted: Pasted | None
    doubts: tuple[Doubt, ...] = ()
    notes: tuple[str, ...] = ()
    lifters: tuple[tuple[str, str, bool], ...] = ()
    """Known lifters by that name or one like it: id, name, whether it is the very name."""


def reading_of(connection: Connection, set_id: str) -> Reading:
    """Read a set's text again for the page on which the coach confirms it."""
    row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).one()
    parts = read(row.pasted_text, row.received_at.date()) if row.pasted_text else ()
    notes = tuple(str(n) for n in setting(connection, NOTE + set_id, ()) or ())
    said = context_from_json(row.context) if row.context else Context()
    pasted = parts[0] if len(parts) == 1 else None
    doubts = tuple(d for p in parts for d in p.doubts) if len(parts) == 1 else ()
    return Reading(pasted=pasted, doubts=doubts, notes=notes, lifters=known_as(connection, said.lifter or ""))


def confirm(
    connection: Connection, set_id: str, said: Context, *, lifter: str | None = None, lifter_id: str | None = None
) -> None:
    """Keep what the coach confirmed of a set, and ask for its clips to be measured with it.

    Parameters
    ----------
    said : all that was said, as he has it now.
    lifter : a name; the lifter of that name is taken, or made. None leaves the lifter as he is.
    lifter_id : a known lifter, chosen outright.

    Raises
    ------
    IntakeError
        When there is no such set.
    """
    if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
        raise IntakeError("There is no such set any more; go back to the inbox.")
    who = lifter_id or (lifter_named(connection, lifter) if lifter and lifter.strip() else None)
    connection.execute(
        sets.update()
        .where(sets.c.id == set_id)
        .values(
            context_confirmed=True, lift=said.lift, load_kg=said.load_kg, **({"lifter_id": who} if who else {})
        )
    )
    connection.execute(settings.delete().where(settings.c.key == NOTE + set_id))
    write_context(connection, set_id, said)
    audit(connection, "context_confirmed", "set", set_id)


def join_clip(connection: Connection, clip_id: str, set_id: str) -> None:
    """Make a clip another view of a set; the set that it leaves goes when nothing else hangs on it.

    Raises
    ------
    IntakeError
        When there is no such clip or set.
    """
    clip = connection.execute(sa.select(clips).where(clips.c.id == clip_id)).first()
    to = connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first()
    if clip is None or to is None:
        raise IntakeError("The clip or the set is not here any more; go back to the inbox.")
    if clip.set_id == set_id:
        return
    last = connection.execute(sa.select(sa.func.max(clips.c.position)).where(clips.c.set_id == set_id)).scalar()
    connection.execute(
        clips.update().where(clips.c.id == clip_id).values(set_id=set_id, position=int(last or 0) + 1)
    )
    rest = connection.execute(
        sa.select(clips.c.id).where(clips.c.set_id == clip.set_id).order_by(clips.c.position)
    ).scalars().all()  # fmt: skip
    left = sets.c.id == clip.set_id
    if rest:
        connection.execute(sets.update().where(left, sets.c.main_clip_id == clip_id).values(main_clip_id=rest[0]))
    else:
        connection.execute(sets.update().where(left).values(archived_at=now(), main_clip_id=None))
    enqueue(connection, "measure", f"measure:{clip_id}", {"clip_id": clip_id})
    audit(connection, "clip_joined", "clip", clip_id, {"set": set_id})
