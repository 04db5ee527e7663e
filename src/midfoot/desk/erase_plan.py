"""Which rows go with a lifter or a set, by following every reference, and names taken out of what stays."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

import sqlalchemy as sa
from attrs import field, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.who import former_names
from midfoot.store.retention import pointed_at
from midfoot.store.tables import blobs, lifters, metadata

LOOSE = {("sets", "accepted_reference_set_id"), ("takes", "replaces")}
"""Columns that are emptied where what they point at goes; in all others the row goes with it."""
ERASED = "[erased]"
SHORTEST = 3
"""A name of fewer letters is not looked for in what others wrote: it stands in too many words."""


@frozen
class Plan:
    """What is to go: ids by table, contents, names that are taken out of what others wrote."""

    ids: dict[str, set[str]]
    contents: frozenset[str]
    names: tuple[str, ...]
    first_names: tuple[str, ...] = field(default=())

    @property
    def every(self) -> frozenset[str]:
        """Every id and hash."""
        return frozenset().union(*self.ids.values()) | self.contents


def plan_of(
    connection: Connection,
    start: dict[str, set[str]],
    *,
    names: tuple[tuple[str, ...], tuple[str, ...]] = ((), ()),
) -> Plan:
    """Follow every reference from the rows that go to the rows that go with them."""
    doomed = {name: set(ids) for name, ids in start.items()}
    for table in metadata.sorted_tables:
        for key in table.foreign_keys:
            target = key.column.table.name
            if (table.name, key.parent.name) in LOOSE or not doomed.get(target) or key.column.name != "id":
                continue
            found = connection.execute(sa.select(table.c.id).where(key.parent.in_(doomed[target]))).scalars()
            doomed.setdefault(table.name, set()).update(found)
    return Plan(doomed, frozenset(_contents(connection, doomed)), *names)


def _contents(connection: Connection, doomed: dict[str, set[str]]) -> set[str]:
    """Give what the rows that go point at."""
    out: set[str] = set()
    for table in metadata.sorted_tables:
        for key in table.foreign_keys:
            if key.column.table is blobs and doomed.get(table.name):
                found = sa.select(key.parent).where(table.c.id.in_(doomed[table.name]), key.parent.is_not(None))
                out.update(connection.execute(found).scalars())
    return out


def own_names(connection: Connection, row: Any) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the names by which others may speak of a lifter, but for those that another lifter has too."""
    rest = connection.execute(sa.select(lifters.c.name, lifters.c.shown_name).where(lifters.c.id != row.id)).all()
    others = {n.casefold() for pair in rest for n in pair}
    before = former_names(connection).get(row.id, ())
    whole = [n.strip() for n in (row.name, row.guardian, *before)]
    full = {n for n in whole if len(n) >= SHORTEST and " " in n}
    short = {row.shown_name.strip(), *(w for n in (row.name, *before) for w in (n.strip(), *n.split()))}
    return (
        tuple(sorted((n for n in full if n.casefold() not in others), key=len, reverse=True)),
        tuple(sorted((n for n in short if len(n) >= SHORTEST), key=len, reverse=True)),
    )


def delete_rows(connection: Connection, plan: Plan) -> int:
    """Delete every row of the plan, those that point at others first; gives how many."""
    count = 0
    for table in reversed(metadata.sorted_tables):
        for key in table.foreign_keys:
            if (table.name, key.parent.name) in LOOSE and plan.ids.get(key.column.table.name):
                connection.execute(
                    table.update()
                    .where(key.parent.in_(plan.ids[key.column.table.name]))
                    .values({key.parent: None})
                )
        if plan.ids.get(table.name):
            count += connection.execute(table.delete().where(table.c.id.in_(plan.ids[table.name]))).rowcount
    return count


def delete_unused(connection: Connection, contents: Iterable[str]) -> set[str]:
    """Delete the rows of contents that nobody else points at; gives which."""
    mine = list(contents)
    gone = set(
        connection.execute(
            sa.select(blobs.c.sha256).where(blobs.c.sha256.in_(mine), blobs.c.sha256.not_in(pointed_at()))
        ).scalars()
    )
    connection.execute(blobs.delete().where(blobs.c.sha256.in_(gone)))
    return gone


def take_names_out(connection: Connection, plan: Plan, withdrawn: set[str]) -> None:
    """Take the full name out of every row that stays, and every name out of the editions that are withdrawn."""
    _replace(connection, plan.names, lambda table, row: True)
    _replace(
        connection,
        plan.first_names,
        lambda table, row: (
            (table == "editions" and row.id in withdrawn)
            or (table == "edition_segments" and row.edition_id in withdrawn)
        ),
    )


def _replace(connection: Connection, names: tuple[str, ...], here: Callable[[str, Any], bool]) -> None:
    if not names:
        return
    pattern = re.compile("|".join(rf"(?<!\w){re.escape(n)}(?!\w)" for n in names), re.IGNORECASE)
    for table in metadata.sorted_tables:
        words = [c for c in table.c if isinstance(c.type, (sa.Text, sa.JSON)) or c.name == "part_id"]
        if not words:
            continue
        for row in connection.execute(sa.select(table).where(_may_hold(words, names))).all():
            new = {c.name: taken_out(row._mapping[c.name], pattern) for c in words}
            changed = {k: v for k, v in new.items() if v != row._mapping[k]}
            if changed and here(table.name, row):
                key = next(iter(table.primary_key.columns))
                connection.execute(table.update().where(key == row._mapping[key.name]).values(changed))


def _may_hold(columns: list[sa.Column[Any]], names: tuple[str, ...]) -> sa.ColumnElement[bool]:
    """Let the database pass over rows without the name, where it can: it knows the case of plain letters only, and
    JSON writes some signs otherwise."""
    if not all(name.isascii() and not {'"', "\\"} & set(name) for name in names):
        return sa.true()
    return sa.or_(
        *(sa.cast(column, sa.Text).icontains(name, autoescape=True) for column in columns for name in names)
    )


def taken_out(value: Any, pattern: re.Pattern[str], instead: str = ERASED) -> Any:
    """Put a word in place of a name in a text, or in all texts of a list or a dict."""
    if isinstance(value, str):
        return pattern.sub(instead, value)
    if isinstance(value, list):
        return [taken_out(v, pattern, instead) for v in value]
    if isinstance(value, dict):
        return {pattern.sub(instead, k): taken_out(v, pattern, instead) for k, v in value.items()}
    return value
