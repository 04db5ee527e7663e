"""Small units of reading and writing that shells share; each takes a connection of `Workspace.read` or `write`."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.records.review import Edit
from midfoot.store import tables
from midfoot.store.columns import new_id
from midfoot.store.review_json import edits_from_json, edits_to_json


class EditClash(ValueError):
    """An edit's id was used for another edit of this set already; give each edit an id of its own."""


def note_blob(connection: Connection, sha256: str, size: int, media_type: str = "") -> None:
    """Write the row of a content that lies in the blobs; one that had gone is back."""
    blobs = tables.blobs
    known = connection.execute(blobs.update().where(blobs.c.sha256 == sha256).values(gone_at=None))
    if not known.rowcount:
        connection.execute(blobs.insert().values(sha256=sha256, bytes=size, media_type=media_type))


def append_edit(connection: Connection, set_id: str, edit: Edit, *, by: str = "coach") -> int:
    """Add one edit to a set's review and give its number, 1 for the first.

    The same edit sent twice (a page that tried again) is kept once. What stands in the log is never changed.

    Raises
    ------
    EditClash
        When another edit of this set has that id.
    """
    log = tables.review_edits
    document = edits_to_json((edit,))[0]
    known = connection.execute(
        sa.select(log.c.n, log.c.edit).where(log.c.set_id == set_id, log.c.edit_id == edit.id)
    ).first()
    if known is not None:
        if known.edit != document:
            raise EditClash(f"the edit {edit.id!r} is in this review already and says something else")
        return int(known.n)
    last = connection.execute(sa.select(sa.func.max(log.c.n)).where(log.c.set_id == set_id)).scalar()
    n = int(last or 0) + 1
    connection.execute(log.insert().values(set_id=set_id, n=n, edit_id=edit.id, edit=document, by=by))
    return n


def edits_of(connection: Connection, set_id: str) -> tuple[Edit, ...]:
    """Give all edits of a set's review in the order in which they were made."""
    log = tables.review_edits
    rows = connection.execute(sa.select(log.c.edit).where(log.c.set_id == set_id).order_by(log.c.n)).scalars()
    return edits_from_json(list(rows))


def audit(
    connection: Connection,
    what: str,
    kind: str = "",
    subject: str = "",
    detail: Any = None,
    *,
    who: str = "coach",
) -> str:
    """Write down that something was done, in the unit of writing that does it; gives the line's id.

    Parameters
    ----------
    what : str
        A short word with an underscore, such as `published` or `lifter_erased`.
    kind, subject : str
        Which row it was done to. No names: the line outlives the lifter's data.
    """
    line = new_id()
    connection.execute(
        tables.audit.insert().values(
            id=line, who=who, what=what, subject_kind=kind, subject_id=subject, detail=detail
        )
    )
    return line


def setting(connection: Connection, key: str, default: Any = None) -> Any:
    """Give a setting of the workspace."""
    row = connection.execute(sa.select(tables.settings.c.value).where(tables.settings.c.key == key)).first()
    return default if row is None else row.value


def set_setting(connection: Connection, key: str, value: Any) -> None:
    """Keep a setting of the workspace."""
    done = connection.execute(tables.settings.update().where(tables.settings.c.key == key).values(value=value))
    if not done.rowcount:
        connection.execute(tables.settings.insert().values(key=key, value=value))
