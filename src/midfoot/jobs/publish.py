"""The job `publish`: a set's page built from covered frames, then put out in one unit with the job's end."""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import Connection

from midfoot.desk import publishing, reviewing
from midfoot.jobs.job import Finish, Job
from midfoot.reviewing import write_words
from midfoot.store import output_folder


def run(job: Job) -> Finish | None:
    """Publish the page of the payload's `set_id`; `kind` is lifter or public, `wide` covers more than heads."""
    set_id, kind = str(job.payload["set_id"]), str(job.payload.get("kind", "lifter"))
    wide = True if job.payload.get("wide") else None
    built = publishing.build(job.workspace, set_id, kind, wide=wide, tell=job.progress, stop=job.stop)
    with job.unit() as connection:
        row_id = publishing.place(connection, job.workspace, built)
    if kind == "lifter":
        write_words(reviewing.reviewed(job.workspace, set_id), output_folder(job.workspace.review(set_id)))
        reviewing.published(job.workspace, set_id)

    def finish(_: Connection) -> Any:
        return {"publication": row_id}

    return finish
