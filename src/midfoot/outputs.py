"""What the main job leaves in a folder: numbers first, then pictures. Composes store, footage and publish."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
from attrs import frozen

from midfoot import footage, publish
from midfoot.drift_cost import drift_facts
from midfoot.load_words import load_facts
from midfoot.records.clip import Reading
from midfoot.records.measures import Measurement
from midfoot.store import StoreError, context_to_json, output_folder, to_json, write_whole

NUMBERS, BODY, REPORT, VIDEO, STILLS = "measurement.json", "body.npz", "report.html", "annotated.mp4", "stills"
CONTEXT = "context.json"


@frozen
class Written:
    """What stands in the folder."""

    folder: Path
    files: tuple[str, ...]


@contextmanager
def results_folder(path: Path, clip: Path) -> Iterator[Path]:
    """Make the folder for one clip's results; when the block fails, folders made for it that are empty go again.

    Raises
    ------
    StoreError
        When it cannot be written to, or the clip itself stands where a result would be written.
    """
    for name in (NUMBERS, BODY, REPORT, VIDEO):
        if clip.resolve() == (path / name).resolve():
            raise StoreError(
                f"The clip {clip} would be overwritten by its own results; give another folder with --out."
            )
    made = [p for p in (path, *path.parents) if not p.exists()]
    try:
        yield output_folder(path)
    except BaseException:
        for new in made:
            with suppress(OSError):  # not empty: results that are whole stay
                new.rmdir()
        raise


def write_numbers(measurement: Measurement, folder: Path) -> Written:
    """Write measurement.json and body.npz, both whole or neither; pictures of an earlier measurement go.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written to.
    """
    body = measurement.data.body
    with write_whole(folder / BODY) as beside_body, write_whole(folder / NUMBERS) as beside:
        with beside_body.open("wb") as file:
            np.savez_compressed(
                file,
                t_s=body.t_s,
                xy_px=body.xy_px,
                sd_px=body.sd_px,
                status=np.array(["hidden", "inferred", "seen"])[body.state],
            )
        beside.write_text(json.dumps(to_json(measurement), indent=1, allow_nan=False) + "\n", "utf-8")
    _forget_earlier(folder)
    said = measurement.context
    if said.sha256 is None and said.load_unit in (None, "kg"):
        (folder / CONTEXT).unlink(missing_ok=True)
        return Written(folder, (NUMBERS, BODY))
    with write_whole(folder / CONTEXT) as beside:
        beside.write_text(json.dumps(context_to_json(measurement.context), indent=1) + "\n", "utf-8")
    return Written(folder, (NUMBERS, BODY, CONTEXT))


def _forget_earlier(folder: Path) -> None:
    """Take away what an earlier measurement drew: old pictures beside new numbers would lie."""
    drawn = (REPORT, VIDEO, "mechanics.html", "mechanics.json")
    for old in (*(folder / name for name in drawn), *(folder / STILLS).glob("rep*-*.jpg")):
        old.unlink(missing_ok=True)


def write_pictures(
    measurement: Measurement,
    clip: Path,
    reading: Reading,
    folder: Path,
    *,
    video: bool = True,
    progress: Callable[[str, float], None] | None = None,
    stop: threading.Event | None = None,
) -> Written:
    """Write stills, the annotated video and the report; each file whole or not at all.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written to.
    footage.Stopped
        When `stop` was set; files already whole stay.
    """
    tell = progress or (lambda _step, _share: None)
    files: list[str] = []
    pictures = _stills(measurement, clip, reading, folder, tell, stop)
    files += [f"{STILLS}/{still.file}" for still in pictures]
    _report(measurement, pictures, folder, video=False)
    files.append(REPORT)
    if video:
        _video(measurement, clip, reading, folder, tell, stop)
        files.append(VIDEO)
        _report(measurement, pictures, folder, video=True)
    return Written(folder, tuple(files))


def _stills(
    measurement: Measurement,
    clip: Path,
    reading: Reading,
    folder: Path,
    tell: Callable[[str, float], None],
    stop: threading.Event | None,
) -> dict[publish.Still, publish.Picture]:
    moments = publish.key_moments(measurement)
    if moments:
        output_folder(folder / STILLS)
    pictures: dict[publish.Still, publish.Picture] = {}
    frames = footage.heeding(footage.frames_at(clip, [m.at_s for m in moments], reading), stop)
    for still, frame in zip(moments, frames, strict=False):
        picture = publish.still_picture(measurement, still, frame)
        pictures[still] = picture
        try:
            coded = publish.jpeg(picture, quality=90)
        except ValueError as error:
            raise StoreError(str(error)) from None
        with write_whole(folder / STILLS / still.file) as beside:
            beside.write_bytes(coded)
        tell("drawing stills", len(pictures) / len(moments))
    return pictures


def _report(
    measurement: Measurement, pictures: dict[publish.Still, publish.Picture], folder: Path, *, video: bool
) -> None:
    page = publish.report_html(
        measurement,
        pictures,
        video=VIDEO if video else None,
        load_facts=[*load_facts(measurement), *drift_facts(measurement)],
    )
    with write_whole(folder / REPORT) as beside:
        beside.write_text(page, "utf-8")


def _video(
    measurement: Measurement,
    clip: Path,
    reading: Reading,
    folder: Path,
    tell: Callable[[str, float], None],
    stop: threading.Event | None,
) -> None:
    info = measurement.data.clip
    start = reading.from_s or 0.0

    def told(t_s: float) -> None:
        tell("encoding the video", min(1.0, max(0.0, (t_s - start) / max(info.duration_s, 1e-9))))

    with write_whole(folder / VIDEO) as beside:
        publish.write_video(
            measurement, footage.heeding(footage.frames(clip, reading), stop), beside, progress=told
        )
