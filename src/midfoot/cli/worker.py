"""`midfoot worker` and `midfoot remeasure`: the work on clips without a desk, and work done again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


def worker(
    *,
    workspace: Path | None = None,
    workers: int | None = None,
    until_done: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Work on what waits in a workspace, without pages: clips are looked at, measured, drawn. Ctrl-C ends it.

    Example: midfoot worker --workers 2

    Parameters
    ----------
    workspace
        The folder of the workspace; the usual one without it.
    workers
        So many jobs at a time; without it as many as the machine takes.
    until_done
        End as soon as nothing waits any more.
    """
    import time

    from midfoot.cli.failures import UseError
    from midfoot.cli.stopping import stoppable
    from midfoot.jobs import Supervisor, default_workers
    from midfoot.store import Workspace

    if workers is not None and not 1 <= workers <= 64:
        raise UseError(f"--workers: expected 1 to 64, got {workers}.")
    with Workspace.open(workspace) as opened, stoppable() as stop:
        supervisor = Supervisor(opened, workers or default_workers())
        print(f"Working on {opened.path}; Ctrl-C ends it.", flush=True)
        supervisor.start()
        try:
            while not stop.is_set() and not (until_done and _idle(opened)):
                time.sleep(0.3)
        finally:
            supervisor.stop()
        failed = _failed(opened) if until_done else []
    for line in failed:
        print(line)
    return 0


def _idle(workspace: object) -> bool:
    import sqlalchemy as sa

    from midfoot.store import Workspace
    from midfoot.store.tables import jobs

    assert isinstance(workspace, Workspace)
    with workspace.read() as connection:
        return connection.execute(
            sa.select(jobs.c.id).where(jobs.c.state.in_(("queued", "running"))).limit(1)
        ).first() is None  # fmt: skip


def _failed(workspace: object) -> list[str]:
    import sqlalchemy as sa

    from midfoot.store import Workspace
    from midfoot.store.tables import jobs

    assert isinstance(workspace, Workspace)
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(jobs.c.kind, jobs.c.error).where(jobs.c.state == "failed").order_by(jobs.c.finished_at)
        )
        return [f"Not done ({r.kind}): {r.error}" for r in rows]


def remeasure(
    sets: tuple[str, ...] = (),
    /,
    *,
    all: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
) -> int:
    """Ask for clips to be measured again that another version measured; reviews and repairs are kept.

    The workers of serve or worker do it; until then the old numbers stand.

    Example: midfoot remeasure

    Parameters
    ----------
    sets
        Ids of sets; without any, every set.
    all
        Also where nothing has changed since: their summaries are made anew, what is whole is not measured twice.
    workspace
        The folder of the workspace; the usual one without it.
    """
    import sqlalchemy as sa

    from midfoot.cli.failures import UseError
    from midfoot.desk.measuring import outdated
    from midfoot.jobs import enqueue
    from midfoot.store import Workspace
    from midfoot.store.rows import audit
    from midfoot.store.tables import clips, measurements

    with Workspace.open(workspace) as opened, opened.write() as connection:
        if unknown := sorted(set(sets) - set(connection.execute(sa.select(clips.c.set_id)).scalars())):
            raise UseError(f"There is no set {unknown[0]}; midfoot inbox list --json gives their ids.")
        measured = connection.execute(
            sa.select(measurements.c.clip_id).where(measurements.c.is_current.is_(True))
        ).scalars().all()  # fmt: skip
        wanted = list(measured) if all else outdated(connection)
        if sets:
            within = set(connection.execute(sa.select(clips.c.id).where(clips.c.set_id.in_(sets))).scalars())
            wanted = [c for c in wanted if c in within]
        for clip_id in wanted:
            enqueue(connection, "measure", f"measure:{clip_id}", {"clip_id": clip_id}, priority=-10)
        if wanted:
            audit(connection, "remeasure_asked", detail={"clips": len(wanted)})
    if wanted:
        print(f"{len(wanted)} of {len(measured)} measured clips will be measured again by the workers.")
    else:
        print(f"Nothing to do: all {len(measured)} measured clips are by this version.")
    return 0
