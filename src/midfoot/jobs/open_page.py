"""The job `open_page`: the static page of an open set, its clip covered."""

from __future__ import annotations

from midfoot.desk import open_page
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Build the page of the payload's `open_id`."""
    folder = open_page.build(job.workspace, str(job.payload["open_id"]), tell=job.progress, stop=job.stop)
    return lambda _connection: {"folder": folder.name}
