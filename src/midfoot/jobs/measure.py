"""The job `measure`: one clip to numbers, findings and the set's state; then stills and report."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path

from midfoot import outputs
from midfoot.desk import measuring
from midfoot.desk.due import match
from midfoot.desk.measuring import Inputs, NotYetError, Summed
from midfoot.footage import FootageError
from midfoot.jobs.job import Finish, Job
from midfoot.jobs.settling import settle
from midfoot.store import StoreError, read_measurement

ROUNDS = 6
"""Inputs that change while they are measured (a repair, the load) are measured again, so often at most."""


def run(job: Job) -> Finish | None:
    """Measure the clip of the payload (`clip_id`), with everything that the rows say of it now."""
    clip_id = str(job.payload["clip_id"])
    for _ in range(ROUNDS):
        with job.workspace.read() as connection:
            inputs = measuring.inputs_of(connection, job.workspace, clip_id)
        if inputs is None:
            return None  # the clip was erased
        with job.unit() as connection:
            settle(connection, inputs.set_id)
        try:
            folder = measuring.measure(job.workspace, inputs, progress=job.progress, stop=job.stop)
        except FootageError as error:
            raise FootageError(str(error).replace(inputs.request.clip.name, inputs.name)) from error
        job.progress("looking for what stands out", 0.98)
        summed = measuring.summed_up(job.workspace, inputs, folder)
        if kept(job, inputs, folder, summed):
            match(job.workspace, inputs.set_id)
            write_pictures(job, inputs, folder)
            return None
    raise StoreError("The set was changed again and again while it was measured; press Try again.")


def kept(job: Job, inputs: Inputs, folder: Path, summed: Summed) -> bool:
    """Write the rows, and those of the set's measured view when this is another clip of it.

    False, and nothing is written, when the inputs are no longer those that were measured.
    """
    main = None
    if not inputs.main:
        main = _main_again(job, inputs, folder)
    with job.unit() as connection:
        now = measuring.inputs_of(connection, job.workspace, inputs.clip_id)
        if now is None or (now.key, now.others, now.main) != (inputs.key, inputs.others, inputs.main):
            return False
        measuring.keep(connection, job.workspace, inputs, folder, summed)
        if main is not None:
            measuring.keep(connection, job.workspace, *main)
        settle(connection, inputs.set_id)
    return True


def _main_again(job: Job, inputs: Inputs, folder: Path) -> tuple[Inputs, Path, Summed] | None:
    """Sum the measured view up again: it takes what only this clip shows."""
    from attrs import evolve

    for clip_id, place in inputs.others:
        with job.workspace.read() as connection:
            main = measuring.inputs_of(connection, job.workspace, clip_id)
        if main is not None and main.main and main.key == Path(place).name:
            own = (inputs.clip_id, job.workspace.relative(folder))
            others = tuple(o for o in main.others if o[0] != inputs.clip_id)
            main = evolve(main, others=(*others, own))
            where = job.workspace.path / place
            return main, where, measuring.summed_up(job.workspace, main, where)
    return None


def write_pictures(job: Job, inputs: Inputs, folder: Path) -> None:
    """Write what the main job draws, without a video; the set is ready already, a failure here loses little."""
    if (folder / outputs.REPORT).is_file():
        return
    with suppress(FootageError, StoreError, json.JSONDecodeError):
        outputs.write_pictures(
            read_measurement(folder), inputs.request.clip, inputs.request.reading, folder, video=False,
            progress=job.progress, stop=job.stop,
        )  # fmt: skip


__all__ = ["NotYetError", "run"]
