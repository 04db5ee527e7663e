"""The job `open_page`: the static page of an open set, its clip covered."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from midfoot.desk import open_page
from midfoot.desk.instance import ask_soon
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Build the page of the payload's `open_id`."""
    open_id = str(job.payload["open_id"])
    folder = open_page.build(job.workspace, open_id, tell=job.progress, stop=job.stop)

    def finish(connection: Connection) -> dict[str, str]:
        ask_soon(connection, f"{open_id} built")
        return {"folder": folder.name}

    return finish
