"""The job `erase_there`: what was erased at the desk goes at the public instance, tried again until it is done."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from midfoot.desk.erase_there import carry_out, over, result_of
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Ask the instance to erase."""
    there = carry_out(job.workspace, job.payload)

    def finish(connection: Connection) -> dict[str, object]:
        over(connection, job.claimed.id)
        return result_of(there)

    return finish
