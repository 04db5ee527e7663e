"""The queue and its workers: a table of jobs is the truth, worker processes come and go.

Assumes a workspace. What a job makes is keyed by what went into it and whole or not there, so a job may be done
again; a worker that lost its job (lease over, cancelled, somebody else has it) finds its result refused by the
number it holds. Rule for the next author: nothing heavy is imported here, the pages import this package.
"""

from midfoot.jobs.kinds import KINDS, Kind
from midfoot.jobs.queue import cancel, enqueue, hurry, retry
from midfoot.jobs.supervisor import Supervisor, default_workers, work

__all__ = [
    "KINDS",
    "Kind",
    "Supervisor",
    "cancel",
    "default_workers",
    "enqueue",
    "hurry",
    "retry",
    "work",
]
