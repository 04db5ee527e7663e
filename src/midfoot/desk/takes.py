"""The voice-over of a set at the desk: takes kept, listed, taken again, deleted with their sound."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.records.base import RecordError
from midfoot.records.takes import Take
from midfoot.review.takes import section, whole
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit, note_blob
from midfoot.store.tables import blobs, sets, takes
from midfoot.store.takes_json import events_from_json, events_to_json

if TYPE_CHECKING:
    from midfoot.store import Workspace

NAMES = {"wide": "voice-over.mp4", "upright": "voice-over-upright.mp4"}
SUBTITLES = "voice-over.vtt"
MADE = "voice-over.json"
"""What the videos were made from; written last."""
MOST_TAKES = 200
Tell = Callable[[str, float], None]


class TakesError(ValueError):
    """A take that cannot be kept or made: the text says why and what would do."""


def add(
    workspace: Workspace, set_id: str, *, name: str, duration_s: float, events: list[Any],
    again: tuple[float, float] | None = None,
) -> str:  # fmt: skip
    """Keep what the player did during a take, before its sound is there; gives the take's id.

    Parameters
    ----------
    workspace, set_id : whose.
    name : the page's own name for it: sent twice it is kept once.
    duration_s : how long it is.
    events : in the form of `takes_json`.
    again : from when to when of the voice-over it replaces; None for a new one from the beginning.

    Raises
    ------
    TakesError
        When it breaks the form, the set is not there, or there is nothing to replace.
    """
    try:
        Take(id="new", n=1, duration_s=duration_s, events=events_from_json(events))
    except RecordError as error:
        raise TakesError(f"The recording's events cannot be read ({error}); record it again.") from None
    with workspace.write() as connection:
        if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
            raise TakesError("There is no such set; go back to the inbox.")
        take_id = hashlib.sha256(f"{set_id} {name}".encode()).hexdigest()[:16] if name else new_id()
        if connection.execute(sa.select(takes.c.id).where(takes.c.id == take_id)).first() is not None:
            return take_id
        there = takes_of(connection, set_id)
        where = section(there, *again) if again is not None else None
        if again is not None and where is None:
            raise TakesError("There is no voice-over yet of which a part could be taken again; record it whole.")
        last = connection.execute(sa.select(sa.func.max(takes.c.n)).where(takes.c.set_id == set_id)).scalar()
        n = int(last or 0) + 1
        if n > MOST_TAKES:
            raise TakesError(f"{MOST_TAKES} takes are as many as one set may have; delete some.")
        connection.execute(
            takes.insert().values(
                id=take_id, set_id=set_id, n=n, duration_s=duration_s, events=events,
                replaces=where[0] if where else None, covers_from_s=where[1] if where else None,
                covers_to_s=where[2] if where else None,
            )
        )  # fmt: skip
        audit(connection, "take_recorded", "set", set_id, {"take": take_id})
    return take_id


def keep_sound(workspace: Workspace, take_id: str, sha256: str, media_type: str) -> str:
    """Bind a recording that lies in the blobs to its take; gives the set's id.

    Raises
    ------
    TakesError
        When the take is not there any more, or the file holds no sound.
    """
    if not _has_sound(workspace.blobs.path(sha256)):
        raise TakesError("The recording holds no sound; check the microphone and record it again.")
    with workspace.write() as connection:
        row = connection.execute(
            sa.select(takes.c.set_id).where(takes.c.id == take_id, takes.c.deleted_at.is_(None))
        ).first()
        if row is None:
            raise TakesError("This take is not there any more; record it again.")
        note_blob(connection, sha256, workspace.blobs.size(sha256), media_type)
        connection.execute(takes.update().where(takes.c.id == take_id).values(audio_sha256=sha256))
    return str(row.set_id)


def _has_sound(path: Path) -> bool:
    import av

    try:
        with av.open(str(path)) as container:
            return bool(container.streams.audio) and next(container.decode(audio=0), None) is not None
    except (OSError, ValueError):  # FFmpeg's errors are one of both
        return False


def takes_of(connection: Connection, set_id: str) -> tuple[Take, ...]:
    """Give the takes of a set that have their sound and were not deleted."""
    rows = connection.execute(
        sa.select(takes)
        .where(takes.c.set_id == set_id, takes.c.deleted_at.is_(None), takes.c.audio_sha256.is_not(None))
        .order_by(takes.c.n)
    ).all()
    return tuple(
        Take(
            id=r.id, n=r.n, duration_s=r.duration_s, events=events_from_json(r.events or []),
            replaces=r.replaces or "", from_s=r.covers_from_s or 0.0, to_s=r.covers_to_s or 0.0,
        )
        for r in rows
    )  # fmt: skip


def delete(workspace: Workspace, take_id: str) -> str:
    """Delete a take: its sound goes from the disk, what it replaced stands again; gives the set's id.

    Takes of a section of it go with it. Videos that were made with it go too.

    Raises
    ------
    TakesError
        When there is no such take.
    """
    gone: list[str] = []
    with workspace.write() as connection:
        row = connection.execute(sa.select(takes.c.set_id).where(takes.c.id == take_id)).first()
        if row is None:
            raise TakesError("There is no such take.")
        wanted = [take_id]
        for one in wanted:
            wanted += connection.execute(sa.select(takes.c.id).where(takes.c.replaces == one)).scalars().all()
        heard = connection.execute(sa.select(takes.c.audio_sha256).where(takes.c.id.in_(wanted))).scalars().all()
        connection.execute(
            takes.update()
            .where(takes.c.id.in_(wanted), takes.c.deleted_at.is_(None))
            .values(deleted_at=now(), audio_sha256=None, events=[])
        )
        for sha256 in {h for h in heard if h}:
            still = connection.execute(sa.select(takes.c.id).where(takes.c.audio_sha256 == sha256)).first()
            if still is None:
                connection.execute(blobs.update().where(blobs.c.sha256 == sha256).values(gone_at=now()))
                gone.append(sha256)
        audit(connection, "take_deleted", "set", row.set_id, {"takes": wanted})
    for sha256 in gone:
        workspace.blobs.remove(sha256)
    folder = workspace.review(str(row.set_id))
    for name in (*NAMES.values(), SUBTITLES, MADE):
        (folder / name).unlink(missing_ok=True)
    return str(row.set_id)


def state(workspace: Workspace, set_id: str) -> dict[str, Any]:
    """Give what a page shows of a set's voice-over: takes, what the whole is made of, which files there are."""
    with workspace.read() as connection:
        there = takes_of(connection, set_id)
        silent = connection.execute(
            sa.select(takes.c.id, takes.c.n).where(
                takes.c.set_id == set_id, takes.c.deleted_at.is_(None), takes.c.audio_sha256.is_(None)
            )
        ).all()
        recorded = dict(
            connection.execute(sa.select(takes.c.id, takes.c.created_at).where(takes.c.set_id == set_id)).all()
        )
    stretches = whole(there)
    folder = workspace.review(set_id)
    used = {s.take.id for s in stretches}
    return {
        "takes": [
            {"id": t.id, "n": t.n, "duration_s": t.duration_s, "used": t.id in used, "replaces": t.replaces,
             "from_s": t.from_s, "to_s": t.to_s, "recorded_at": recorded[t.id].isoformat(),
             "events": events_to_json(t.events)}
            for t in there
        ],
        "without_sound": [{"id": r.id, "n": r.n} for r in silent],
        "whole": [{"take": s.take.id, "from_s": s.from_s, "to_s": s.to_s} for s in stretches],
        "length_s": sum(s.length_s for s in stretches),
        "files": [name for name in (*NAMES.values(), SUBTITLES) if (folder / name).is_file()],
    }  # fmt: skip


def has_any(workspace: Workspace, set_id: str) -> bool:
    """Tell whether there is a voice-over of a set."""
    with workspace.read() as connection:
        return bool(whole(takes_of(connection, set_id)))
