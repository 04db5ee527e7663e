"""Lifters by name: the very name, names like it, made when there is none."""

from __future__ import annotations

import difflib

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.store.columns import new_id
from midfoot.store.rows import set_setting, setting
from midfoot.store.tables import lifters, settings

ALIKE = 0.8
"""Share of letters that two names have in common from which on one may be meant by the other."""

NEARLY = 0.999
"""The most for a name that is not the whole one: there may be two of a first name."""


FORMER = "former_names:"
"""Setting that keeps under which names a lifter was known before, by id; it goes with the lifter."""


class WhoError(ValueError):
    """A name does not tell who is meant: one sentence with the remedy."""


def plain_name(name: str) -> str:
    """Give a name as names are compared: without what spaces and capitals differ in."""
    return " ".join(name.split()).casefold()


def known_as(connection: Connection, name: str) -> tuple[tuple[str, str, bool], ...]:
    """Give the lifters of a name and of names like it, the very name first; nobody for an empty one."""
    wanted = plain_name(name)
    if not wanted:
        return ()
    found = []
    for row in connection.execute(sa.select(lifters.c.id, lifters.c.name, lifters.c.shown_name)):
        near = max(_near(wanted, row.name), min(_near(wanted, row.shown_name), NEARLY))
        if near >= ALIKE:
            found.append((near > 1, near, row.id, row.name))
    return tuple((i, n, exact) for exact, _, i, n in sorted(found, key=lambda f: (not f[0], -f[1], f[3])))


def _near(wanted: str, other: str) -> float:
    """Give how near two names are: 2 for the same one, `ALIKE` and more for one that may be meant."""
    other = plain_name(other)
    if wanted == other:
        return 2.0
    longer = other.startswith(f"{wanted} ") or wanted.startswith(f"{other} ")
    return max(ALIKE if longer else 0.0, difflib.SequenceMatcher(None, wanted, other).ratio() * NEARLY)


def same_name(connection: Connection, name: str) -> str | None:
    """Give the one lifter of exactly that name; None when there is none, or more than one."""
    exact = [i for i, _, same in known_as(connection, name) if same]
    return exact[0] if len(exact) == 1 else None


def lifter_named(connection: Connection, name: str) -> str:
    """Give the lifter of that name, made when there is none; raises WhoError when there are two."""
    name = " ".join(name.split())
    exact = [i for i, _, same in known_as(connection, name) if same]
    if len(exact) > 1:
        raise WhoError(f"There are {len(exact)} lifters called {name}; choose one by opening the set.")
    if exact:
        return exact[0]
    made = new_id()
    connection.execute(lifters.insert().values(id=made, name=name, shown_name=name.split(" ")[0]))
    return made


def renamed(connection: Connection, lifter_id: str, was: str) -> None:
    """Keep a name that a lifter had till now: a public instance knows the lifter by it."""
    key = f"{FORMER}{lifter_id}"
    set_setting(connection, key, list(dict.fromkeys([*setting(connection, key, []), was])))


def former_names(connection: Connection) -> dict[str, tuple[str, ...]]:
    """Give under which other names lifters were known before, by id."""
    rows = connection.execute(sa.select(settings).where(settings.c.key.startswith(FORMER, autoescape=True)))
    return {row.key.removeprefix(FORMER): tuple(row.value) for row in rows}


def lifter_known_as(connection: Connection, name: str) -> str:
    """Give the lifter whom a public instance knows by a name: as `lifter_named`, or who alone had it before."""
    wanted = plain_name(name)
    if not any(same for _, _, same in known_as(connection, name)):
        before = former_names(connection).items()
        had = [own for own, names in before if wanted in map(plain_name, names)]
        if len(had) == 1:
            return had[0]
    return lifter_named(connection, name)
