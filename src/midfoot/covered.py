"""Pictures that may leave: covered frames of a clip, stills and video drawn from them, files without traces.

Heads are looked for once a clip and kept as numbers; stills and video are then drawn from covered frames only.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import frozen

from midfoot import body, footage
from midfoot.body.heads import HeadScout
from midfoot.publish import look, review_shots, review_video
from midfoot.publish.blur import Veil, veil_of
from midfoot.publish.encode import Encoder
from midfoot.records.base import FloatArray
from midfoot.records.clip import ClipInfo, Reading
from midfoot.records.heads import Heads, HeadTrack
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError, write_whole

VERSION = "5"
"""Goes up when the same clip would give other heads."""
SHORTEST_S = 0.05
Tell = Callable[[str, float], None]
Shots = dict[str, list[tuple[review_shots.Shot, look.Picture]]]


@frozen(kw_only=True)
class Film:
    """The clip that leaves: its file, how it is read, what is known of it."""

    path: Path
    reading: Reading
    info: ClipInfo


def heads_of(film: Film, kept: Path, *, tell: Tell, stop: threading.Event | None = None) -> Heads:
    """Find every head of a clip, or read what was found before from the file `kept`.

    Raises
    ------
    body.ModelsError
        When the networks are not at hand: nothing may leave without them.
    footage.FootageError, StoreError
        When the clip cannot be read, or the disk is full.
    """
    key = hashlib.sha256(f"{VERSION} {film.info.sha256} {film.reading}".encode()).hexdigest()
    found = _read(kept, key)
    if found is not None:
        return found
    files = body.ensure_models(faces=True, say=lambda words: tell(words, 0.0))
    scout = HeadScout(files, film.info)
    start = film.reading.from_s or 0.0

    def progress(t_s: float) -> None:
        tell("looking for faces", min(1.0, (t_s - start) / max(film.info.duration_s, 0.1)))

    frames = footage.heeding(footage.frames(film.path, film.reading), stop)
    for frame in frames:
        scout.see(frame)
        progress(frame.t_s)
    found = scout.result()
    arrays: dict[str, Any] = {
        "key": np.array(key),
        "span": np.array([found.from_s, found.to_s, found.width_px, found.height_px]),
    }
    for k, track in enumerate(found.tracks):
        columns = [track.t_s, track.xy_px, track.radius_px]
        name = f"{track.by}{k:04d}"
        arrays[name] = np.column_stack([*columns, *([track.hips_px] if len(track.hips_px) else [])])
        arrays[f"{name}-seen"] = np.array([track.score, *track.seen_s])
    with write_whole(kept) as beside, beside.open("wb") as file:
        np.savez_compressed(file, **arrays)
    return found


def _read(kept: Path, key: str) -> Heads | None:
    try:
        with np.load(kept, allow_pickle=False) as file:
            if str(file["key"]) != key:
                return None
            names = [n for n in file.files if n not in ("key", "span") and not n.endswith("-seen")]
            tracks = tuple(_track(name[:-4], file[name], file[f"{name}-seen"]) for name in names)
            span = file["span"]
    except (OSError, ValueError, KeyError):
        return None
    return Heads(float(span[0]), float(span[1]), tracks, int(span[2]), int(span[3]))


def _track(by: str, rows: FloatArray, seen: FloatArray) -> HeadTrack:
    hips = rows[:, 4:6] if rows.shape[1] > 4 else np.zeros((0, 2))
    return HeadTrack(by, rows[:, 0], rows[:, 1:3], rows[:, 3], hips, float(seen[0]), seen[1:])


def shots_of(done: Reviewed, film: Film, veil: Veil, *, tell: Tell, stop: threading.Event | None = None) -> Shots:
    """Draw the stills of a review from covered frames, by part.

    Raises
    ------
    footage.Stopped
        When `stop` was set.
    """
    wanted = sorted(review_shots.shots_of(done.review, done.measurement), key=lambda s: s.at_s)
    parts = {p.id: p for p in done.review.parts}
    drawn: dict[review_shots.Shot, look.Picture] = {}
    frames = footage.heeding(footage.frames_at(film.path, [s.at_s for s in wanted], film.reading), stop)
    for shot, frame in zip(wanted, frames, strict=False):
        rgb = veil.over(frame.rgb(), frame.t_s)
        drawn[shot] = review_shots.shot_picture(done.measurement, parts[shot.part], shot, rgb, clean=True)
        tell("drawing stills", len(drawn) / len(wanted))
    out: Shots = {}
    for shot in review_shots.shots_of(done.review, done.measurement):
        if shot in drawn:
            out.setdefault(shot.part, []).append((shot, drawn[shot]))
    return out


def preview_of(done: Reviewed, film: Film, veil: Veil) -> look.Picture | None:
    """Give the covered frame that stands for the set: the low, touch or lockout of its best or first rep."""
    reps = {r.n: r for r in done.measurement.data.reps.reps}
    rep = reps.get(done.review.draft.best_rep or 0) or next(iter(reps.values()), None)
    moment = None if rep is None else (rep.low_end or rep.top_start or rep.start or rep.end)
    at_s = moment.t_s if moment is not None else (film.reading.from_s or 0.0)
    frame = next(iter(footage.frames_at(film.path, [at_s], film.reading)), None)
    return None if frame is None else veil.over(frame.rgb(), frame.t_s)


def frames_between(
    film: Film, veil: Veil, from_s: float, to_s: float, stop: threading.Event | None = None
) -> Iterator[tuple[float, look.Picture]]:
    """Give the covered frames from one second of the clip to another, with their timestamps."""
    span = Reading(from_s, to_s, film.reading.mirrored, film.reading.real_speed)
    for frame in footage.heeding(footage.frames(film.path, span), stop):
        yield frame.t_s, veil.over(frame.rgb(), frame.t_s)


def write_video(
    done: Reviewed, film: Film, veil: Veil, path: Path, *, tell: Tell, stop: threading.Event | None = None
) -> float:
    """Write the video of a review from covered frames, without sound and without traces; gives its length, s.

    Raises
    ------
    StoreError
        When the disk is full.
    footage.Stopped
        When `stop` was set.
    """
    start = film.reading.from_s or 0.0

    def between(from_s: float, to_s: float) -> Iterator[tuple[float, look.Picture]]:
        if to_s - from_s >= SHORTEST_S:
            yield from frames_between(film, veil, from_s, to_s, stop)

    whole = path.with_name(f".{path.stem}-whole.mp4")
    try:
        length_s = review_video.write_review_video(
            done.measurement, done.review, done.script, between, whole, end_s=start + film.info.duration_s,
            clean=True, progress=lambda share: tell("encoding the video", share),
        )  # fmt: skip
        strip(whole, path)
    except OSError as error:
        raise StoreError(f"The video cannot be written ({(error.strerror or str(error)).lower()}).") from error
    finally:
        whole.unlink(missing_ok=True)
    return length_s


def write_plain(film: Film, veil: Veil, path: Path, *, tell: Tell, stop: threading.Event | None = None) -> float:
    """Write the covered frames of a clip as they are, nothing drawn on them, no sound; gives its length, s.

    Raises
    ------
    StoreError
        When the disk is full.
    footage.Stopped
        When `stop` was set.
    """
    import av

    whole = path.with_name(f".{path.stem}-whole.mp4")
    last_s = start = film.reading.from_s or 0.0
    try:
        with av.open(str(whole), "w", format="mp4") as container:
            encoder: Encoder | None = None
            for frame in footage.heeding(footage.frames(film.path, film.reading), stop):
                rgb = plain_size(veil.over(frame.rgb(), frame.t_s))
                encoder = encoder or Encoder(container, (rgb.shape[1], rgb.shape[0]))
                encoder.put(rgb, frame.t_s - start)
                last_s = frame.t_s
                tell("covering faces", min(1.0, (last_s - start) / max(film.info.duration_s, 0.1)))
            if encoder is not None:
                encoder.end()
        strip(whole, path)
    except OSError as error:
        raise StoreError(f"The video cannot be written ({(error.strerror or str(error)).lower()}).") from error
    finally:
        whole.unlink(missing_ok=True)
    return last_s - start + film.info.frame_interval_median_s


def plain_size(rgb: look.Picture) -> look.Picture:
    """Give a frame at most as large as the videos are, both sides even."""
    zoom = min(1.0, review_video.LONG_SIDE_PX / max(rgb.shape[:2]))
    size = tuple(int(side * zoom / 2) * 2 for side in (rgb.shape[1], rgb.shape[0]))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)


def strip(source: Path, target: Path, *, sound: bool = False) -> None:
    """Copy an mp4 without names, dates and what the encoder wrote of itself; its sound only when asked for."""
    import av
    from av.bitstream import BitStreamFilterContext

    options = {"movflags": "+faststart", "fflags": "+bitexact"}
    with av.open(str(source)) as read, av.open(str(target), "w", format="mp4", options=options) as written:
        stream = read.streams.video[0]
        out: Any = written.add_stream_from_template(stream)
        out.metadata.clear()
        heard = read.streams.audio[0] if sound and read.streams.audio else None
        voice: Any = written.add_stream_from_template(heard) if heard is not None else None
        if voice is not None:
            voice.metadata.clear()
        quiet: Any = BitStreamFilterContext("filter_units=remove_types=6", stream, out)  # the encoder's own notes
        for packet in read.demux([s for s in (stream, heard) if s is not None]):
            if packet.stream is heard:
                if packet.dts is not None:
                    packet.stream = voice
                    written.mux(packet)
                continue
            for kept in quiet.filter(packet if packet.dts is not None else None):
                kept.stream = out
                written.mux(kept)


def veil(done: Reviewed, heads: Heads, *, with_lifter: bool, wide: bool | None = None) -> Veil:
    """Tell who is covered in a set's pictures; `wide` as `veil_of`."""
    data = done.measurement.data
    return veil_of(heads, data.body, with_lifter=with_lifter, bar=data.track, wide=wide)
