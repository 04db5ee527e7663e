"""The job `take`: the videos of a set's voice-over, wide and upright, and its subtitles."""

from __future__ import annotations

from midfoot.desk import takes_video
from midfoot.jobs.job import Finish, Job


def run(job: Job) -> Finish | None:
    """Make what the payload's `set_id` asks for; what is made already is not made again."""
    files = takes_video.make(job.workspace, str(job.payload["set_id"]), tell=job.progress, stop=job.stop)
    return lambda _connection: {"files": files}
