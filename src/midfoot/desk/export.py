"""Everything of one lifter as one ZIP: rows as JSON, tables as CSV, clips as they came, what was measured.

Made piece by piece while it is sent. Every JSON in it is held against its schema first.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.desk import export_own
from midfoot.desk.export_own import Others
from midfoot.desk.packing import Entry, Export
from midfoot.store import Workspace, validate, write_whole
from midfoot.store import tables as t

EXPORT_ID = "midfoot/export/1"
MEASURES = ("set", "received_at", "lift", "load_kg", "rep", "outcome", "measure", "value", "unit", "sd",
            "sd_common", "status", "basis", "reason")  # fmt: skip
READ_ME = """\
Everything that is kept of {name}, made on {day}.

export.json      who, consents with their wording and time, sets with what was said, edits of the review, changes
                 and what became of them, pages that were published, answers of others to an open set
sets.csv         one line a set
measures.csv     one line a measure of each repetition: value, unit, its uncertainty (sd: differs between
                 repetitions; sd_common: the same for all of the clip), or why it was not seen
sets/            per set the clips as they were received, measurement.json and body.npz as measured, the review's
                 pages, pictures and words, and the sound of takes

What the coach notes for himself is not in it (notes on the card and on the review, reasons of decisions), nor what
others wrote to an open set and the coach did not approve, nor other lifters' names: a word stands in their place.

Times are UTC. Lengths, angles and velocities carry their unit in the name.
"""


class ExportError(ValueError):
    """There is nothing to export: the text says what is missing."""


def export(workspace: Workspace, lifter_id: str) -> Export:
    """Gather everything of a lifter.

    Raises
    ------
    ExportError
        When there is no such lifter.
    jsonschema.ValidationError
        When something in it breaks its schema: a fault of the program or a damaged workspace.
    """
    with workspace.read() as connection:
        document, files, missing = _gather(workspace, connection, lifter_id)
    validate_export(document)
    at = datetime.fromisoformat(document["made_at"])
    entries = [
        Entry("read me.txt", READ_ME.format(name=document["lifter"]["name"], day=at.date()).encode(), at),
        Entry("export.json", _json(document), at),
        Entry("sets.csv", _csv(SETS, (_row_of(s) for s in document["sets"])), at),
        Entry("measures.csv", _csv(MEASURES, _measures(document, files)), at),
        *files,
    ]
    return Export(f"midfoot export {at:%Y-%m-%d}.zip", tuple(entries), missing)


def export_to(workspace: Workspace, lifter_id: str, file: Path) -> Export:
    """Write a lifter's ZIP to a file, whole or not at all.

    Raises
    ------
    ExportError, StoreError
        When there is no such lifter, or the file cannot be written.
    """
    done = export(workspace, lifter_id)
    with write_whole(file) as beside, beside.open("wb") as out:
        for piece in done.pieces():
            out.write(piece)
    file.chmod(0o600)
    return done


@cache
def export_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of export.json."""
    return dict(json.loads(resources.files("midfoot.desk").joinpath("export.schema.json").read_text("utf-8")))


def validate_export(document: dict[str, Any]) -> None:
    """Check export.json against the schema; raises jsonschema's ValidationError."""
    import jsonschema

    jsonschema.Draft202012Validator(export_schema()).validate(document)


OF_SET = {"edits": t.review_edits, "cases": t.cases, "changes": t.changes, "publications": t.publications,
          "takes": t.takes, "open_sets": t.open_sets,
          "segments": t.edition_segments}  # fmt: skip
IN_ORDER = (
    "n",
    "position",
    "received_at",
    "opened_at",
    "given_at",
    "published_at",
    "created_at",
    "at",
    "due_on",
    "id",
)
SETS = ("id", "received_at", "lift", "variation", "load_kg", "state", "clips", "completed_reps", "folder")


def _gather(
    workspace: Workspace, connection: Connection, lifter_id: str
) -> tuple[dict[str, Any], list[Entry], tuple[str, ...]]:
    who = connection.execute(sa.select(t.lifters).where(t.lifters.c.id == lifter_id)).first()
    if who is None:
        raise ExportError("There is no such lifter any more.")
    others = export_own.others_of(connection, lifter_id)
    files: list[Entry] = []
    missing: list[str] = []
    sets = []
    for row in _rows(connection, t.sets, t.sets.c.lifter_id == lifter_id):
        sets.append(_set(workspace, connection, row, who.name, others, files, missing))
    ids = [s["id"] for s in sets]
    document = {
        "schema": EXPORT_ID,
        "made_at": datetime.now().astimezone().isoformat(timespec="seconds"),
        "lifter": {**_plain(who._mapping), "notes": ""},
        "consents": _rows(connection, t.consents, sa.or_(t.consents.c.lifter_id == lifter_id,
                                                         t.consents.c.set_id.in_(ids))),
        "sets": sets,
        "files": [e.name for e in files],
    }  # fmt: skip
    return others.out(export_own.plain_of(document)), files, tuple(missing)


def _set(
    workspace: Workspace,
    connection: Connection,
    row: dict[str, Any],
    name: str,
    others: Others,
    files: list[Entry],
    missing: list[str],
) -> dict[str, Any]:
    """Gather one set: its rows, and its files under `sets/<day> <lift> <id>/`."""
    own = row["id"]
    at = datetime.fromisoformat(row["received_at"])
    folder = f"sets/{at:%Y-%m-%d} {row['lift'] or 'set'} {own}"
    row["pasted_text"] = export_own.message_of(row["pasted_text"], name, at.date())
    row["clips"] = _rows(connection, t.clips, t.clips.c.set_id == own)
    for n, clip in enumerate(row["clips"], 1):
        name = f"{folder}/clips/{n} {_safe(clip['received_name'])}"
        source = workspace.blobs.path(clip["sha256"])
        if source.is_file():
            files.append(Entry(name, source, at))
            clip["file"] = name
        else:
            missing.append(f"the original {clip['received_name'] or clip['id']}")
            clip["file"] = None
        clip["measurements"] = _rows(connection, t.measurements, t.measurements.c.clip_id == clip["id"])
        clip["repairs"] = _rows(connection, t.repairs, t.repairs.c.clip_id == clip["id"])
        for measured in clip["measurements"]:
            inside = measured.pop("folder")
            if measured["is_current"]:
                place = f"{folder}/measured/{n}"
                measured["file"] = f"{place}/measurement.json"
                found = _folder(workspace.path / inside, place, at, others)
                if not any(e.name == measured["file"] for e in found):
                    measured["file"] = None
                    missing.append(f"the measurement of {clip['received_name'] or clip['id']}")
                files += found
    files += _folder(workspace.review(own), f"{folder}/review", at, others)
    for kind, table in OF_SET.items():
        row[kind] = _rows(connection, table, table.c.set_id == own)
    row["edits"] = export_own.edits_of(row["edits"])
    row["segments"] = others.out(row["segments"], short=True)
    for case in row["cases"]:
        case["reason"] = ""
    for page in row["publications"]:
        page.pop("folder")
        page["audience"] = {k: v for k, v in (page["audience"] or {}).items() if k != "from"}
    for take in row["takes"]:
        if take["audio_sha256"] and workspace.blobs.has(take["audio_sha256"]):
            take["file"] = f"{folder}/takes/{take['n']}.audio"
            files.append(Entry(take["file"], workspace.blobs.path(take["audio_sha256"]), at))
    for change in row["changes"]:
        change["follow_ups"] = _rows(connection, t.follow_ups, t.follow_ups.c.change_id == change["id"])
    for left_open in row["open_sets"]:
        answers = _rows(connection, t.answers, t.answers.c.open_set_id == left_open["id"])
        left_open["answers"], left_open["not_approved"] = export_own.answers_of(answers)
    row["folder"] = folder
    return row


def _folder(source: Path, name: str, at: datetime, others: Others) -> list[Entry]:
    """Give every file of a folder that is the lifter's; measurement.json is held against its schema."""
    out = []
    for path in sorted(source.rglob("*")) if source.is_dir() else ():
        inside = path.relative_to(source).as_posix()
        if inside in export_own.KEPT_BESIDE:
            continue
        if path.is_file() and not path.is_symlink() and not inside.startswith("."):
            if inside == "measurement.json":
                validate(json.loads(path.read_text("utf-8")))
            out.append(Entry(f"{name}/{inside}", export_own.file_of(path, others), at))
    return out


def _rows(connection: Connection, table: sa.Table, of: Any) -> list[dict[str, Any]]:
    """Give rows in the order in which they came about."""
    order = [table.c[name] for name in IN_ORDER if name in table.c]
    return [_plain(r._mapping) for r in connection.execute(sa.select(table).where(of).order_by(*order)).all()]


def _plain(row: Any) -> dict[str, Any]:
    return {k: v.isoformat() if isinstance(v, (date, datetime)) else v for k, v in row.items()}


def _measures(document: dict[str, Any], files: list[Entry]) -> Iterator[tuple[Any, ...]]:
    """Give a line for every measure of every repetition, from one measured folder after the other."""
    where = {e.name: e.source for e in files}
    for row in document["sets"]:
        for clip in row["clips"]:
            for measured in clip["measurements"]:
                source = where.get(measured.get("file") or "")
                if source is not None:
                    found = json.loads(source.read_text("utf-8") if isinstance(source, Path) else source)
                    for rep in found["reps"]:
                        for name, m in rep["measures"].items():
                            yield (row["id"], row["received_at"], row["lift"], row["load_kg"], rep["n"],
                                   rep["outcome"], name, m["value"], m["unit"], m["sd"], m["sd_common"],
                                   m["status"], m["basis"], m["reason"])  # fmt: skip


def _row_of(row: dict[str, Any]) -> tuple[Any, ...]:
    main = next((c for c in row["clips"] if c["id"] == row["main_clip_id"]), None)
    numbers = next((m["numbers"] for m in main["measurements"] if m["is_current"]), None) if main else None
    reps = (numbers or {}).get("reps")
    return (row["id"], row["received_at"], row["lift"], row["variation"], row["load_kg"], row["state"],
            len(row["clips"]), reps, row["folder"])  # fmt: skip


def _csv(head: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    for row in rows:
        # a spreadsheet runs a cell that begins like a formula
        writer.writerow([f"'{c}" if isinstance(c, str) and c[:1] in ("=", "+", "-", "@") else c for c in row])
    return ("\ufeff" + out.getvalue()).encode()


def _json(document: dict[str, Any]) -> bytes:
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _safe(name: str) -> str:
    """Give a received name that no file system and no ZIP reader stumbles over."""
    last = re.sub(r"[^\w. ()-]+", "_", name.replace("\\", "/").rsplit("/", 1)[-1]).strip(". ")
    return last[-80:] or "clip"
