"""The job `fetch`: sets and answers from the public instance, pages of open sets to it."""

from __future__ import annotations

import time

from midfoot.desk.fetching import fetch_all
from midfoot.desk.instance import FROM, HandingError
from midfoot.jobs.job import Finish, Job
from midfoot.store.rows import setting

BUSY_S = 60.0


def run(job: Job) -> Finish | None:
    """Ask the instance; where another program does so already, wait for it and ask again."""
    with job.workspace.read() as connection:
        if not setting(connection, FROM, ""):
            return None
    until = time.monotonic() + BUSY_S
    while True:
        try:
            done = fetch_all(job.workspace, tell=job.progress)
            break
        except HandingError as error:
            if "already" not in str(error) or time.monotonic() > until or job.stop.wait(1.0):
                raise
    return lambda _connection: {"sets": done.sets, "answers": done.open_sets.answers}
