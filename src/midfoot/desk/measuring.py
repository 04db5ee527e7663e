"""From a clip's rows to its measured folder: what is asked, under which key it is kept, what the rows then say.

The key names everything that the numbers depend on, so the same asked twice is measured once; what only changes
words (how hard it felt, pain, the question) is not in it. A folder is there whole or not at all.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
import sqlalchemy as sa
from attrs import evolve, frozen
from sqlalchemy.engine import Connection

from midfoot import __version__, bar, body, findings, footage, measures, outputs, pipeline, reps, rules
from midfoot.desk.cases import Case, cases_of, note
from midfoot.desk.depth import keep_offset
from midfoot.desk.glance import can_judge, summary_of
from midfoot.desk.own_floors import THRESHOLDS, limits_of
from midfoot.desk.repaired_request import request_with
from midfoot.desk.repairs import Repair
from midfoot.desk.review_sources import context_of
from midfoot.findings import Limits
from midfoot.history import numbers_of
from midfoot.pipeline import Request
from midfoot.records.base import LIFTS
from midfoot.records.clip import Asked
from midfoot.records.context import Context
from midfoot.records.measures import Measurement
from midfoot.reviewing import prepared
from midfoot.second_view import ViewsError
from midfoot.store import StoreError, Workspace, read_measurement
from midfoot.store.retention import original
from midfoot.store.rows import edits_of, setting
from midfoot.store.tables import clips, lifters, measurements, repairs, sets

VERSIONS = {
    "midfoot": __version__, "footage": footage.VERSION, "bar": bar.VERSION, "body": body.VERSION,
    "reps": reps.VERSION, "measures": measures.VERSION, "rules": rules.VERSION, "findings": findings.VERSION,
}  # fmt: skip
WORDS_ONLY = ("rpe", "rir", "context_sha256")
"""Of what is asked: no number depends on it."""
MAKING = ".making-"
Progress = Callable[[str, float], None]


class NotYetError(ValueError):
    """The clip cannot be measured yet: the text says what is missing."""


@frozen(kw_only=True)
class Inputs:
    """Everything that a clip's measurement is made from, as the rows say it at one moment.

    Attributes
    ----------
    clip_id, set_id, name : str
        `name` is the one under which the clip was received.
    request : Request
    key : str
        SHA-256 over all that the numbers depend on.
    repairs_to : int
        Number of the last repair.
    main : bool
        Whether it is the set's measured view.
    others : tuple of (clip id, folder)
        The set's other measured clips, in order.
    """

    clip_id: str
    set_id: str
    name: str
    request: Request = attrs.field(repr=False)
    key: str
    repairs_to: int
    main: bool
    others: tuple[tuple[str, str], ...] = ()


def inputs_of(connection: Connection, workspace: Workspace, clip_id: str) -> Inputs | None:
    """Gather a clip's inputs; None when there is no such clip any more.

    Raises
    ------
    NotYetError
        When nobody said which lift it is.
    """
    clip = connection.execute(sa.select(clips).where(clips.c.id == clip_id)).first()
    if clip is None:
        return None
    row = connection.execute(sa.select(sets).where(sets.c.id == clip.set_id)).one()
    person = (
        connection.execute(sa.select(lifters).where(lifters.c.id == row.lifter_id)).first()
        if row.lifter_id
        else None
    )
    said = with_offset(context_of(row, person), person.depth_marks if person is not None else None)
    kept = connection.execute(sa.select(repairs).where(repairs.c.clip_id == clip_id).order_by(repairs.c.n))
    made = tuple(Repair(r.n, r.kind, r.body, r.undone_at is not None) for r in kept)
    lift = next((r.body["lift"] for r in reversed(made) if r.kind == "lift" and not r.undone), None)
    lift = lift or row.lift or said.lift
    if lift not in LIFTS:
        raise NotYetError("Nobody said which lift this is; say it, then it is measured.")
    asked = Asked(
        lift=lift, variation=row.variation or said.variation, load_kg=row.load_kg or said.load_kg, reps=said.reps,
        rpe=said.rpe, rir=said.rir, plate_mm=said.plate_mm, context_sha256=said.sha256, stature_m=said.stature_m,
    )  # fmt: skip
    own = workspace.library / THRESHOLDS
    limits = findings.read_thresholds(own) if own.is_file() else None
    request = Request(
        clip=workspace.blobs.path(clip.sha256), asked=asked, context=said, limits=limits,
        rules=_rules(connection, said),
    )  # fmt: skip
    request = request_with(request, made)
    others = connection.execute(
        sa.select(clips.c.id, measurements.c.folder)
        .join(measurements, measurements.c.clip_id == clips.c.id)
        .where(clips.c.set_id == row.id, clips.c.id != clip_id, measurements.c.is_current.is_(True))
        .order_by(clips.c.position, clips.c.added_at)
    ).all()
    return Inputs(
        clip_id=clip_id, set_id=row.id, name=clip.received_name, request=request,
        key=key_of(clip.sha256, request), repairs_to=max((r.n for r in made), default=0),
        main=(row.main_clip_id or clip_id) == clip_id, others=tuple((o.id, o.folder) for o in others),
    )  # fmt: skip


def _rules(connection: Connection, said: Context) -> str | None:
    """Give the coach's usual rule set; None where the lifter's own competition says which, or he set none."""
    if said.competition is not None and said.competition.rules:
        return None
    usual = str(setting(connection, "rules", "") or "")
    return usual if usual in rules.names() else None


def with_offset(said: Context, marks: Any) -> Context:
    """Put the lifter's depth offset from an earlier clip into the context, unless one was said."""
    if said.depth_offset_mm is not None or not isinstance(marks, dict) or marks.get("offset_mm") is None:
        return said
    return evolve(said, depth_offset_mm=float(marks["offset_mm"]), depth_offset_sd_mm=marks.get("offset_sd_mm"))


def key_of(sha256: str, request: Request) -> str:
    """Give the key of a measurement: SHA-256 over the clip's content and all that its numbers depend on."""
    said = request.context
    asked = {k: v for k, v in attrs.asdict(request.asked).items() if k not in WORDS_ONLY}
    plain = {
        "clip": sha256,
        "asked": asked,
        "request": {
            f.name: _plain(getattr(request, f.name))
            for f in attrs.fields(Request)
            if f.name not in ("clip", "asked", "models", "context", "limits", "rules")
        },
        "rules": pipeline.rules_asked(request),
        "depth": [said.depth_offset_mm, said.depth_offset_sd_mm],
        "limits": None if request.limits is None else findings.parameters(request.limits),
        "versions": VERSIONS,
    }
    return hashlib.sha256(json.dumps(plain, sort_keys=True, default=str).encode()).hexdigest()


def _plain(value: Any) -> Any:
    if attrs.has(type(value)):
        return attrs.asdict(value)
    return [_plain(v) for v in value] if isinstance(value, tuple) else value


def measure(
    workspace: Workspace, inputs: Inputs, *, progress: Progress | None = None, stop: threading.Event | None = None
) -> Path:
    """Give the folder with the clip's numbers, measured now unless it is there.

    Raises
    ------
    FootageError, ModelsError, StoreError, Stopped
        As the pipeline and the store do; nothing is left behind that looks finished.
    """
    folder = workspace.measured(inputs.clip_id, inputs.key)
    if is_whole(folder):
        return folder
    for left in folder.parent.glob(f"{MAKING}*"):
        shutil.rmtree(left, ignore_errors=True)
    with workspace.read() as connection:
        original(workspace, connection, inputs.clip_id)  # says so when its time was up
    beside = folder.parent / f"{MAKING}{inputs.key[:12]}-{threading.get_native_id()}"
    try:
        beside.mkdir(parents=True)
        measured = pipeline.measure_clip(inputs.request, progress=progress, stop=stop)
        named = evolve(measured, data=evolve(measured.data, clip=evolve(measured.data.clip, name=inputs.name)))
        outputs.write_numbers(named, beside)
        if folder.exists():
            shutil.rmtree(folder)  # of a version that left it half there
        beside.rename(folder)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError(f"{folder.parent}: {(error.strerror or str(error)).lower()}; see to the disk.") from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return folder


def is_whole(folder: Path) -> bool:
    """Tell whether a measured folder has its numbers."""
    return (folder / outputs.NUMBERS).is_file() and (folder / outputs.BODY).is_file()


@frozen
class Summed:
    """What the rows keep of a measurement: for the inbox, the numbers for the lifter's course over time, findings.

    `judged` are the findings that it could show, `found` those that it does.
    """

    summary: dict[str, Any]
    numbers: dict[str, Any]
    judged: tuple[str, ...] = ()
    found: tuple[Case, ...] = ()
    view: str = "unknown"


def summed_up(workspace: Workspace, inputs: Inputs, folder: Path) -> Summed:
    """Sum the clip up; the measured view takes what only the set's other clips show."""
    measured = read_measurement(folder)
    limits, _ = limits_of(workspace, inputs.set_id)
    if not inputs.main or not inputs.others:
        return _summed(prepared(measured, context=inputs.request.context, limits=limits), limits)
    joined, trouble = _joined(workspace, inputs, measured, limits)
    more = {"joined": len(inputs.others), **({"trouble": trouble} if trouble else {})}
    summed = _summed(joined, limits)
    return evolve(summed, summary={**summed.summary, **more})


def _summed(whole: Measurement, limits: Limits) -> Summed:
    return Summed(
        summary_of(whole), numbers_of(whole), can_judge(whole), cases_of(whole, limits), whole.data.view.view_class
    )


def _joined(
    workspace: Workspace, inputs: Inputs, measured: Measurement, limits: Limits
) -> tuple[Measurement, str]:
    others = tuple(
        (read_measurement(workspace.path / folder), f"clip {k}") for k, (_, folder) in enumerate(inputs.others, 2)
    )
    try:
        return prepared(measured, context=inputs.request.context, others=others, limits=limits), ""
    except ViewsError as error:
        alone = prepared(measured, context=inputs.request.context, limits=limits)
        return alone, f"The other clip is left out. {error}"


def keep(connection: Connection, workspace: Workspace, inputs: Inputs, folder: Path, summed: Summed) -> str:
    """Write a measurement's row, now the current one of its clip, and give its id; twice makes one row."""
    connection.execute(
        measurements.update()
        .where(measurements.c.clip_id == inputs.clip_id, measurements.c.input_key != inputs.key)
        .values(is_current=False)
    )
    said = {
        "summary": summed.summary, "numbers": summed.numbers, "is_current": True,
        "judged": " ".join(summed.judged), "view": summed.view,
        "folder": workspace.relative(folder), "step_versions": dict(VERSIONS), "repairs_to": inputs.repairs_to,
    }  # fmt: skip
    same = (measurements.c.clip_id == inputs.clip_id) & (measurements.c.input_key == inputs.key)
    there = connection.execute(sa.select(measurements.c.id).where(same)).scalar()
    if there is None:
        made = connection.execute(
            measurements.insert().values(clip_id=inputs.clip_id, input_key=inputs.key, **said)
        ).inserted_primary_key
        there = made[0] if made is not None else ""
    else:
        connection.execute(measurements.update().where(same).values(**said))
    if inputs.main:
        note(connection, inputs.set_id, summed.found, edits_of(connection, inputs.set_id))
    connection.execute(clips.update().where(clips.c.id == inputs.clip_id).values(error=""))
    keep_offset(connection, inputs.set_id, inputs.clip_id, folder)
    return str(there)


def outdated(connection: Connection) -> list[str]:
    """Give the clips whose current measurement was made by other versions of the steps."""
    rows = connection.execute(
        sa.select(measurements.c.clip_id, measurements.c.step_versions).where(measurements.c.is_current.is_(True))
    )
    return [r.clip_id for r in rows if r.step_versions != VERSIONS]
