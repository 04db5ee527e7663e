"""The voice-over of a set made a video: wide and upright, with words and sound; bystanders covered."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from midfoot import covered, footage
from midfoot.desk.filming import film_of, heads_of
from midfoot.desk.publish_gate import case_of
from midfoot.desk.reviewing import reviewed
from midfoot.mechanics_set import arms_of, work_out
from midfoot.publish import captions, look
from midfoot.publish.blur import Veil
from midfoot.publish.take_video import SHAPES, Telling, write_take_video
from midfoot.records.takes import Shown
from midfoot.review.takes import shown, whole
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError, output_folder, write_whole
from midfoot.store.tables import clips, measurements, sets, takes

if TYPE_CHECKING:
    from midfoot.store import Workspace

from midfoot.desk.takes import MADE, NAMES, SUBTITLES, TakesError, Tell, takes_of


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
