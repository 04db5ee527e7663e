"""The voice-over of a set at the desk: takes kept, listed, taken again, deleted with their sound, made a video."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot import covered, footage
from midfoot.desk.filming import film_of, heads_of
from midfoot.desk.publish_gate import case_of
from midfoot.desk.reviewing import reviewed
from midfoot.mechanics_set import arms_of, work_out
from midfoot.publish import captions, look
from midfoot.publish.blur import Veil
from midfoot.publish.take_video import SHAPES, Telling, write_take_video
from midfoot.records.base import RecordError
from midfoot.records.takes import Shown, Take
from midfoot.review.takes import section, shown, whole
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError, output_folder, write_whole
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit, note_blob
from midfoot.store.tables import blobs, clips, measurements, sets, takes
from midfoot.store.takes_json import events_from_json, events_to_json

if TYPE_CHECKING:
    from midfoot.store import Workspace

NAMES = {"wide": "voice-over.mp4", "upright": "voice-over-upright.mp4"}
SUBTITLES = "voice-over.vtt"
MADE = "voice-over.json"
"""What the videos were made from; written last."""
MOST_TAKES = 200
Tell = Callable[[str, float], None]


class TakesError(ValueError):
    """A take that cannot be kept or made: the text says why and what would do."""


def add(
    workspace: Workspace, set_id: str, *, name: str, duration_s: float, events: list[Any],
    again: tuple[float, float] | None = None,
) -> str:  # fmt: skip
    """Keep what the player did during a take, before its sound is there; gives the take's id.

    Parameters
    ----------
    workspace, set_id : whose.
    name : the page's own name for it: sent twice it is kept once.
    duration_s : how long it is.
    events : in the form of `takes_json`.
    again : from when to when of the voice-over it replaces; None for a new one from the beginning.

    Raises
    ------
    TakesError
        When it breaks the form, the set is not there, or there is nothing to replace.
    """
    try:
        Take(id="new", n=1, duration_s=duration_s, events=events_from_json(events))
    except RecordError as error:
        raise TakesError(f"The recording's events cannot be read ({error}); record it again.") from None
    with workspace.write() as connection:
        if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
            raise TakesError("There is no such set; go back to the inbox.")
        take_id = hashlib.sha256(f"{set_id} {name}".encode()).hexdigest()[:16] if name else new_id()
        if connection.execute(sa.select(takes.c.id).where(takes.c.id == take_id)).first() is not None:
            return take_id
        there = takes_of(connection, set_id)
        where = section(there, *again) if again is not None else None
        if again is not None and where is None:
            raise TakesError("There is no voice-over yet of which a part could be taken again; record it whole.")
        last = connection.execute(sa.select(sa.func.max(takes.c.n)).where(takes.c.set_id == set_id)).scalar()
        n = int(last or 0) + 1
        if n > MOST_TAKES:
            raise TakesError(f"{MOST_TAKES} takes are as many as one set may have; delete some.")
        connection.execute(
            takes.insert().values(
                id=take_id, set_id=set_id, n=n, duration_s=duration_s, events=events,
                replaces=where[0] if where else None, covers_from_s=where[1] if where else None,
                covers_to_s=where[2] if where else None,
            )
        )  # fmt: skip
        audit(connection, "take_recorded", "set", set_id, {"take": take_id})
    return take_id


def keep_sound(workspace: Workspace, take_id: str, sha256: str, media_type: str) -> str:
    """Bind a recording that lies in the blobs to its take; gives the set's id.

    Raises
    ------
    TakesError
        When the take is not there any more, or the file holds no sound.
    """
    if not _has_sound(workspace.blobs.path(sha256)):
        raise TakesError("The recording holds no sound; check the microphone and record it again.")
    with workspace.write() as connection:
        row = connection.execute(
            sa.select(takes.c.set_id).where(takes.c.id == take_id, takes.c.deleted_at.is_(None))
        ).first()
        if row is None:
            raise TakesError("This take is not there any more; record it again.")
        note_blob(connection, sha256, workspace.blobs.size(sha256), media_type)
        connection.execute(takes.update().where(takes.c.id == take_id).values(audio_sha256=sha256))
    return str(row.set_id)


def _has_sound(path: Path) -> bool:
    import av

    try:
        with av.open(str(path)) as container:
            return bool(container.streams.audio) and next(container.decode(audio=0), None) is not None
    except (OSError, ValueError):  # FFmpeg's errors are one of both
        return False


def takes_of(connection: Connection, set_id: str) -> tuple[Take, ...]:
    """Give the takes of a set that have their sound and were not deleted."""
    rows = connection.execute(
        sa.select(takes)
        .where(takes.c.set_id == set_id, takes.c.deleted_at.is_(None), takes.c.audio_sha256.is_not(None))
        .order_by(takes.c.n)
    ).all()
    return tuple(
        Take(
            id=r.id, n=r.n, duration_s=r.duration_s, events=events_from_json(r.events or []),
            replaces=r.replaces or "", from_s=r.covers_from_s or 0.0, to_s=r.covers_to_s or 0.0,
        )
        for r in rows
    )  # fmt: skip


def delete(workspace: Workspace, take_id: str) -> str:
    """Delete a take: its sound goes from the disk, what it replaced stands again; gives the set's id.

    Takes of a section of it go with it. Videos that were made with it go too.

    Raises
    ------
    TakesError
        When there is no such take.
    """
    gone: list[str] = []
    with workspace.write() as connection:
        row = connection.execute(sa.select(takes.c.set_id).where(takes.c.id == take_id)).first()
        if row is None:
            raise TakesError("There is no such take.")
        wanted = [take_id]
        for one in wanted:
            wanted += connection.execute(sa.select(takes.c.id).where(takes.c.replaces == one)).scalars().all()
        heard = connection.execute(sa.select(takes.c.audio_sha256).where(takes.c.id.in_(wanted))).scalars().all()
        connection.execute(
            takes.update()
            .where(takes.c.id.in_(wanted), takes.c.deleted_at.is_(None))
            .values(deleted_at=now(), audio_sha256=None, events=[])
        )
        for sha256 in {h for h in heard if h}:
            still = connection.execute(sa.select(takes.c.id).where(takes.c.audio_sha256 == sha256)).first()
            if still is None:
                connection.execute(blobs.update().where(blobs.c.sha256 == sha256).values(gone_at=now()))
                gone.append(sha256)
        audit(connection, "take_deleted", "set", row.set_id, {"takes": wanted})
    for sha256 in gone:
        workspace.blobs.remove(sha256)
    folder = workspace.review(str(row.set_id))
    for name in (*NAMES.values(), SUBTITLES, MADE):
        (folder / name).unlink(missing_ok=True)
    return str(row.set_id)


def state(workspace: Workspace, set_id: str) -> dict[str, Any]:
    """Give what a page shows of a set's voice-over: takes, what the whole is made of, which files there are."""
    with workspace.read() as connection:
        there = takes_of(connection, set_id)
        silent = connection.execute(
            sa.select(takes.c.id, takes.c.n).where(
                takes.c.set_id == set_id, takes.c.deleted_at.is_(None), takes.c.audio_sha256.is_(None)
            )
        ).all()
        recorded = dict(
            connection.execute(sa.select(takes.c.id, takes.c.created_at).where(takes.c.set_id == set_id)).all()
        )
    stretches = whole(there)
    folder = workspace.review(set_id)
    used = {s.take.id for s in stretches}
    return {
        "takes": [
            {"id": t.id, "n": t.n, "duration_s": t.duration_s, "used": t.id in used, "replaces": t.replaces,
             "from_s": t.from_s, "to_s": t.to_s, "recorded_at": recorded[t.id].isoformat(),
             "events": events_to_json(t.events)}
            for t in there
        ],
        "without_sound": [{"id": r.id, "n": r.n} for r in silent],
        "whole": [{"take": s.take.id, "from_s": s.from_s, "to_s": s.to_s} for s in stretches],
        "length_s": sum(s.length_s for s in stretches),
        "files": [name for name in (*NAMES.values(), SUBTITLES) if (folder / name).is_file()],
    }  # fmt: skip


def make(workspace: Workspace, set_id: str, *, tell: Tell, stop: threading.Event | None = None) -> list[str]:
    """Make the videos and the subtitles of a set's voice-over in `reviews/<set id>/`; gives their names.

    Bystanders are covered: a video is made to be shown.

    Raises
    ------
    TakesError
        When there is no voice-over.
    body.ModelsError, footage.FootageError, footage.Stopped, StoreError
        When faces cannot be looked for, the clip cannot be read, the work was stopped, or the disk is full.
    """
    done = reviewed(workspace, set_id)
    with workspace.read() as connection:
        there = takes_of(connection, set_id)
        case = case_of(connection, set_id)
        clip = connection.execute(
            sa.select(clips.c.sha256, measurements.c.input_key)
            .join(sets, sets.c.main_clip_id == clips.c.id)
            .join(measurements, sa.and_(measurements.c.clip_id == clips.c.id, measurements.c.is_current.is_(True)))
            .where(sets.c.id == set_id)
        ).first()
    stretches = whole(there)
    if not stretches or clip is None:
        raise TakesError("There is no voice-over of this set yet; record one at the desk.")
    folder = output_folder(workspace.review(set_id))
    cover = case is not None and case.cover_lifter
    made_from = hashlib.sha256(
        json.dumps(
            [clip.input_key, [repr(s) for s in stretches], repr(done.script), cover, covered.VERSION]
        ).encode()
    ).hexdigest()
    files = [*NAMES.values(), SUBTITLES]
    if _made(folder) == made_from and all((folder / name).is_file() for name in files):
        return files
    (folder / MADE).unlink(missing_ok=True)
    film = film_of(workspace, done, clip.sha256)
    heads = heads_of(workspace, set_id, film, tell=tell, stop=stop)
    veil = covered.veil(done, heads, with_lifter=cover)
    spoken = render(
        workspace,
        set_id,
        done,
        film,
        veil,
        {shape: folder / NAMES[shape] for shape in SHAPES},
        tell=tell,
        stop=stop,
    )
    with write_whole(folder / SUBTITLES) as beside:
        beside.write_text(captions.vtt(captions.cues_over(spoken)), "utf-8")
    with write_whole(folder / MADE) as beside:
        beside.write_text(json.dumps({"from": made_from}), "utf-8")
    return files


def has_any(workspace: Workspace, set_id: str) -> bool:
    """Tell whether there is a voice-over of a set."""
    with workspace.read() as connection:
        return bool(whole(takes_of(connection, set_id)))


def render(
    workspace: Workspace,
    set_id: str,
    done: Reviewed,
    film: covered.Film,
    veil: Veil,
    paths: dict[str, Path],
    *,
    tell: Tell,
    stop: threading.Event | None = None,
) -> list[tuple[float, float, str]]:
    """Write a set's voice-over as videos of some shapes; gives from when to when which line is spoken.

    Parameters
    ----------
    done : what may be shown; its script's lines stand below the picture.
    film, veil : the clip, and who is covered in it.
    paths : where to, by shape.

    Raises
    ------
    footage.Stopped, StoreError
        When the work was stopped, or the disk is full.
    """
    with workspace.read() as connection:
        there = takes_of(connection, set_id)
        sounds = dict(
            connection.execute(sa.select(takes.c.id, takes.c.audio_sha256).where(takes.c.set_id == set_id)).all()
        )
    stretches = whole(there)
    rows = shown(stretches)
    telling = Telling(
        measurement=done.measurement, rows=rows, lines=tuple(line.words for line in done.script.lines),
        arms=_arms(done) if any("arms" in r.layers for r in rows) else (),
    )  # fmt: skip

    def between(from_s: float, to_s: float) -> Iterator[tuple[float, look.Picture]]:
        try:
            yield from covered.frames_between(film, veil, from_s, to_s, stop)
        except footage.FootageError:
            return  # the player stood at the clip's end: the last picture stays

    def at(t_s: float) -> look.Picture | None:
        half = 0.55 * film.info.frame_interval_median_s
        frame = next(iter(footage.frames_at(film.path, [max(0.0, t_s - half)], film.reading)), None)
        return None if frame is None else veil.over(frame.rgb(), frame.t_s)

    heard = {t.id: workspace.blobs.path(sounds[t.id]) for t in there if workspace.blobs.has(sounds[t.id])}
    for k, (shape, path) in enumerate(paths.items()):
        raw = path.with_name(f".{path.stem}-raw.mp4")
        try:
            write_take_video(
                telling, between, at, raw, shape=shape, stretches=stretches, sounds=heard,
                progress=_part(tell, k, len(paths)),
            )  # fmt: skip
            with write_whole(path) as beside:
                covered.strip(raw, beside, sound=True)
        except StoreError:
            raise
        except OSError as error:
            raise StoreError(f"The video cannot be written ({error.strerror or error}).") from error
        finally:
            raw.unlink(missing_ok=True)
    return _spoken(rows, telling.lines)


def _part(tell: Tell, number: int, of: int) -> Callable[[float], None]:
    """Tell of one of the videos as a share of them all."""

    def progress(share: float) -> None:
        tell("making the video", (number + share) / of)

    return progress


def _made(folder: Path) -> str:
    try:
        return str(json.loads((folder / MADE).read_text("utf-8"))["from"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _spoken(rows: tuple[Shown, ...], lines: tuple[str, ...]) -> list[tuple[float, float, str]]:
    """Give from when to when each line of the script is spoken; nothing where the coach spoke freely."""
    out: list[tuple[float, float, str]] = []
    for row in rows:
        if row.line is None or not 0 <= row.line < len(lines):
            continue
        end = row.from_s + row.length_s
        if out and out[-1][2] == lines[row.line] and abs(out[-1][1] - row.from_s) < 0.02:
            out[-1] = (out[-1][0], end, out[-1][2])
        else:
            out.append((row.from_s, end, lines[row.line]))
    return out


def _arms(done: Reviewed) -> tuple[Any, ...]:
    try:
        return arms_of(done.measurement, work_out(done.measurement).reps)
    except StoreError:
        return ()  # mechanics says by itself why there are none
