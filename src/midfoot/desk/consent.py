"""What a lifter allowed, use by use, with its words and its time; what was taken back counts at once.

A row of the workspace says more than what came with the set: the newest decision on a use counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, time

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.records.context import Context
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import USES_STORED, consents, sets

STORED_AS = {"public": "public_page"}
"""Uses that a context calls otherwise than the workspace does."""
WORDINGS = {
    "review": "My coach may look at this set and send me a page of my own about it.",
    "public_page": "A page about this set may be public, with the video; I can take that back at any time.",
    "edition": "This set may be part of an edition that is shown in public.",
    "open_set": "This set may be shown in public for others to say what they see.",
    "keep_original": "The original clip may be kept longer than twelve months.",
    "voice": "My coach may speak over this set in what is sent.",
    "name": "My name may stand beside it in public.",
    "face": "My face may be seen in public; otherwise it is covered.",
    "sound": "The clip's own sound may be heard.",
    "pain": "What I wrote of pain may stand on my own page.",
    "injury": "What I wrote of an injury may stand on my own page.",
    "body_mass": "My body mass may stand on my own page.",
    "age": "My age may stand on my own page.",
}
"""What a lifter agrees to, in plain words; a coach who notes a consent keeps the words that were used."""


class ConsentError(ValueError):
    """A consent that cannot be noted: the text says why."""


@frozen
class Given:
    """A use that stands: in which words, since when, and who gave it."""

    use: str
    wording: str
    given_at: datetime
    given_by: str


def standing(connection: Connection, set_id: str, lifter_id: str | None, context: Context) -> Mapping[str, Given]:
    """Give the uses that stand for a set: of the set itself or of its lifter, and not taken back since."""
    found: dict[str, Given] = {}
    for said in context.consents:
        use = STORED_AS.get(said.use, said.use)
        day = said.given_on or context.read_on
        at = datetime.combine(day, time(), UTC) if day is not None else datetime.fromtimestamp(0, UTC)
        found[use] = Given(use, said.wording or WORDINGS.get(use, ""), at, "lifter")
    by_use: dict[str, list[sa.Row[tuple[object, ...]]]] = {}
    for row in _rows(connection, set_id, lifter_id):
        by_use.setdefault(str(row.use), []).append(row)
    for use, rows in by_use.items():
        last_no = max((r.revoked_at for r in rows if r.revoked_at is not None), default=None)
        good = [r for r in rows if r.revoked_at is None and (last_no is None or r.given_at >= last_no)]
        if good:
            last = max(good, key=lambda r: r.given_at)
            found[use] = Given(use, last.wording or "", last.given_at, last.given_by or "lifter")
        else:
            found.pop(use, None)
    return found


def refused(connection: Connection, set_id: str, lifter_id: str | None, use: str) -> bool:
    """Tell whether a use was given once and taken back since."""
    rows = [r for r in _rows(connection, set_id, lifter_id) if r.use == use]
    last_no = max((r.revoked_at for r in rows if r.revoked_at is not None), default=None)
    return last_no is not None and not any(r.revoked_at is None and r.given_at >= last_no for r in rows)


def _rows(connection: Connection, set_id: str, lifter_id: str | None) -> list[sa.Row[tuple[object, ...]]]:
    mine = consents.c.set_id == set_id
    if lifter_id:
        mine = sa.or_(mine, sa.and_(consents.c.set_id.is_(None), consents.c.lifter_id == lifter_id))
    return list(connection.execute(sa.select(consents).where(mine)).all())


def note(
    connection: Connection, set_id: str, use: str, *, wording: str = "", given_by: str = "coach_noted"
) -> None:
    """Write down that a use was allowed for a set.

    Raises
    ------
    ConsentError
        When there is no such use or no such set.
    """
    if use not in USES_STORED:
        raise ConsentError(f"There is no use {use!r}; take one of {', '.join(USES_STORED)}.")
    row = connection.execute(sa.select(sets.c.lifter_id).where(sets.c.id == set_id)).first()
    if row is None:
        raise ConsentError("There is no such set; go back to the inbox.")
    connection.execute(
        consents.insert().values(
            set_id=set_id, lifter_id=row.lifter_id, use=use, wording=wording or WORDINGS[use], given_by=given_by,
            given_at=now(),
        )
    )  # fmt: skip
    audit(connection, "consent_noted", "set", set_id, {"use": use, "by": given_by})


def take_back(connection: Connection, set_id: str, use: str) -> None:
    """Write down that a use was taken back, for this set and where it was given for all of the lifter's sets.

    Raises
    ------
    ConsentError
        As `note`.
    """
    if use not in USES_STORED:
        raise ConsentError(f"There is no use {use!r}; take one of {', '.join(USES_STORED)}.")
    row = connection.execute(sa.select(sets.c.lifter_id).where(sets.c.id == set_id)).first()
    if row is None:
        raise ConsentError("There is no such set; go back to the inbox.")
    at = now()
    ids = [r.id for r in _rows(connection, set_id, row.lifter_id) if r.use == use and r.revoked_at is None]
    if ids:
        connection.execute(consents.update().where(consents.c.id.in_(ids)).values(revoked_at=at))
    else:  # it stood only in what came with the set
        connection.execute(
            consents.insert().values(
                set_id=set_id, lifter_id=row.lifter_id, use=use, wording=WORDINGS[use], given_by="lifter",
                given_at=at, revoked_at=at,
            )
        )  # fmt: skip
    audit(connection, "consent_taken_back", "set", set_id, {"use": use})
