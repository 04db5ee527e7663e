"""The page of an open set as static files: the covered clip with nothing drawn on it, and a form for answers."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from midfoot import covered
from midfoot.desk.answering import OpenSetError, choices
from midfoot.desk.edition import allowed, title_of
from midfoot.desk.filming import closed, film_of, heads_of
from midfoot.desk.instance import ask_soon
from midfoot.desk.open_set import may_be_open
from midfoot.desk.posting import PLACE, outside
from midfoot.desk.publish_gate import case_of
from midfoot.desk.reviewing import reviewed
from midfoot.publish import site
from midfoot.publish.page_template import page_template
from midfoot.store import output_folder, write_whole
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import open_sets, publications

if TYPE_CHECKING:
    from midfoot.store import Workspace

Tell = Callable[[str, float], None]


def build(workspace: Workspace, open_id: str, *, tell: Tell, stop: threading.Event | None = None) -> Path:
    """Write the page of an open set under `published/o/`, whole or not at all; gives its folder.

    Raises
    ------
    OpenSetError
        When there is no such open set, or age or consent keep it from being shown.
    body.ModelsError, footage.FootageError, footage.Stopped, StoreError
        When faces cannot be looked for, the clip cannot be read, the work was stopped, or the disk is full.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(open_sets).where(open_sets.c.id == open_id)).first()
        case = case_of(connection, row.set_id) if row is not None else None
        base = outside(connection)
    if row is None:
        raise OpenSetError("There is no such open set; go back to the list.")
    case = may_be_open(case)
    done = reviewed(workspace, row.set_id)
    film = film_of(workspace, done, case.sha256)
    heads = heads_of(workspace, row.set_id, film, tell=tell, stop=stop)
    veil = covered.veil(done, heads, with_lifter=closed(case))
    parent = output_folder(workspace.published / PLACE)
    beside, target = output_folder(parent / f".{row.token}"), parent / str(row.token)
    try:
        covered.write_plain(film, veil, beside / "clip.mp4", tell=tell, stop=stop)
        answers = f"{base}/open/{row.token}/answers" if base else ""
        connect = base or "'none'"
        page = page_template("open_set.html.j2").render(
            title=title_of(case), choices=choices(case.context.lift or "squat"), answers=answers, connect=connect
        )
        files = {
            "index.html": page, "answer.js": site.open_script(), "style.css": site.open_style(),
            "icon.svg": site.icon_svg(),
        }  # fmt: skip
        for name, text in files.items():
            with write_whole(beside / name) as file:
                file.write_text(text, "utf-8")
        shutil.rmtree(target, ignore_errors=True)
        beside.rename(target)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    with workspace.write() as connection:
        there = connection.execute(sa.select(publications.c.id).where(publications.c.token == row.token)).first()
        if there is None:
            connection.execute(
                publications.insert().values(
                    kind="open_set", set_id=row.set_id, token=row.token, folder=workspace.relative(target),
                    audience={},
                )
            )  # fmt: skip
    return target


def enforce(workspace: Workspace) -> int:
    """Take back every page of an open set that may no longer be shown; gives how many."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(open_sets).where(open_sets.c.state.in_(("preparing", "open", "closed", "recapped")))
        ).all()
        cases = {row.id: case_of(connection, row.set_id) for row in rows}
    gone = [row for row in rows if (case := cases[row.id]) is None or allowed(case, "open")]
    for row in gone:
        shutil.rmtree(workspace.published / PLACE / row.token, ignore_errors=True)
        with workspace.write() as connection:
            connection.execute(open_sets.update().where(open_sets.c.id == row.id).values(state="withdrawn"))
            connection.execute(
                publications.update()
                .where(publications.c.token == row.token, publications.c.revoked_at.is_(None))
                .values(revoked_at=now())
            )
            audit(connection, "open_set_withdrawn", "open_set", row.id)
            ask_soon(connection, f"{row.id} withdrawn")
    return len(gone)
