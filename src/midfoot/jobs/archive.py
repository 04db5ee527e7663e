"""The job `archive`: what was found in sets that were measured before the archive kept it."""

from __future__ import annotations

from midfoot.desk.gathering import gather
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Note the findings of every measured set that has none noted."""
    gather(job.workspace, tell=job.progress, stop=job.stop)
    return None
