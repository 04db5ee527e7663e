"""What a small public instance holds of open sets: pages as the desk sent them, answers until the desk has them.

No set, no lifter and no review is known here: only a page's files, which lift its list is of, and what visitors
wrote. Everything of one open set lies in one folder and goes with it.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from attrs import frozen

from midfoot.desk.answering import MARK, OpenSetError, answer_of
from midfoot.store import output_folder, write_whole
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting

if TYPE_CHECKING:
    from midfoot.store import Workspace

PLACE = "open"
"""Folder in the instance's workspace, one folder a set, named by the token of its page."""
COMING = "open-coming"
"""Folder of files of pages on their way, in the instance's workspace."""
FILES = ("index.html", "answer.js", "style.css", "icon.svg", "clip.mp4")
"""What the page of an open set consists of, and nothing else is taken."""
TOKEN = re.compile(r"[0-9A-Za-z_-]{10,64}")
MOST_ANSWERS = 20_000
LARGEST_FILE = 400_000_000
KEPT_S = 90 * 86_400.0
"""An open set whose desk did not touch it for so long goes, with answers that nobody fetched."""
DUE = "open_due"
"""Setting: what the last daily look found due."""
NOTE, PAGE, ANSWERS = "open.json", "page", "answers"
OVER = OpenSetError("This set takes no answers any more; look at the next edition for what came of it.")


@frozen(kw_only=True)
class Posted:
    """A page that stands here.

    `contents` are the hashes of its files by name, `closes_at` when it takes answers no more, `over` whether the
    desk closed it: then only answers that the desk has not fetched are left.
    """

    token: str
    lift: str
    closes_at: datetime | None
    contents: Mapping[str, str]
    over: bool = False

    @property
    def takes(self) -> bool:
        """Whether it is shown and takes answers."""
        return not self.over and (self.closes_at is None or self.closes_at > now())


class PostError(ValueError):
    """What the desk sent cannot be kept: the text says why."""


def folder_of(workspace: Workspace, token: str) -> Path:
    """Where everything of one open set lies.

    Raises
    ------
    PostError
        When that is no token.
    """
    if not TOKEN.fullmatch(token):
        raise PostError("This is no token of an open set.")
    return workspace.path / PLACE / token


def posted(workspace: Workspace, token: str) -> Posted | None:
    """Give what stands here by that token, None when nothing does."""
    try:
        said = json.loads((folder_of(workspace, token) / NOTE).read_text("utf-8"))
        closes = said["closes_at"]
        return Posted(
            token=token, lift=str(said["lift"]), contents=dict(said["contents"]), over=bool(said["over"]),
            closes_at=datetime.fromisoformat(closes) if closes else None,
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError):
        return None


def everything(workspace: Workspace) -> list[Posted]:
    """Give everything that stands here."""
    parent = workspace.path / PLACE
    names = sorted(p.name for p in parent.iterdir() if TOKEN.fullmatch(p.name)) if parent.is_dir() else []
    return [one for name in names if (one := posted(workspace, name)) is not None]


def post(workspace: Workspace, one: Posted, files: Mapping[str, Path]) -> None:
    """Put up a page, whole or not at all; answers that came to an earlier one of the same token stay.

    Parameters
    ----------
    files : the page's files by name, as they were received; they are moved.

    Raises
    ------
    PostError
        When a file lacks, is not wanted, or is not what was said.
    """
    if sorted(files) != sorted(FILES) or sorted(one.contents) != sorted(FILES):
        raise PostError(f"The page of an open set consists of {', '.join(FILES)}.")
    for name, file in files.items():
        with file.open("rb") as stream:
            if hashlib.file_digest(stream, "sha256").hexdigest() != one.contents[name]:
                raise PostError(f"{name} arrived damaged; send the page again.")
    folder = output_folder(folder_of(workspace, one.token))
    output_folder(folder / ANSWERS)
    beside = Path(tempfile.mkdtemp(prefix=".page-", dir=folder))
    try:
        for name, file in files.items():
            shutil.move(file, beside / name)
        shutil.rmtree(folder / PAGE, ignore_errors=True)
        beside.rename(folder / PAGE)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    _note(folder, one)


def _note(folder: Path, one: Posted) -> None:
    said = {"lift": one.lift, "contents": dict(one.contents), "over": one.over,
            "closes_at": one.closes_at.isoformat() if one.closes_at else None}  # fmt: skip
    with write_whole(folder / NOTE) as beside:
        beside.write_text(json.dumps(said), "utf-8")


def file_of(workspace: Workspace, token: str, name: str) -> Path | None:
    """Give a file of a page that is shown, None when there is none or it is shown no more."""
    one = posted(workspace, token) if TOKEN.fullmatch(token) and name in FILES else None
    if one is None or not one.takes:
        return None
    path = folder_of(workspace, token) / PAGE / name
    return path if path.is_file() else None


def take_answer(workspace: Workspace, one: Posted, sent: Any) -> None:
    """Keep an answer until the desk has it. A second one by the same token changes nothing.

    Raises
    ------
    OpenSetError
        When the set takes none any more, or the answer cannot be held: the text says why.
    """
    if not one.takes:
        raise OVER
    mark, seen = answer_of(sent, one.lift)
    folder = folder_of(workspace, one.token) / ANSWERS
    if sum(1 for _ in os.scandir(folder)) >= MOST_ANSWERS:
        raise OpenSetError("This set has as many answers as it can take; thank you all the same.")
    said = {"at": now().isoformat(), "seen": [{"what": s.what, "words": s.words, "rep": s.rep, "at_s": s.at_s}
                                              for s in seen]}  # fmt: skip
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=folder, prefix=".", delete=False) as file:
        file.write(json.dumps(said))
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(file.name, folder / mark)  # fails where the name is taken: the first answer stands
    except FileExistsError:
        pass
    finally:
        Path(file.name).unlink(missing_ok=True)


def answers_of(workspace: Workspace, token: str) -> list[dict[str, Any]]:
    """Give the answers that the desk does not hold yet: mark, when, what was seen."""
    folder = folder_of(workspace, token) / ANSWERS
    found = []
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if MARK.fullmatch(path.name) and path.stat().st_size:
            found.append({"mark": path.name, **json.loads(path.read_text("utf-8"))})
    return found


def arrived(workspace: Workspace, token: str, marks: list[str]) -> int:
    """Delete answers that the desk holds now; gives how many.

    What stays is an empty file by the mark's name, so that one visitor still has one answer.
    """
    folder, count = folder_of(workspace, token) / ANSWERS, 0
    for mark in marks:
        path = folder / mark
        if MARK.fullmatch(mark) and path.is_file() and path.stat().st_size:
            with write_whole(path) as beside:
                beside.write_bytes(b"")
            count += 1
    return count


def close(workspace: Workspace, token: str) -> None:
    """Take the page down and no answers any more; those that the desk lacks stay until it has them."""
    one = posted(workspace, token)
    if one is None:
        return
    folder = folder_of(workspace, token)
    _note(folder, Posted(token=token, lift=one.lift, closes_at=one.closes_at, contents={}, over=True))
    shutil.rmtree(folder / PAGE, ignore_errors=True)


def expire(workspace: Workspace, at: datetime) -> int:
    """Take down what no desk touched for so long, at the second look that finds it so; gives how many.

    A clock that is wrong for a day takes nothing down.
    """
    parent, old = workspace.path / PLACE, []
    for folder in list(parent.iterdir()) if parent.is_dir() else ():
        touched = max((p.stat().st_mtime for p in (folder, folder / NOTE) if p.exists()), default=0.0)
        if TOKEN.fullmatch(folder.name) and at.timestamp() - touched > KEPT_S:
            old.append(folder.name)
    with workspace.write() as connection:
        before = setting(connection, DUE, []) or []
        set_setting(connection, DUE, old)
    gone = [token for token in old if token in before]
    for token in gone:
        take_down(workspace, token)
    return len(gone)


def take_down(workspace: Workspace, token: str) -> None:
    """Delete everything of an open set here, answers too, and what of its page is still on its way."""
    folder = folder_of(workspace, token)
    (folder / NOTE).unlink(missing_ok=True)  # from here on nothing is shown
    shutil.rmtree(folder, ignore_errors=True)
    shutil.rmtree(workspace.path / COMING / token, ignore_errors=True)
