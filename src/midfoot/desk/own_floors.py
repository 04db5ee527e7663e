"""The coach's own thresholds: which count for a set, and one floor written into his file or taken back out of it.

A review that went out keeps the thresholds it was drafted with: a copy of the file of that day lies beside it.
"""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from midfoot.findings import Limits, ThresholdsError, defaults, read_thresholds
from midfoot.store import write_whole

if TYPE_CHECKING:
    from midfoot.store import Workspace

THRESHOLDS = "thresholds.toml"
"""In the coach's folder, and as a copy beside a review that went out."""


def limits_in_force(library: Path) -> tuple[Limits, tuple[str, ...]]:
    """Give the thresholds of drafts from now on; a file that breaks the form is said, and left out."""
    return _read(library / THRESHOLDS)


def limits_of(workspace: Workspace, set_id: str) -> tuple[Limits, tuple[str, ...]]:
    """Give the thresholds that a set's review is drafted with: once it went out, those of that day."""
    kept = workspace.review(set_id) / THRESHOLDS
    return _read(kept if kept.is_file() else workspace.library / THRESHOLDS)


def _read(file: Path) -> tuple[Limits, tuple[str, ...]]:
    if not file.is_file():
        return defaults(), ()
    try:
        return read_thresholds(file), ()
    except ThresholdsError as error:
        return defaults(), (f"Your own thresholds are left out: {error}",)


def keep_for(workspace: Workspace, set_id: str) -> None:
    """Lay a copy of the thresholds in force beside a review that goes out; the first one stays."""
    kept, own = workspace.review(set_id) / THRESHOLDS, workspace.library / THRESHOLDS
    if kept.is_file():
        return
    kept.parent.mkdir(parents=True, exist_ok=True)
    with write_whole(kept) as beside:
        if own.is_file():
            shutil.copyfile(own, beside)
        else:
            beside.write_text("# Every threshold was midfoot's own when this review went out.\n", "utf-8")


def own_floor(library: Path, threshold: str) -> float | None:
    """Give the floor that the coach's file sets, None where it sets none."""
    try:
        row = tomllib.loads(_text(library)).get(threshold, {})
    except tomllib.TOMLDecodeError:
        return None
    return float(row["floor"]) if isinstance(row, dict) and "floor" in row else None


def set_floor(library: Path, threshold: str, floor: float | None) -> None:
    """Write one floor into the coach's file, or with None take it out; every other line stays as it is.

    Raises
    ------
    ThresholdsError
        When the file, or the floor, would not hold: one sentence; the file stays as it was.
    """
    before = _text(library)
    try:
        wanted = tomllib.loads(before)
    except tomllib.TOMLDecodeError as error:
        raise ThresholdsError(f"{THRESHOLDS} is no TOML ({error}); correct it under Settings.") from None
    row = dict(wanted.get(threshold, {}))
    if floor is None:
        row.pop("floor", None)
    else:
        row["floor"] = floor
    wanted = {**wanted, threshold: row}
    if not row:
        del wanted[threshold]
    after = with_floor(before, threshold, floor)
    if _tables(after) != wanted:
        raise ThresholdsError(
            f"[{threshold}] stands in {THRESHOLDS} in an unusual form; change it under Settings."
        )
    file = library / THRESHOLDS
    if not after.strip():
        file.unlink(missing_ok=True)
        return
    library.mkdir(parents=True, exist_ok=True)
    with write_whole(file) as beside:
        beside.write_text(after, "utf-8")
        read_thresholds(beside)


def _tables(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _text(library: Path) -> str:
    file = library / THRESHOLDS
    return file.read_text("utf-8") if file.is_file() else ""


def with_floor(text: str, threshold: str, floor: float | None) -> str:
    """Give the text of a file of thresholds with one floor changed, added or (None) taken out."""
    head = re.search(rf"^[ \t]*\[{re.escape(threshold)}\][ \t]*(#.*)?$", text, re.M)
    line = "" if floor is None else f"floor = {floor:g}"
    if head is None:
        if floor is None:
            return text
        gap = "" if not text.strip() else "\n" if text.endswith("\n") else "\n\n"
        return f"{text}{gap}[{threshold}]\n{line}\n"
    following = re.search(r"^[ \t]*\[", text[head.end() :], re.M)
    end = head.end() + following.start() if following else len(text)
    body = text[head.end() : end]
    pattern = re.compile(r"^([ \t]*)floor[ \t]*=[^\n#]*", re.M)
    if floor is None:
        body = re.sub(r"^[ \t]*floor[ \t]*=[^\n]*\n?", "", body, count=1, flags=re.M)
        if not re.search(r"=", body):
            return _joined(text[: head.start()], body.strip(), text[end:])
        return text[: head.end()] + body + text[end:]
    if pattern.search(body):
        body = pattern.sub(lambda m: f"{m[1]}{line}{'  ' if body[m.end() :].startswith('#') else ''}", body, 1)
        return text[: head.end()] + body + text[end:]
    return f"{text[: head.end()]}\n{line}{body or chr(10)}{text[end:]}"


def _joined(before: str, left: str, after: str) -> str:
    """Close the gap where a table went; comments that stood in it stay."""
    pieces = [p for p in (before.rstrip("\n"), left, after.strip("\n")) if p]
    return "\n\n".join(pieces) + ("\n" if pieces else "")
