"""What of a lifter's file is the lifter's: without the coach's private notes, other lifters' names, inner keys.

Notes, and reasons that the coach gives himself, are the coach's; what strangers wrote counts once the coach has
approved it. Hashes, keys of inputs and places in the workspace mean nothing outside it.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.erase_plan import SHORTEST, taken_out
from midfoot.desk.pasted import read
from midfoot.desk.who import plain_name
from midfoot.store.tables import lifters

INNER = ("sha256", "frame_sha256", "proxy_sha256", "times_sha256", "audio_sha256", "input_key", "token_hash")
"""Keys of the store that say nothing about a lifter."""
KEPT_BESIDE = ("heads.npz", "thresholds.toml")
"""Files beside a review that are not of it: where everybody's heads are, the coach's own floors."""
SOMEBODY = "[another lifter]"
NOT_HERS = "[a message about several people, in which no part names this lifter]"
WORDS = (".json", ".csv", ".txt", ".md", ".html", ".vtt", ".srt")
LARGEST = 16_000_000
"""Bytes of a file of words that is looked through."""


@frozen
class Others:
    """The names of everybody else: full ones, and short ones by which a coach may speak of them."""

    full: re.Pattern[str] | None
    short: re.Pattern[str] | None

    def out(self, value: Any, *, short: bool = False) -> Any:
        """Take the names out of a text, or out of all texts of a list or a dict."""
        for pattern in (self.full, self.short if short else None):
            value = taken_out(value, pattern, SOMEBODY) if pattern is not None else value
        return value


def others_of(connection: Connection, lifter_id: str) -> Others:
    """Give the names of all lifters but one; those that this one bears too are not among them."""
    rows = connection.execute(
        sa.select(lifters.c.id, lifters.c.name, lifters.c.shown_name, lifters.c.guardian)
    ).all()
    mine = {
        n.casefold()
        for r in rows
        if r.id == lifter_id
        for n in (r.name, r.shown_name, r.guardian, *r.name.split())
    }
    full, short = set(), set()
    for row in rows:
        if row.id != lifter_id:
            full |= {n.strip() for n in (row.name, row.guardian) if " " in n.strip()}
            short |= {row.shown_name.strip(), row.name.strip(), *row.name.split()}
    return Others(
        *(
            _pattern({n for n in names if len(n) >= SHORTEST and n.casefold() not in mine})
            for names in (full, short)
        )
    )


def _pattern(names: set[str]) -> re.Pattern[str] | None:
    longest_first = sorted(names, key=len, reverse=True)
    said = "|".join(rf"(?<!\w){re.escape(n)}(?!\w)" for n in longest_first)
    return re.compile(said, re.IGNORECASE) if said else None


def plain_of(value: Any) -> Any:
    """Give a row's JSON without the keys of the store."""
    if isinstance(value, dict):
        return {k: plain_of(v) for k, v in value.items() if k not in INNER}
    return [plain_of(v) for v in value] if isinstance(value, list) else value


def message_of(text: str, name: str, on: date) -> str:
    """Give of a pasted message what is of one lifter: all of it, unless it names others too."""
    parts = read(text, on)
    wanted = plain_name(name)
    named = {plain_name(p.name) for p in parts if p.name}
    if not named - {wanted}:
        return text
    return "\n\n".join(p.text for p in parts if plain_name(p.name) == wanted) or NOT_HERS


def edits_of(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the edits of a review without private notes, what undid them, and reasons."""
    notes = {r["edit"]["id"] for r in rows if r["edit"].get("kind") == "note"}
    return [
        {**r, "edit": _unreasoned(r["edit"])}
        for r in rows
        if r["edit"]["id"] not in notes and r["edit"].get("undoes") not in notes
    ]


def _unreasoned(one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "reason": ""} if one.get("reason") else one


def answers_of(rows: Sequence[dict[str, Any]]) -> tuple[list[dict[str, Any]], int]:
    """Give the approved answers to an open set, and how many more there are."""
    approved = [r for r in rows if r["state"] == "approved"]
    return approved, len(rows) - len(approved)


def file_of(path: Path, others: Others) -> bytes | Path:
    """Give what of a file goes out: its place where all of it does, else the bytes that do."""
    if path.suffix not in WORDS or path.stat().st_size > LARGEST:
        return path
    before = path.read_bytes()
    text = before.decode("utf-8", errors="surrogateescape")
    if path.name == "review.json":
        text = _review(text)
    elif path.name == "review.csv":
        text = _table(text)
    after = str(others.out(text)).encode("utf-8", errors="surrogateescape")
    return path if after == before else after


def _review(text: str) -> str:
    """Take notes, reasons and what was held back for the coach out of a review.json."""
    document = json.loads(text)
    gone = {e["id"] for e in document.get("edits", ()) if e.get("kind") == "note"}
    document["edits"] = [
        _unreasoned(e) for e in document.get("edits", ()) if e["id"] not in gone and e.get("undoes") not in gone
    ]
    document["notes"] = []
    for parts in (
        document.get("parts", ()),
        document.get("draft", {}).get("parts", ()),
        document.get("draft", {}).get("spare", ()),
    ):
        for part in parts:
            part["reason"] = ""
    if "held_back" in document.get("draft", {}):
        document["draft"]["held_back"] = []
    for key in ("also", "clip"):
        if document.get("provenance", {}).get(key):
            document["provenance"][key] = type(document["provenance"][key])()
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _table(text: str) -> str:
    """Take reasons out of a review.csv."""
    rows = list(csv.reader(io.StringIO(text)))
    if not rows or "reason" not in rows[0]:
        return text
    at = rows[0].index("reason")
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([*row[:at], *row[at + 1 :]] for row in rows)
    return out.getvalue()
