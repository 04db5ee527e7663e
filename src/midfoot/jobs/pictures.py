"""The job `pictures`: what comes of a set's review (words, page, print, stills, video) in `reviews/<set id>/`."""

from __future__ import annotations

import hashlib
import json

import sqlalchemy as sa

from midfoot.desk.reviewing import reviewed
from midfoot.jobs.job import Finish, Job
from midfoot.review_pictures import Source, reading_of, write_pages
from midfoot.reviewing import Reviewed, write_words
from midfoot.store import output_folder, write_whole
from midfoot.store.tables import clips, measurements, sets

MADE = "made.json"
"""What the outputs were made from, and which there are; written last."""


def run(job: Job) -> Finish | None:
    """Make the outputs of the review of the payload's `set_id`; with `video` false without the moving picture."""
    set_id, moving = str(job.payload["set_id"]), bool(job.payload.get("video", True))
    with job.workspace.read() as connection:
        row = connection.execute(sa.select(sets.c.main_clip_id).where(sets.c.id == set_id)).first()
        found = connection.execute(
            sa.select(clips.c.id, clips.c.sha256, measurements.c.input_key)
            .join(measurements, sa.and_(measurements.c.clip_id == clips.c.id, measurements.c.is_current.is_(True)))
            .where(clips.c.set_id == set_id)
            .order_by(clips.c.position)
        ).all()
    if row is None:
        return None
    done = reviewed(job.workspace, set_id)
    folder = output_folder(job.workspace.review(set_id))
    made_from = key_of(done, [f.input_key for f in found], moving=moving)
    if not (folder / MADE).is_file() or json.loads((folder / MADE).read_text("utf-8")).get("from") != made_from:
        (folder / MADE).unlink(missing_ok=True)
        main = next((f for f in found if f.id == row.main_clip_id), found[0] if found else None)
        source = None
        if main is not None and job.workspace.blobs.has(main.sha256):
            source = Source(
                path=job.workspace.blobs.path(main.sha256), reading=reading_of(done.measurement),
            )  # fmt: skip
        files = write_words(done, folder)
        files += write_pages(done, folder, source, moving=moving, tell=job.progress, stop=job.stop)
        with write_whole(folder / MADE) as beside:
            beside.write_text(json.dumps({"from": made_from, "files": files}), "utf-8")
    return lambda _connection: {"from": made_from}


def key_of(done: Reviewed, input_keys: list[str], *, moving: bool) -> str:
    """Give the key of a review's outputs: what was measured, every edit, the words, whether there is a video."""
    plain = [input_keys, [repr(e) for e in done.edits], repr(done.review), repr(done.script), moving]
    return hashlib.sha256(json.dumps(plain).encode()).hexdigest()
