"""An edition as a folder: a video a segment with subtitles, transparent marks, chapters, script and show notes.

Only what may be public is in it. Bystanders are covered, and the lifter where his face was not allowed.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot import covered
from midfoot.desk import takes, takes_video
from midfoot.desk.edition import Edition, EditionError, Segment, edition_of
from midfoot.desk.filming import closed, film_of, heads_of
from midfoot.desk.publish_build import shown_in
from midfoot.desk.publish_gate import Case, case_of
from midfoot.desk.reviewing import reviewed
from midfoot.publish import captions, review_shots
from midfoot.publish.host import host_files
from midfoot.reviewing import Reviewed
from midfoot.store import output_folder, write_whole
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import editions, publications
from midfoot.units import load_words

if TYPE_CHECKING:
    from midfoot.store import Workspace

PLACE = "e"
TOKEN_BYTES = 24
ORDER, CHAPTERS, SCRIPT, NOTES = "order.json", "chapters.txt", "script.md", "show-notes.md"
KIND_WORDS = {"review": "Review", "recap": "Last edition's open set", "open": "Open set"}
CAUTION = (
    "A heavy bar can hurt: lift with safeties or spotters, stop on pain. The referee judges a lift, and a "
    "licensed clinician treats pain; nothing here does either."
)
Tell = Callable[[str, float], None]


def export(workspace: Workspace, edition_id: str, *, tell: Tell, stop: threading.Event | None = None) -> Path:
    """Write an edition's folder under `published/e/`, whole or not at all; gives it.

    Raises
    ------
    EditionError
        When something stands in the way: all of it is named.
    body.ModelsError, footage.FootageError, footage.Stopped, StoreError
        When faces cannot be looked for, a clip cannot be read, the work was stopped, or the disk is full.
    """
    edition = edition_of(workspace, edition_id)
    check(edition)
    with workspace.read() as connection:
        live = _live(connection, edition_id)
    token = live.token if live is not None else secrets.token_urlsafe(TOKEN_BYTES)
    parent = output_folder(workspace.published / PLACE)
    beside = output_folder(parent / f".{token}-{secrets.token_hex(4)}")
    target = parent / token
    try:
        rows = []
        for k, segment in enumerate(edition.segments):

            def part(words: str, share: float, k: int = k) -> None:
                tell(f"segment {k + 1}: {words}", (k + share) / len(edition.segments))

            rows.append(_segment(workspace, segment, k, beside, part, stop))
        _texts(edition, rows, beside)
        if target.exists():
            old = target.with_name(f".{token}-old")
            shutil.rmtree(old, ignore_errors=True)
            target.rename(old)
            beside.rename(target)
            shutil.rmtree(old, ignore_errors=True)
        else:
            beside.rename(target)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    with workspace.write() as connection:
        connection.execute(editions.update().where(editions.c.id == edition_id).values(state="exported"))
        folder = workspace.relative(target)
        audience = {"sets": [s.set_id for s in edition.segments]}
        if live is None:
            connection.execute(
                publications.insert().values(
                    kind="edition", edition_id=edition_id, token=token, folder=folder, audience=audience
                )
            )
        else:
            connection.execute(
                publications.update()
                .where(publications.c.id == live.id)
                .values(published_at=now(), audience=audience)
            )
        audit(connection, "edition_exported", "edition", edition_id)
    return target


def check(edition: Edition) -> None:
    """Refuse an edition in whose way something stands.

    Raises
    ------
    EditionError
        Then; every blocker stands in it with the name of its segment.
    """
    if not edition.segments:
        raise EditionError("The running order is empty; put a set in.")
    named = [f"{s.position + 1}. {s.private}: {b.words[0].lower()}{b.words[1:]}" for s, b in edition.blockers]
    if named:
        more = f"; and {len(named) - 8} more" if len(named) > 8 else ""
        raise EditionError(f"The edition cannot be exported. {'; '.join(named[:8])}{more}.")


def _segment(
    workspace: Workspace, segment: Segment, k: int, folder: Path, tell: Tell, stop: threading.Event | None
) -> dict[str, Any]:
    """Write one segment's files and give what the order says of it."""
    with workspace.read() as connection:
        case = case_of(connection, segment.set_id)
    assert case is not None  # check() has seen it
    done = reviewed(workspace, segment.set_id)
    stem = f"{k + 1:02d}-{segment.kind}-{_slug(case)}"
    film = film_of(workspace, done, case.sha256)
    heads = heads_of(workspace, segment.set_id, film, tell=tell, stop=stop)
    veil = covered.veil(done, heads, with_lifter=closed(case))
    video = folder / f"{stem}.mp4"
    spoken: list[tuple[float, float, str]] = [
        (line.from_s, line.from_s + line.length_s, line.words) for line in segment.lines
    ]
    shown = shown_in(done, "edition", case.uses)
    voice = segment.kind == "review" and takes.has_any(workspace, segment.set_id)
    if voice:
        spoken = takes_video.render(
            workspace, segment.set_id, shown, film, veil, {"wide": video}, tell=tell, stop=stop
        )
        length_s = takes.state(workspace, segment.set_id)["length_s"]
    elif segment.kind == "review":
        length_s = covered.write_video(shown, film, veil, video, tell=tell, stop=stop)
        spoken = captions.spoken_of(shown.script)
    else:
        length_s = covered.write_plain(film, veil, video, tell=tell, stop=stop)
    cues = captions.cues_over(spoken)
    for name, text in ((f"{stem}.vtt", captions.vtt(cues)), (f"{stem}.srt", captions.srt(cues))):
        with write_whole(folder / name) as beside:
            beside.write_text(text, "utf-8")
    marks = _marks(shown, folder / "overlays", stem) if segment.kind == "review" else []
    return {
        "kind": segment.kind, "title": segment.title, "video": video.name, "subtitles": f"{stem}.vtt",
        "overlays": marks, "length_s": round(length_s, 2), "voice": voice,
        "lines": [{"from_s": round(a, 2), "to_s": round(b, 2), "words": w} for a, b, w in spoken],
    }  # fmt: skip


def _marks(shown: Reviewed, folder: Path, stem: str) -> list[str]:
    parts = {p.id: p for p in shown.review.parts}
    names = []
    for shot in review_shots.shots_of(shown.review, shown.measurement):
        output_folder(folder)
        name = f"{stem}-{shot.file}.png"
        with write_whole(folder / name) as beside:
            overlay = review_shots.overlay(shown.measurement.data, parts[shot.part], shot)
            beside.write_bytes(review_shots.png(overlay))
        names.append(f"overlays/{name}")
    return names


def _slug(case: Case) -> str:
    said = case.context
    load = "-" + load_words(said.load_kg, said.load_unit or "kg").replace(".", "-") if said.load_kg else ""
    return re.sub(r"[^a-z0-9-]+", "", f"{said.lift or 'set'}{load}")


def clock(seconds: float) -> str:
    """Write a time code, minutes and seconds, with hours where there are any."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}" if whole >= 3600 else (
        f"{whole // 60}:{whole % 60:02d}"
    )  # fmt: skip


def _texts(edition: Edition, rows: list[dict[str, Any]], folder: Path) -> None:
    """Write order, chapters, script with time codes and cues, show notes, and the page for showing it."""
    begun, chapters = 0.0, []
    script = [f"# {edition.title}", ""]
    notes = [f"# {edition.title}", ""]
    for row, segment in zip(rows, edition.segments, strict=True):
        row["from_s"] = round(begun, 2)
        chapters.append(f"{clock(begun)} {KIND_WORDS[row['kind']]}: {row['title']}")
        script += [f"## {clock(begun)} {KIND_WORDS[row['kind']]}: {row['title']}", "",
                   f"aim {clock(segment.target_s)}, words take {clock(segment.length_s)}", ""]  # fmt: skip
        for line in segment.lines:
            cue = f" [{line.cue}]" if line.cue else ""
            script.append(f"- {clock(begun + line.from_s)}{cue} {line.words}")
        script.append("")
        notes += [f"- {clock(begun)} {KIND_WORDS[row['kind']]}: {row['title']}"]
        begun += row["length_s"]
    notes += ["", CAUTION, ""]
    plan = {"title": edition.title, "length_s": round(begun, 2), "segments": rows}
    for name, text in (
        (ORDER, json.dumps(plan, indent=1, ensure_ascii=False) + "\n"), (CHAPTERS, "\n".join(chapters) + "\n"),
        (SCRIPT, "\n".join(script)), (NOTES, "\n".join(notes)), *host_files(plan).items(),
    ):  # fmt: skip
        with write_whole(folder / name) as beside:
            beside.write_text(text, "utf-8")


def _live(connection: Connection, edition_id: str) -> Any:
    """Give the row of an edition that was exported and not taken back, None without one."""
    return connection.execute(
        sa.select(publications).where(
            publications.c.edition_id == edition_id, publications.c.kind == "edition",
            publications.c.revoked_at.is_(None),
        )
    ).first()  # fmt: skip


def folder_of(workspace: Workspace, edition_id: str) -> Path | None:
    """Give the folder of an edition that was exported and not taken back, None without one."""
    with workspace.read() as connection:
        row = _live(connection, edition_id)
    if row is None:
        return None
    folder: Path = workspace.path / row.folder
    return folder if (folder / ORDER).is_file() else None


def enforce(workspace: Workspace) -> int:
    """Take back every exported edition in whose way something stands by now; gives how many."""
    gone = 0
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(publications).where(publications.c.kind == "edition", publications.c.revoked_at.is_(None))
        ).all()
    for row in rows:
        try:
            edition = edition_of(workspace, row.edition_id)
            stands = not any(b.id in ("minor", "age_unknown", "no_edition", "no_open_set", "no_set")
                             for _, b in edition.blockers)  # fmt: skip
            same = set((row.audience or {}).get("sets", ())) <= {s.set_id for s in edition.segments}
        except EditionError:
            stands = same = False
        if stands and same:
            continue
        shutil.rmtree(workspace.path / row.folder, ignore_errors=True)
        with workspace.write() as connection:
            connection.execute(publications.update().where(publications.c.id == row.id).values(revoked_at=now()))
            connection.execute(editions.update().where(editions.c.id == row.edition_id).values(state="preparing"))
        gone += 1
    return gone
