"""A set's page goes out, goes out again, is taken back: static files in the workspace, and the rows that say so.

Pages are built beside (`publish_build`) and take their place at once.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk import edition_export, open_page, policy
from midfoot.desk.consent import take_back
from midfoot.desk.publish_build import ADDRESS, PLACES, Building, PublishError, address_of, build, live_row, named
from midfoot.desk.publish_gate import KINDS, Case, case_of, of_consent
from midfoot.publish import site
from midfoot.store import StoreError, output_folder, write_whole
from midfoot.store.columns import now
from midfoot.store.rows import audit, edits_of
from midfoot.store.tables import publications, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

SHOWN_BY = {"lifter": {"pain", "injury", "body_mass", "age"}, "public": {"public_page", "name", "face"}}
"""Uses that show on a page: it is taken back with them."""
LIFT_WORDS = {"squat": "squat", "bench": "bench press", "deadlift": "deadlift"}


@frozen(kw_only=True)
class Page:
    """A page as its row says it: live, or taken back.

    `link` is where it opens: an address when one is set, else the path beneath `published`. `wide` and `doubts`
    tell how bystanders were covered, as `Building`.
    """

    id: str
    kind: str
    token: str
    link: str
    published_at: datetime
    revoked_at: datetime | None
    message: str
    made_from: str
    wide: bool = False
    doubts: str = ""

    @property
    def live(self) -> bool:
        """Whether it is out."""
        return self.revoked_at is None


def place(connection: Connection, workspace: Workspace, built: Building) -> str:
    """Put a built page out, in a unit of writing; gives the row's id.

    Raises
    ------
    PublishError
        When meanwhile the review was changed or a consent was taken back: nothing goes out.
    StoreError
        When the files cannot be put in place.
    """
    case = case_of(connection, built.set_id)
    against = of_consent(case, built.kind) if case is not None else ()
    if case is None or against:
        shutil.rmtree(built.folder, ignore_errors=True)
        raise PublishError(named(against) if against else "The set was erased meanwhile; nothing went out.")
    if len(edits_of(connection, built.set_id)) != built.edits:
        shutil.rmtree(built.folder, ignore_errors=True)
        raise PublishError("The review was changed while the page was made; publish again.")
    target = folder_of(workspace, built.kind, built.token)
    _doorsteps(workspace)
    _swap(built.folder, target)
    at = now()
    known = live_row(connection, built.set_id, built.kind)
    if known is not None:
        told = {**known.audience, "from": built.made_from, "uses": sorted(case.uses), **_covers(built)}
        connection.execute(
            publications.update().where(publications.c.id == known.id).values(published_at=at, audience=told)
        )
        row_id = str(known.id)
    else:
        made = connection.execute(
            publications.insert().values(
                set_id=built.set_id, kind=built.kind, token=built.token, folder=workspace.relative(target),
                audience={"from": built.made_from, "uses": sorted(case.uses), "message": "", **_covers(built)},
                published_at=at,
            )
        )  # fmt: skip
        row_id = str((made.inserted_primary_key or [""])[0])
    audit(connection, "published", "set", built.set_id, {"kind": built.kind})
    return row_id


def _covers(built: Building) -> dict[str, object]:
    return {"wide": built.wide, "doubts": built.doubts}


def _swap(built: Path, target: Path) -> None:
    """Let a folder take another's place: for a moment at most there is none."""
    aside = built.with_name(f"{built.name}-old")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists():
            target.rename(aside)
        built.rename(target)
    except OSError as error:
        raise StoreError(f"The page cannot be put in place ({(error.strerror or str(error)).lower()}).") from error
    shutil.rmtree(aside, ignore_errors=True)


def _doorsteps(workspace: Workspace) -> None:
    """Let no folder above the pages list them: a plain file server would."""
    for folder in (workspace.published, *(workspace.published / p for p in PLACES.values())):
        output_folder(folder)
        if not (folder / site.PAGE).is_file():
            with write_whole(folder / site.PAGE) as beside:
                beside.write_text(site.doorstep_html(), "utf-8")


def folder_of(workspace: Workspace, kind: str, token: str) -> Path:
    """Give the folder of a page."""
    return workspace.published / PLACES[kind] / token


def take_page_back(workspace: Workspace, set_id: str, kind: str) -> int:
    """Take a set's page back at once: its files go, a note stands there; gives how many pages it were.

    Copies that somebody has downloaded cannot be called back; whoever asks for this is told so.

    Raises
    ------
    StoreError
        When a file cannot be taken away: then the page is still out, and it is said which.
    """
    with workspace.write() as connection:
        rows = connection.execute(
            sa.select(publications).where(
                publications.c.set_id == set_id, publications.c.kind == kind, publications.c.revoked_at.is_(None)
            )
        ).all()
        for row in rows:
            _empty(workspace.path / row.folder)
            connection.execute(publications.update().where(publications.c.id == row.id).values(revoked_at=now()))
            audit(connection, "page_taken_back", "set", set_id, {"kind": kind})
    return len(rows)


def _empty(folder: Path) -> None:
    """Take everything out of a page's folder and leave a note."""
    if not folder.is_dir():
        return
    try:
        with write_whole(folder / site.PAGE) as beside:
            beside.write_text(site.taken_back_html(), "utf-8")
        for file in folder.iterdir():
            if file.name not in (site.PAGE, site.STYLE, site.ICON):
                shutil.rmtree(file) if file.is_dir() else file.unlink()
    except OSError as error:
        raise StoreError(
            f"A file of {folder} stays ({(error.strerror or str(error)).lower()}); take it away by hand."
        ) from error


def withdraw(workspace: Workspace, set_id: str, use: str) -> tuple[str, ...]:
    """Note that a consent was taken back and take back at once what rested on it; gives the kinds of pages.

    Raises
    ------
    ConsentError
        When there is no such use or set.
    StoreError
        As `take_page_back`.
    """
    with workspace.write() as connection:
        take_back(connection, set_id, use)
        lifter_id = connection.execute(sa.select(sets.c.lifter_id).where(sets.c.id == set_id)).scalar()
    return enforce(workspace, lifter_id=lifter_id or "", set_id=set_id)


def enforce(workspace: Workspace, *, lifter_id: str = "", set_id: str = "") -> tuple[str, ...]:
    """Take back every page of a lifter or a set that may no longer be out, and editions that hold one.

    Gives the kinds of pages.

    To be called whenever a consent or the age was changed. A page rests on the consent for its kind, and on every
    field and face that it was made with.
    """
    mine = sa.or_(sets.c.id == set_id, sa.and_(sets.c.lifter_id == lifter_id, sets.c.lifter_id != ""))
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(publications.c.set_id, publications.c.kind, publications.c.audience)
            .join(sets, sets.c.id == publications.c.set_id)
            .where(mine, publications.c.revoked_at.is_(None), publications.c.kind.in_(KINDS))
        ).all()
        gone = []
        for row in rows:
            case = case_of(connection, row.set_id)
            used = set((row.audience or {}).get("uses", ())) & SHOWN_BY[row.kind]
            if case is None or of_consent(case, row.kind) or not used <= case.uses:
                gone.append((row.set_id, row.kind))
    for of_set, kind in gone:
        take_page_back(workspace, of_set, kind)
    edition_export.enforce(workspace)
    open_page.enforce(workspace)
    return tuple(kind for _, kind in gone)


def forget(workspace: Workspace, set_ids: Iterable[str]) -> int:
    """Take away every page of sets that are erased, folder and all; gives how many it were."""
    ids = tuple(set_ids)
    with workspace.write() as connection:
        rows = connection.execute(sa.select(publications).where(publications.c.set_id.in_(ids))).all()
        for row in rows:
            shutil.rmtree(workspace.path / row.folder, ignore_errors=True)
        connection.execute(publications.delete().where(publications.c.set_id.in_(ids)))
    return len(rows)


def pages_of(connection: Connection, workspace: Workspace, set_id: str) -> dict[str, Page]:
    """Give the last page of each kind of a set."""
    rows = connection.execute(
        sa.select(publications)
        .where(publications.c.set_id == set_id, publications.c.kind.in_(KINDS))
        .order_by(publications.c.published_at)
    ).all()
    address = address_of(connection)
    found = {}
    for row in rows:
        told = row.audience or {}
        found[str(row.kind)] = Page(
            id=row.id, kind=row.kind, token=row.token, link=f"{address}{PLACES[row.kind]}/{row.token}/",
            published_at=row.published_at, revoked_at=row.revoked_at, message=told.get("message", ""),
            made_from=told.get("from", ""), wide=bool(told.get("wide")), doubts=str(told.get("doubts", "")),
        )  # fmt: skip
    return found


def message_of(case: Case, kind: str, link: str) -> str:
    """Write the message that goes with a link: short, kind, nothing private in it."""
    said = policy.said_in(case.context, "lifter_message", case.uses)
    hello = f"Hello {said.lifter}" if said.lifter else "Hello"
    lift = LIFT_WORDS.get(said.lift or "", "set")
    if kind == "public":
        return f"{hello}, the public page of your {lift} is up: {link} Tell me whenever it should come down again."
    return (
        f"{hello}, I have gone through your {lift}: what is good, what I would work on and why, with the moments "
        f"slowed down. It opens here, on a phone too: {link} Write to me when something is not clear."
    )


def keep_message(workspace: Workspace, set_id: str, kind: str, text: str) -> None:
    """Keep the coach's own words of the message that goes with a live page."""
    with workspace.write() as connection:
        row = live_row(connection, set_id, kind)
        if row is None:
            raise PublishError("That page is not out; publish it first.")
        told = {**(row.audience or {}), "message": text.strip()[:2000]}
        connection.execute(publications.update().where(publications.c.id == row.id).values(audience=told))


__all__ = [
    "ADDRESS", "Building", "Page", "PublishError", "build", "enforce", "forget", "keep_message", "message_of",
    "pages_of", "place", "take_page_back", "withdraw",
]  # fmt: skip
