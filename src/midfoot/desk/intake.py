"""Clips and words that come in: files become clips of new sets, a pasted text is read and shared out among them.

Nothing is guessed in silence: what was read waits for the coach's word (`confirming`), a lifter is matched by name
and by nothing else, and what could not be told apart is noted. A file is in the blobs before a row speaks of it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.confirming import Reading, confirm, join_clip, reading_of
from midfoot.desk.intake_kind import refusal
from midfoot.desk.intake_rows import NOTE, IntakeError, over, write_context
from midfoot.desk.pasted import Pasted, context_of, read
from midfoot.desk.who import lifter_named, same_name
from midfoot.jobs import enqueue
from midfoot.records.context import Context
from midfoot.store import Workspace, context_from_json
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit, note_blob
from midfoot.store.tables import clips, sets, settings

FROM_NAME = ("lift", "load_kg", "reps", "view")
"""What a file's own name may say."""
MANY = "The message came with {n} clips and tells no sets apart: see which of them it is about."
ORDER = "The message names no files: its parts were given to the clips in order."
UNEQUAL = "The message speaks of {blocks} sets and {n} clips came: nothing was read from it, give each its part."


@frozen(kw_only=True)
class Taken:
    """A clip that came in; `already` when the same file is here from before, then the ids are of that one."""

    set_id: str
    clip_id: str
    name: str
    already: bool = False


def take_clip(
    workspace: Workspace,
    path: Path,
    name: str,
    *,
    source: str = "drop",
    move: bool = False,
    lifter: str | None = None,
    lift: str | None = None,
    set_id: str | None = None,
) -> Taken:
    """Take a file in as a clip of a new set, or of `set_id`, and ask for a first look at it.

    Parameters
    ----------
    path, name : the file, and the name under which it was received.
    source : one of `store.tables.SOURCES`.
    move : the file at `path` may be taken away.
    lifter : name of the lifter, said outright; made when there is none of that name.
    lift : said outright.

    Raises
    ------
    IntakeError
        When it is plainly no video.
    StoreError
        When the disk is full.
    """
    name = Path(name.replace("\\", "/")).name.strip() or "clip"
    if said := refusal(path, name):
        raise IntakeError(said)
    size = path.stat().st_size
    sha256 = workspace.blobs.put(path, move=move)
    with workspace.write() as connection:
        there = connection.execute(
            sa.select(clips.c.id, clips.c.set_id, clips.c.received_name).where(clips.c.sha256 == sha256).limit(1)
        ).first()
        if there is not None:
            return Taken(set_id=there.set_id, clip_id=there.id, name=there.received_name, already=True)
        note_blob(connection, sha256, size)
        clip_id = new_id()
        if set_id is None:
            set_id = new_id()
            said_by_name = _from_name(name)
            if lift:
                said_by_name = evolve(said_by_name, lift=lift)
            if lifter:
                said_by_name = evolve(said_by_name, lifter=lifter)
            connection.execute(
                sets.insert().values(id=set_id, source=source, received_at=now(), main_clip_id=clip_id)
            )
            write_context(connection, set_id, said_by_name)
            if lifter:
                connection.execute(
                    sets.update().where(sets.c.id == set_id).values(lifter_id=lifter_named(connection, lifter))
                )
            position = 0
        else:
            position = 1 + int(
                connection.execute(
                    sa.select(sa.func.coalesce(sa.func.max(clips.c.position), -1)).where(clips.c.set_id == set_id)
                ).scalar_one()
            )
        connection.execute(
            clips.insert().values(
                id=clip_id, set_id=set_id, sha256=sha256, received_name=name, bytes=size, position=position,
                view_said=_view(name),
            )
        )  # fmt: skip
        enqueue(connection, "look", f"look:{clip_id}", {"clip_id": clip_id})
        audit(connection, "clip_received", "clip", clip_id, {"source": source}, who=source)
    return Taken(set_id=set_id, clip_id=clip_id, name=name)


def give_text(workspace: Workspace, set_ids: Sequence[str], text: str, *, today: date | None = None) -> str:
    """Read a pasted text, share it out among sets that came with it, and say in a line what was done.

    A part that names a file goes to that file. The other parts go to the other sets: one part to all of them, as
    many as there are sets in their order, otherwise nothing is read and every set keeps the whole text.

    Raises
    ------
    IntakeError
        When there is no text, or no such set.
    """
    today = today or now().date()
    parts = read(text, today)
    if not parts:
        raise IntakeError("There is no word in this message; paste what the lifter wrote.")
    with workspace.write() as connection:
        rows = connection.execute(
            sa.select(sets.c.id, clips.c.received_name)
            .join(clips, clips.c.set_id == sets.c.id)
            .where(sets.c.id.in_(tuple(set_ids)))
        ).all()
        names: dict[str, list[str]] = {}
        for row in rows:
            names.setdefault(row.id, []).append(row.received_name.casefold())
        wanted = [s for s in dict.fromkeys(set_ids) if s in names]
        if not wanted:
            raise IntakeError("The clips of this message are not here any more; drop them again.")
        plan = shared_out(parts, [(s, names[s]) for s in wanted])
        for set_id, part, notes in plan:
            _give(connection, set_id, text if part is None or len(parts) == 1 else part.text, part, notes, today)
    read_of = sum(part is not None for _, part, _ in plan)
    if read_of < len(plan):
        return UNEQUAL.format(blocks=len(parts), n=len(plan))
    return f"Read for {len(plan)} set{'s' if len(plan) > 1 else ''}; look it through and confirm."


def shared_out(
    parts: Sequence[Pasted], named: Sequence[tuple[str, list[str]]]
) -> list[tuple[str, Pasted | None, tuple[str, ...]]]:
    """Give each set its part of a message, None where nothing could be told, and notes on how.

    Parameters
    ----------
    parts : of the message.
    named : id of each set and the names of its files in small letters.
    """
    found: dict[str, tuple[Pasted | None, tuple[str, ...]]] = {}
    left = list(parts)
    for part in parts:
        files = {f.casefold() for f in part.files}
        for set_id, names in named:
            if files & set(names) and set_id not in found:
                found[set_id] = (part, ())
                left = [p for p in left if p is not part]
    open_sets = [s for s, _ in named if s not in found]
    left = [p for p in left if not p.files] or left
    if len(left) == 1:
        note = (MANY.format(n=len(open_sets)),) if len(open_sets) > 1 else ()
        found |= {s: (left[0], note) for s in open_sets}
    elif left and len(left) == len(open_sets):
        found |= {s: (p, (ORDER,) if len(left) > 1 else ()) for s, p in zip(open_sets, left, strict=True)}
    elif left:
        note = (UNEQUAL.format(blocks=len(left), n=len(open_sets)),)
        found |= {s: (None, note) for s in open_sets}
    return [(s, *found[s]) for s, _ in named if s in found]


def _give(
    connection: Connection, set_id: str, text: str, part: Pasted | None, notes: tuple[str, ...], today: date
) -> None:
    row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).one()
    before = context_from_json(row.context) if row.context else Context()
    said = over(before, context_of(part, today)) if part is not None else before
    whole = f"{row.pasted_text}\n{text}".strip() if row.pasted_text and text not in row.pasted_text else text
    connection.execute(sets.update().where(sets.c.id == set_id).values(pasted_text=whole, context_confirmed=False))
    connection.execute(settings.delete().where(settings.c.key == NOTE + set_id))
    if notes:
        connection.execute(settings.insert().values(key=NOTE + set_id, value=list(notes)))
    write_context(connection, set_id, said)
    if row.lifter_id is None and said.lifter and (known := same_name(connection, said.lifter)):
        connection.execute(sets.update().where(sets.c.id == set_id).values(lifter_id=known))
    if part is not None and (view := part.value("view")):
        connection.execute(
            clips.update().where(clips.c.set_id == set_id, clips.c.view_said == "").values(view_said=str(view))
        )


def _from_name(name: str) -> Context:
    """Read what a file's own name says of the set: lift, load and reps, where they are written out."""
    words = re.sub(r"[_\-.]+", " ", Path(name).stem)
    parts = read(words, now().date())
    if len(parts) != 1:
        return Context()
    kept = tuple(s for s in parts[0].said if s.field in FROM_NAME and (s.field != "load_kg" or s.sure))
    return evolve(context_of(evolve(parts[0], said=kept), now().date()), lifter=None)


def _view(name: str) -> str:
    words = re.sub(r"[_\-.]+", " ", Path(name).stem).lower().split()
    found = next((w for w in ("side", "front", "rear", "back", "oblique") if w in words), "")
    return "rear" if found == "back" else found


__all__ = [
    "IntakeError",
    "Reading",
    "Taken",
    "confirm",
    "give_text",
    "join_clip",
    "reading_of",
    "shared_out",
    "take_clip",
]
