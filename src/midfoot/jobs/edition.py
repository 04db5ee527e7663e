"""The job `edition`: an edition's folder, with a video a segment."""

from __future__ import annotations

from midfoot.desk import edition_export
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Export the edition of the payload's `edition_id`."""
    folder = edition_export.export(job.workspace, str(job.payload["edition_id"]), tell=job.progress, stop=job.stop)
    return lambda _connection: {"folder": folder.name}
