"""What a small public instance erases when its desk asks: a lifter with links, sets and clips, open sets' pages.

A lifter is found by a salted mark of the name, or by a link that the desk had made. Where the desk sent no name
(another lifter bears it too) only the links and sets that it named go.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk import posted
from midfoot.desk.erase import EraseError, erase_all, erase_lifter
from midfoot.desk.erase_there import COUNTED, name_mark
from midfoot.store import StoreError
from midfoot.store.tables import clips, lifters, links, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace


@frozen(kw_only=True)
class Asked:
    """What a desk wants erased: marks of names with their salt, ids of links and sets, tokens of open sets."""

    salt: str = ""
    names: Sequence[str] = ()
    links: Sequence[str] = ()
    sets: Sequence[str] = ()
    open: Sequence[str] = ()


def erase_asked(workspace: Workspace, asked: Asked) -> tuple[dict[str, int], str]:
    """Erase it; gives how many of `COUNTED` went, and what could not be taken away ("" where all went)."""
    gone, stuck = dict.fromkeys(COUNTED, 0), []
    for token in asked.open:  # what strangers see goes first
        gone["pages"] += int(posted.posted(workspace, token) is not None)
        gone["answers"] += len(posted.answers_of(workspace, token))
        posted.take_down(workspace, token)
    with workspace.read() as connection:
        whole, whose = _lifters(connection, asked), _whose(connection, asked)
        link_ids, set_ids = _rows(connection, asked, whole)
        gone["lifters"], gone["links"], gone["sets"] = len(whole), len(link_ids), len(set_ids)
        held = sa.select(sa.func.count()).select_from(clips).where(clips.c.set_id.in_(set_ids))
        gone["clips"] = connection.execute(held).scalar_one()
    for lifter_id in whole:
        try:
            erase_lifter(workspace, lifter_id, who="desk")
        except StoreError as error:
            stuck.append(str(error))
        except EraseError:
            continue  # somebody else asked for the same
    rest = {"links": {*asked.links}, "sets": {*asked.sets, *set_ids}}
    if any(rest.values()):
        try:
            erase_all(workspace, rest, who="desk")
        except StoreError as error:
            stuck.append(str(error))
    with workspace.write() as connection:
        connection.execute(lifters.delete().where(lifters.c.id.in_(whose), _nobody_has(sets), _nobody_has(links)))
    return gone, " ".join(stuck)


def _lifters(connection: Connection, asked: Asked) -> list[str]:
    """Give the lifters that go as a whole."""
    if not asked.names:
        return []
    known = connection.execute(sa.select(lifters.c.id, lifters.c.name)).all()
    by_name = {own for own, name in known if name_mark(asked.salt, name) in asked.names}
    return sorted(by_name | _whose(connection, asked))


def _whose(connection: Connection, asked: Asked) -> set[str]:
    """Give whose the links are."""
    found = sa.select(links.c.lifter_id).where(links.c.id.in_(asked.links), links.c.lifter_id.is_not(None))
    return set(connection.execute(found).scalars())


def _nobody_has(table: sa.Table) -> sa.ColumnElement[bool]:
    """Hold for lifters that no row of a table is of."""
    return lifters.c.id.not_in(sa.select(table.c.lifter_id).where(table.c.lifter_id.is_not(None)))


def _rows(connection: Connection, asked: Asked, whole: Sequence[str]) -> tuple[set[str], set[str]]:
    """Give the links and the sets that are here and go."""
    of = sa.or_(links.c.id.in_(asked.links), links.c.lifter_id.in_(whole))
    rows: list[Any] = list(connection.execute(sa.select(links.c.id, links.c.limits).where(of)).all())
    came = {str(s) for row in rows for s in (row.limits or {}).get("sets", ())}
    mine = sa.or_(sets.c.id.in_({*asked.sets, *came}), sets.c.lifter_id.in_(whole))
    return {row.id for row in rows}, set(connection.execute(sa.select(sets.c.id).where(mine)).scalars())
