"""Sets on their way from a small public instance to the desk: listed whole, fetched, confirmed, then deleted.

A set is deleted on the instance only after the desk has said which contents it holds, by their hashes. A fetch
that breaks off at any moment is done again: what arrived is known by its hash and by the set's own id.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from midfoot.desk.erase_there import erasings
from midfoot.desk.instance import FROM, HandingError, Tell, ask, base_of, download
from midfoot.desk.intake import IntakeError, take_clip
from midfoot.desk.who import lifter_known_as
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import clips, consents, jobs, lifters, measurements, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

QUIET = timedelta(seconds=60)
"""After its last clip a set is left so long: another clip of it may follow."""
UPLOADS = "uploads"
"""Folder of what is on its way, in the instance's workspace."""
CONTENTS = ("sha256", "frame_sha256", "proxy_sha256", "times_sha256")
"""Columns of a clip that point at contents."""


def waiting(workspace: Workspace) -> list[dict[str, Any]]:
    """Give every set of this instance of which nothing is on its way, with what was said and allowed."""
    coming = _coming(workspace)
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(sets, lifters.c.name)
            .join(lifters, lifters.c.id == sets.c.lifter_id, isouter=True)
            .where(sets.c.source == "intake", sets.c.archived_at.is_(None))
            .order_by(sets.c.received_at)
        ).all()
        found = []
        for row in rows:
            if row.id in coming:
                continue
            files = connection.execute(
                sa.select(clips).where(clips.c.set_id == row.id).order_by(clips.c.position)
            ).all()
            given = connection.execute(sa.select(consents).where(consents.c.set_id == row.id)).all()
            if files and now() - max(row.received_at, _last(workspace, files)) >= QUIET:
                found.append(
                    {
                        "id": row.id, "received_at": row.received_at.isoformat(), "lift": row.lift,
                        "load_kg": row.load_kg, "context": row.context, "pasted_text": row.pasted_text,
                        "lifter": row.name or "",
                        "clips": [{"sha256": f.sha256, "name": f.received_name, "bytes": f.bytes,
                                   "view": f.view_said} for f in files],
                        "consents": [{"use": c.use, "wording": c.wording, "given_at": c.given_at.isoformat(),
                                      "given_by": c.given_by} for c in given],
                    }
                )  # fmt: skip
    return found


def _coming(workspace: Workspace) -> set[str]:
    """Sets of which a clip is being sent."""
    found = set()
    for file in (workspace.path / UPLOADS).glob("*.json"):
        try:
            found.add(str(json.loads(file.read_text("utf-8"))["metadata"].get("set", "")))
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            continue
    return found


def _last(workspace: Workspace, files: Sequence[Any]) -> datetime:
    """When the last of some clips arrived."""
    times = [workspace.blobs.path(f.sha256).stat().st_mtime for f in files if workspace.blobs.has(f.sha256)]
    return datetime.fromtimestamp(max(times, default=0.0), UTC)


def give_away(workspace: Workspace, set_id: str, held: Sequence[str]) -> None:
    """Delete a set of this instance that the desk holds; done twice it is done.

    Raises
    ------
    HandingError
        When the desk does not hold every clip: then nothing is deleted.
    """
    gone: list[str] = []
    with workspace.write() as connection:
        files = connection.execute(sa.select(clips).where(clips.c.set_id == set_id)).all()
        if any(f.sha256 not in held for f in files):
            raise HandingError("Not every clip of this set was said to have arrived; it is kept.")
        ids = [f.id for f in files]
        hashes = {h for f in files for h in (getattr(f, name) for name in CONTENTS) if h}
        connection.execute(sets.update().where(sets.c.id == set_id).values(main_clip_id=None))
        connection.execute(measurements.delete().where(measurements.c.clip_id.in_(ids)))
        keys = [f"{kind}:{clip_id}" for clip_id in ids for kind in ("look", "glimpse", "measure")]
        connection.execute(jobs.delete().where(jobs.c.key.in_(keys)))
        connection.execute(clips.delete().where(clips.c.set_id == set_id))
        connection.execute(consents.delete().where(consents.c.set_id == set_id))
        connection.execute(sets.delete().where(sets.c.id == set_id))
        for sha256 in hashes:
            if not _still(connection, sha256):
                gone.append(sha256)
        audit(connection, "set_handed_over", "set", set_id, who="fetch")
    for sha256 in gone:
        workspace.blobs.remove(sha256)


def _still(connection: Any, sha256: str) -> bool:
    wanted = sa.or_(*(clips.c[name] == sha256 for name in CONTENTS))
    return connection.execute(sa.select(clips.c.id).where(wanted).limit(1)).first() is not None


def fetch(workspace: Workspace, *, tell: Tell, address: str = "") -> int:
    """Fetch every set that waits on the public instance; gives how many came.

    Raises
    ------
    HandingError
        When no instance is set, it does not answer, or a clip arrived damaged.
    StoreError
        When the disk is full.
    """
    base = base_of(workspace, address)
    with workspace.read() as connection:
        before = erasings(connection)
    rows = ask(f"{base}/sets").get("sets", [])
    for k, row in enumerate(rows):
        for clip in row["clips"]:
            tell(f"fetching {clip['name']}", k / max(1, len(rows)))
            _take(workspace, base, row, clip, before)
        held = [clip["sha256"] for clip in row["clips"]]
        ask(f"{base}/sets/{row['id']}/arrived", {"sha256": held})
    return len(rows)


def _take(workspace: Workspace, base: str, row: dict[str, Any], clip: dict[str, Any], before: int) -> None:
    """Take one clip and, with the first, its set; what is here already stays as it is.

    `before` is how often something had been erased when the list was asked for: whoever was erased while a clip
    was on its way is not brought back.
    """
    with workspace.read() as connection:
        there = connection.execute(sa.select(sets.c.id).where(sets.c.id == row["id"])).first()
        have = connection.execute(
            sa.select(clips.c.id).where(clips.c.set_id == row["id"], clips.c.sha256 == clip["sha256"])
        ).first()
    if have is not None:
        return
    part = workspace.blobs.part()
    try:
        download(f"{base}/clips/{clip['sha256']}", part, clip["sha256"])
        _begin(workspace, row, before, there=there is not None)
        took = take_clip(workspace, part, clip["name"], source="intake", move=True, set_id=row["id"])
    except IntakeError as error:
        raise HandingError(str(error)) from None
    finally:
        part.unlink(missing_ok=True)
    with workspace.write() as connection:
        connection.execute(clips.update().where(clips.c.id == took.clip_id).values(view_said=clip["view"] or ""))
        connection.execute(
            sets.update()
            .where(sets.c.id == row["id"], sets.c.main_clip_id.is_(None))
            .values(main_clip_id=took.clip_id)
        )


def _begin(workspace: Workspace, row: dict[str, Any], before: int, *, there: bool) -> None:
    """Make a set with what was said and allowed, where it is not here yet."""
    with workspace.write() as connection:
        if erasings(connection) != before:
            raise HandingError("Something was erased while clips were on their way; fetch again.")
        if there:
            return
        lifter = lifter_known_as(connection, row["lifter"]) if row["lifter"] else None
        connection.execute(
            sets.insert().values(
                id=row["id"], source="intake", received_at=datetime.fromisoformat(row["received_at"]),
                lift=row["lift"], load_kg=row["load_kg"], context=row["context"], pasted_text=row["pasted_text"],
                lifter_id=lifter,
            )
        )  # fmt: skip
        for given in row["consents"]:
            connection.execute(
                consents.insert().values(
                    set_id=row["id"], lifter_id=lifter, use=given["use"], wording=given["wording"],
                    given_by=given["given_by"], given_at=datetime.fromisoformat(given["given_at"]),
                )
            )  # fmt: skip
        audit(connection, "set_fetched", "set", row["id"], who="fetch")


__all__ = ["FROM", "UPLOADS", "HandingError", "fetch", "give_away", "waiting"]
