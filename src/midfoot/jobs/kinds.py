"""Which kinds of jobs there are, and where the function of each lies; it is imported in a worker only.

A new kind: a function `run(job) -> finish | None` in a module of its own, and a row here. It may run again after a
crash, so what it makes is keyed by what went in and written whole or not at all. `finish(connection)` writes the
rows in the same unit in which the job becomes done.
"""

from __future__ import annotations

from collections.abc import Mapping

from attrs import frozen


@frozen
class Kind:
    """One kind of job.

    Attributes
    ----------
    name : str
    target : str
        `module:function`.
    priority : int
        Higher goes first; within one priority the oldest goes first.
    max_attempts : int
        After so many attempts that ended without a word (a crash, too little memory) it is given up.
    without_end : bool
        What keeps it from being done lies elsewhere and may be over tomorrow: whatever fails is tried again, in
        longer and longer waits, until it is done or called off.
    """

    name: str
    target: str
    priority: int = 0
    max_attempts: int = 3
    without_end: bool = False


HURRY = 50
"""Priority of what the coach is looking at."""

KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("look", "midfoot.jobs.look:run", priority=20),
        Kind("glimpse", "midfoot.jobs.glimpse:run", priority=15),
        Kind("measure", "midfoot.jobs.measure:run", priority=0, max_attempts=6),
        Kind("pictures", "midfoot.jobs.pictures:run", priority=10),
        Kind("open_page", "midfoot.jobs.open_page:run", priority=30),
        Kind("fetch", "midfoot.jobs.fetch:run", priority=30),
        Kind("erase_there", "midfoot.jobs.erase_there:run", priority=30, max_attempts=10**6, without_end=True),
        Kind("edition", "midfoot.jobs.edition:run", priority=30),
        Kind("take", "midfoot.jobs.take:run", priority=30),
        Kind("publish", "midfoot.jobs.publish:run", priority=30),
        Kind("archive", "midfoot.jobs.archive:run", priority=-10),
    )
}
