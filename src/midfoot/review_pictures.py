"""What of a review needs pictures: stills with their marks, overlays, page, print, video. Footage meets publish.

Frames come from the clip alone, where it lies beside the folder or is named: the annotated video carries the
coach's figures, and what leaves the house carries rounded ones. Without the clip the words are written alone.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from attrs import frozen

from midfoot import footage, measures
from midfoot.drift_cost import MEASURES, drift_facts
from midfoot.load_words import load_facts
from midfoot.publish import (
    captions,
    coach_page,
    look,
    review_page,
    review_print,
    review_shots,
    review_video,
)
from midfoot.records.clip import Reading
from midfoot.records.measures import Curve, Measurement
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError, output_folder, write_whole

PAGE, COACH, PRINT, VIDEO = "review.html", "coach.html", "review.pdf", "review.mp4"
VTT, SRT = "review.vtt", "review.srt"
FOLDER = "review"
"""Of stills and overlays."""
SHORTEST_S = 0.05
"""A stretch shorter than a frame or two is not decoded."""
Tell = Callable[[str, float], None]


@frozen(kw_only=True)
class Source:
    """Where frames come from: the clip, and how it is read."""

    path: Path
    reading: Reading


def source_of(folder: Path, measurement: Measurement, clip: Path | None) -> Source | None:
    """Find the frames of a measured set.

    Raises
    ------
    StoreError
        When the named clip is not there, or is another one than the measured one.
    """
    found = clip_of(folder, measurement, clip)
    return None if found is None else Source(path=found, reading=reading_of(measurement))


def clip_of(folder: Path, measurement: Measurement, clip: Path | None) -> Path | None:
    """Give the clip that was measured: as given, or found by its name in or beside the folder; None without one.

    Raises
    ------
    StoreError
        When the named clip is not there, or is another one than the measured one.
    """
    info = measurement.data.clip
    if clip is not None:
        if not clip.is_file():
            raise StoreError(f"There is no clip {clip}; check --clip.")
        if _sha256(clip) != info.sha256:
            raise StoreError(f"{clip} is not the clip that was measured ({info.name}); give that one with --clip.")
        return clip
    places = (folder / info.name, folder.resolve().parent / info.name)
    return next((p for p in places if p.is_file() and _sha256(p) == info.sha256), None)


def reading_of(measurement: Measurement) -> Reading:
    """Give how the clip was read when it was measured."""
    told = next((s.parameters for s in measurement.steps if s.name == "footage"), {})

    def second(name: str) -> float | None:
        value = told.get(name)
        return float(value) if isinstance(value, (int, float)) else None

    return Reading(
        from_s=second("from_s"),
        to_s=second("to_s"),
        mirrored=bool(told.get("mirrored")),
        real_speed=second("real_speed") or 1.0,
    )


def write_pages(
    done: Reviewed,
    folder: Path,
    source: Source | None,
    *,
    moving: bool = True,
    tell: Tell,
    stop: threading.Event | None = None,
) -> list[str]:
    """Write subtitles, stills with overlays, page, print and video; gives the names of the files.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written to.
    footage.Stopped
        When `stop` was set; files already whole stay.
    """
    cues = captions.cues_of(done.script)
    subtitles = captions.vtt(cues)
    files = [_write(folder / VTT, subtitles), _write(folder / SRT, captions.srt(cues))]
    files.append(
        _write(
            folder / COACH,
            coach_page.coach_html(done.measurement, done.review, done.script, load_panel(done.measurement)),
        )
    )
    shots = _shots(done, folder, source, tell, stop) if source is not None else {}
    files += [f"{FOLDER}/"] if shots else []
    curves = curves_of(done.measurement)
    (folder / VIDEO).unlink(missing_ok=True)  # of an earlier review: it would speak of other things
    page = review_page.review_html(done.measurement, done.review, shots, curves=curves)
    files.append(_write(folder / PAGE, page))
    with write_whole(folder / PRINT) as beside:
        beside.write_bytes(review_print.review_pdf(done.measurement, done.review, shots, curves=curves))
    files.append(PRINT)
    if source is None or not moving:
        return files
    _video(done, folder, source, tell, stop)
    page = review_page.review_html(
        done.measurement, done.review, shots, curves=curves, video=VIDEO, subtitles=subtitles
    )
    _write(folder / PAGE, page)
    return [*files, VIDEO]


def load_panel(measurement: Measurement) -> list[tuple[str, str]]:
    """Give what mechanics and strength make of the load, for the coach; nothing with pain."""
    drifts = any(f.evidence and f.evidence[0].measure in MEASURES for f in measurement.found.findings)
    return [*(drift_facts(measurement) if drifts else []), *load_facts(measurement)]


def curves_of(measurement: Measurement) -> tuple[Curve, ...]:
    """Compute the velocity curves of a set that was read back, rep by rep where there is one."""
    if measurement.measured.curves:
        return measurement.measured.curves
    if measurement.data.path is None:
        return ()
    found = (measures.velocity_curve(measurement.data, k) for k in range(len(measurement.data.reps.reps)))
    return tuple(c for c in found if isinstance(c, Curve))


def _write(file: Path, text: str) -> str:
    with write_whole(file) as beside:
        beside.write_text(text, "utf-8")
    return file.name


def _shots(
    done: Reviewed, folder: Path, source: Source, tell: Tell, stop: threading.Event | None
) -> dict[str, list[tuple[review_shots.Shot, look.Picture]]]:
    """Draw and write the stills and their overlays."""
    wanted = sorted(review_shots.shots_of(done.review, done.measurement), key=lambda s: s.at_s)
    where = folder / FOLDER
    for old in where.glob("*-*.*") if where.is_dir() else ():
        old.unlink(missing_ok=True)
    if not wanted:
        return {}
    output_folder(where)
    parts = {p.id: p for p in done.review.parts}
    drawn: dict[review_shots.Shot, look.Picture] = {}
    times = [s.at_s for s in wanted]
    frames = footage.heeding(footage.frames_at(source.path, times, source.reading), stop)
    for shot, frame in zip(wanted, frames, strict=False):
        picture = review_shots.shot_picture(done.measurement, parts[shot.part], shot, frame.rgb(), clean=True)
        drawn[shot] = picture
        try:
            still = look.jpeg(picture, quality=90)
            marks = review_shots.png(review_shots.overlay(done.measurement.data, parts[shot.part], shot))
        except ValueError as error:
            raise StoreError(str(error)) from None
        for name, data in ((f"{shot.file}.jpg", still), (f"{shot.file}-overlay.png", marks)):
            with write_whole(where / name) as beside:
                beside.write_bytes(data)
        tell("drawing stills", len(drawn) / len(wanted))
    out: dict[str, list[tuple[review_shots.Shot, look.Picture]]] = {}
    for shot in review_shots.shots_of(done.review, done.measurement):
        if shot in drawn:
            out.setdefault(shot.part, []).append((shot, drawn[shot]))
    return out


def _video(done: Reviewed, folder: Path, source: Source, tell: Tell, stop: threading.Event | None) -> None:
    def between(from_s: float, to_s: float) -> Iterator[tuple[float, look.Picture]]:
        if to_s - from_s < SHORTEST_S:
            return
        span = Reading(
            max(0.0, from_s), to_s, source.reading.mirrored, source.reading.real_speed,
        )  # fmt: skip
        for frame in footage.heeding(footage.frames(source.path, span), stop):
            yield frame.t_s, frame.rgb()

    with write_whole(folder / VIDEO) as beside:
        review_video.write_review_video(
            done.measurement, done.review, done.script, between, beside, end_s=_end_s(done.measurement),
            clean=True, progress=lambda share: tell("encoding the video", share),
        )  # fmt: skip


def _end_s(measurement: Measurement) -> float:
    """Give the last moment that was looked at, on the clip's clock."""
    data = measurement.data
    known = [float(t[-1]) for t in (data.track.t_s, data.body.t_s) if len(t)]
    return max(known) if known else data.clip.duration_s


def _sha256(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
