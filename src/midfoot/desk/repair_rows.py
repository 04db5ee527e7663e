"""Repairs as rows: added, undone, read in their order. They are never changed otherwise."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.desk.repairs import Repair, repair_of
from midfoot.store import tables
from midfoot.store.columns import now

ROWS = tables.repairs


def repairs_of(connection: Connection, clip_id: str) -> tuple[Repair, ...]:
    """Give all repairs of a clip, those that were undone too."""
    rows = connection.execute(sa.select(ROWS).where(ROWS.c.clip_id == clip_id).order_by(ROWS.c.n))
    return tuple(Repair(row.n, row.kind, row.body, row.undone_at is not None) for row in rows)


def add_repair(connection: Connection, clip_id: str, kind: str, body: Any) -> Repair:
    """Add a repair to a clip, checked; gives it with its number.

    Raises
    ------
    RepairError
        When it makes no sense.
    """
    kept = repair_of(kind, body)
    last = connection.execute(sa.select(sa.func.max(ROWS.c.n)).where(ROWS.c.clip_id == clip_id)).scalar()
    n = int(last or 0) + 1
    connection.execute(ROWS.insert().values(clip_id=clip_id, n=n, kind=kind, body=kept))
    return Repair(n, kind, kept)


def undo_repair(connection: Connection, clip_id: str, n: int, *, undone: bool = True) -> bool:
    """Let a repair count no more, or again; False when there is none of that number, or it was so already."""
    done = connection.execute(
        ROWS.update()
        .where(ROWS.c.clip_id == clip_id, ROWS.c.n == n)
        .where(ROWS.c.undone_at.is_(None) if undone else ROWS.c.undone_at.is_not(None))
        .values(undone_at=now() if undone else None)
    )
    return done.rowcount == 1


def settle_lift(connection: Connection, set_id: str, clip_id: str) -> None:
    """Let the set's row say the lift that counts now: of the last repair that stands, else what was said of it."""
    said = [r.body["lift"] for r in repairs_of(connection, clip_id) if r.kind == "lift" and not r.undone]
    row = connection.execute(sa.select(tables.sets).where(tables.sets.c.id == set_id)).one()
    if (row.main_clip_id or clip_id) != clip_id:
        return
    lift = said[-1] if said else (row.context or {}).get("lift") or row.lift
    connection.execute(tables.sets.update().where(tables.sets.c.id == set_id).values(lift=lift))


WORDS = {
    "bar_at": "The bar was pointed at", "lifter_at": "The lifter was pointed at", "length": "Two points told",
    "plate": "Largest plate", "trim": "Part to measure", "moment": "Moment", "joint": "Joint marked",
    "depth": "Crease and knee top marked",
    "rep": "A rep was missing", "no_rep": "No rep", "mirrored": "Mirror image",
    "real_speed": "Slow motion", "lift": "Lift",
}  # fmt: skip


def in_words(repair: Repair) -> str:
    """Say a repair in one line for the page."""
    body, head = repair.body, WORDS[repair.kind]
    match repair.kind:
        case "bar_at" | "lifter_at" | "depth":
            return f"{head} at {body['at_s']:.2f} s"
        case "joint":
            return f"{head}: {body['joint'].replace('_', ' ')} at {body['at_s']:.2f} s"
        case "length":
            return f"{head}: {body['mm']:g} mm apart"
        case "plate":
            return f"{head}: {body['mm']:g} mm"
        case "trim":
            end = "the end" if body["to_s"] is None else f"{body['to_s']:.2f} s"
            return f"{head}: from {body['from_s'] or 0:.2f} s to {end}"
        case "moment" if "moment" in body:
            return (
                f"Rep {body['rep']}, {body['moment'].removesuffix('_s').replace('_', ' ')} at {body['at_s']:.2f} s"
            )
        case "moment":
            return f"Rep {body['rep']}: {body['outcome'].replace('_', ' ')}"
        case "rep":
            return f"{head}: from {body['from_s']:.2f} s to {body['to_s']:.2f} s"
        case "no_rep":
            return f"Rep {body['rep']} at {body['about_s']:.2f} s is none"
        case "mirrored":
            return f"{head}: {'yes' if body['on'] else 'no'}"
        case "real_speed":
            return f"{head}: {body['times_slower']:g} times slower than life"
        case _:
            return f"{head}: {body['lift']}{', ' + body['variation'] if body.get('variation') else ''}"
