"""Open sets and the small public instance kept in step: pages go up there, answers come here and go there.

Every call compares what stands there with what the desk wants to stand and does what lacks, so a call that breaks
off is simply made again. Answers are deleted there only after they are held here. A set that the desk closed,
took back or erased is taken down there.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.answering import MARK, OpenSetError, seen_of
from midfoot.desk.instance import FROM, HandingError, Tell, ask, base_of, send_file
from midfoot.desk.open_set import hold
from midfoot.desk.posted import FILES
from midfoot.store.rows import setting
from midfoot.store.tables import answers, open_sets, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

PLACE = "o"
"""Folder of the pages of open sets beneath the published ones."""
ADDRESS = "intake_address"
"""Setting: where strangers reach the instance, or this desk where there is none."""
MOST_AT_ONCE = 2000
"""Marks in one word of arrival."""


@frozen(kw_only=True)
class InStep:
    """What was done: answers that came, pages that went up, pages that were taken down."""

    answers: int = 0
    up: int = 0
    down: int = 0


def outside(connection: Connection) -> str:
    """Give where strangers reach this desk or its instance, without a slash at the end; "" when nobody said."""
    told = str(setting(connection, ADDRESS, "") or "").rstrip("/")
    fetching = str(setting(connection, FROM, "") or "")
    if told or not fetching:
        return told
    parts = urlsplit(fetching)
    return f"{parts.scheme}://{parts.netloc}" if parts.netloc else ""


def keep_in_step(workspace: Workspace, *, tell: Tell, address: str = "") -> InStep:
    """Bring desk and instance into step.

    Raises
    ------
    HandingError
        When no instance is set, it does not answer, or it gives no usable answer.
    """
    base = base_of(workspace, address)
    there = {str(row["token"]): row for row in _list(ask(f"{base}/open"), "open")}
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(open_sets, sets.c.lift).join(sets, sets.c.id == open_sets.c.set_id)
        ).all()
    mine = {row.token: row for row in rows}
    came = up = down = 0
    for token in there:
        row = mine.get(token)
        if row is None or row.state == "withdrawn":
            ask(f"{base}/open/{token}", method="DELETE")
            down += 1
            continue
        tell("fetching answers", 0.5)
        over = row.state != "open"
        if over:
            ask(f"{base}/open/{token}/close", {})
        came += _fetch(workspace, base, row)
        if over:
            ask(f"{base}/open/{token}", method="DELETE")
            down += 1
    for token, row in mine.items():
        folder = workspace.published / PLACE / token
        if row.state == "open" and folder.is_dir() and _post(base, folder, row, there.get(token), tell):
            up += 1
    return InStep(answers=came, up=up, down=down)


def _list(said: dict[str, Any], name: str) -> list[dict[str, Any]]:
    found = said.get(name)
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise HandingError("The intake instance gave no usable answer; is it the same version as this desk?")
    return found


def _fetch(workspace: Workspace, base: str, row: Any) -> int:
    """Take the answers to one open set in, then say that they are here; gives how many were new."""
    rows = _list(ask(f"{base}/open/{row.token}/answers"), "answers")
    count = 0
    for first in range(0, len(rows), MOST_AT_ONCE):
        some = rows[first : first + MOST_AT_ONCE]
        with workspace.write() as connection:
            known = set(
                connection.execute(
                    sa.select(answers.c.token_hash).where(answers.c.open_set_id == row.id)
                ).scalars()
            )
            for one in some:
                mark, at, seen = _checked(one, str(row.lift))
                if mark in known or not seen or (row.closes_at is not None and at > row.closes_at):
                    continue
                hold(connection, row.id, mark, seen, at=at)
                count += 1
        ask(f"{base}/open/{row.token}/arrived", {"marks": [str(one.get("mark", "")) for one in some]})
    return count


def _checked(one: dict[str, Any], lift: str) -> tuple[str, datetime, list[Any]]:
    """Read an answer as the instance has it; what is seen is empty where it is none."""
    mark = str(one.get("mark", ""))
    try:
        at = datetime.fromisoformat(str(one.get("at", "")))
        if not MARK.fullmatch(mark) or at.tzinfo is None or not isinstance(one.get("seen"), list):
            raise ValueError(mark)
        return mark, at, seen_of(one["seen"], lift)
    except OpenSetError:
        return mark, at, []
    except ValueError:
        raise HandingError(
            "The intake instance gave an answer that cannot be read; nothing was deleted."
        ) from None


def _post(base: str, folder: Path, row: Any, there: dict[str, Any] | None, tell: Tell) -> bool:
    """Put a page up where it lacks or is another one; true when it was sent."""
    contents = {name: _hash(folder / name) for name in FILES}
    closes = row.closes_at.isoformat() if row.closes_at is not None else None
    if there is not None and there.get("contents") == contents and there.get("closes_at") == closes:
        return False
    for k, name in enumerate(FILES):
        tell("putting up the page of the open set", k / len(FILES))
        send_file(f"{base}/open/{row.token}/files/{name}", folder / name)
    ask(f"{base}/open/{row.token}", {"lift": str(row.lift), "closes_at": closes, "contents": contents})
    return True


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
