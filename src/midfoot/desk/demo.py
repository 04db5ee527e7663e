"""A workspace to look around in: invented lifters, the bundled sets, older ones of theirs, new ones that wait.

The bundled clips are drawn; everybody else's are parts of them, so that every film is measured, looked at and
played as any other. Nothing here is about a person that there is.
"""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import evolve, frozen

from midfoot import footage, outputs
from midfoot.desk import measuring
from midfoot.desk.consent import note
from midfoot.desk.intake import confirm, give_text, take_clip
from midfoot.desk.reviewing import add_edits, opened
from midfoot.jobs import KINDS, enqueue
from midfoot.jobs.worker import work_on
from midfoot.records.context import Context
from midfoot.store import StoreError, Workspace, read_measurement
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting
from midfoot.store.tables import changes, clips, follow_ups, jobs, measurements, publications, sets
from midfoot.units import KG_PER_LB, load_words

MARK = "demo"
"""Key of the setting that marks a workspace as made here: only such a one is made anew."""
Tell = Callable[[str, float], None]


@frozen(kw_only=True)
class Older:
    """An earlier set: the first reps of a bundled one, so many days before it."""

    name: str
    lifter: str
    reps: int
    load_kg: float
    days_ago: float
    publish: bool = False


@frozen(kw_only=True)
class New:
    """A set that has just come in: a part of a bundled clip (shares of its length) and the message with it."""

    name: str
    part: tuple[float, float]
    file: str
    text: str
    hours_ago: float
    waiting: str = ""


WHO = {"squat": "Runa Tveit", "bench": "Mattis Holm", "deadlift": "Teo Aldana"}
USES = {"squat": ("review", "public_page", "name"), "bench": ("review", "edition", "public_page"),
        "deadlift": ("review",)}  # fmt: skip
OLDER = (
    Older(name="squat", lifter=WHO["squat"], reps=3, load_kg=75.0, days_ago=22, publish=True),
    Older(name="bench", lifter=WHO["bench"], reps=4, load_kg=65.0, days_ago=15, publish=True),
    Older(name="deadlift", lifter=WHO["deadlift"], reps=1, load_kg=205 * KG_PER_LB, days_ago=29),
)
NEW = (
    New(name="squat", part=(0.42, 0.98), file="IMG_5120.MOV", hours_ago=2.0,
        text="Ines Falk here, 24F, 61 kg bw. Squat 75 kg x 3 @8.5, belt. My left knee hurts a bit coming up since "
             "last week. One spotter, safeties set. Should I change my stance?"),
    New(name="bench", part=(0.30, 0.62), file="PXL_3301.mp4", hours_ago=3.5,
        text="Name: Jory Penn\nBench 55 kg x 3, RPE 7, no pain. I'm 16 years old. My dad spotted me. Is my pause "
             "long enough?"),
    New(name="deadlift", part=(0.45, 1.0), file="VID_0091.mp4", hours_ago=5.0,
        text="Hi, Sanne Lind here. 102,5 x 1 @9 today, no pain. Meet in 3 weeks. Was it locked out?"),
    New(name="squat", part=(0.0, 0.45), file="IMG_5098.MOV", hours_ago=26.0,
        text="Oda Brekke, low bar squat 80kg x 2 @7, no pain. Working on bracing before I unrack."),
    New(name="bench", part=(0.0, 0.36), file="bench day.mp4", hours_ago=30.0,
        waiting="The plate was cut off at the left: the phone a metre farther away, please.",
        text="Ines Falk: bench 42.5kg x 2, no pain, no spotter"),
    New(name="deadlift", part=(0.0, 0.55), file="IMG_0007.MOV", hours_ago=49.0,
        text="Teo Aldana, deadlift 90 kg x 1, RPE 7, warm-up single, no pain"),
)  # fmt: skip
BROKEN = "IMG_5121.MOV"
OWN_WORDS = "The reps look alike from the first to the last. Keep doing what you do, and send the next heavy one."


def fresh(path: Path) -> Workspace:
    """Give an empty workspace at a path; one that an earlier demo made is taken away first.

    Raises
    ------
    StoreError
        When a workspace of somebody's own lies there.
    """
    if (path / "midfoot.sqlite3").is_file():
        with Workspace.open(path) as there, there.read() as connection:
            made_here = bool(setting(connection, MARK, False))
        if not made_here:
            raise StoreError(f"{path} is a workspace of your own; give another folder with --out.")
        shutil.rmtree(path)
    workspace = Workspace.create(path)
    with workspace.write() as connection:
        set_setting(connection, MARK, True)
        set_setting(connection, "watch", False)
    return workspace


def fill(
    workspace: Workspace,
    measured: Mapping[str, tuple[Path, Path, Context]],
    *,
    publish: bool = True,
    tell: Tell | None = None,
    stop: threading.Event | None = None,
) -> list[str]:
    """Fill a workspace; gives sentences about what could not be done.

    Parameters
    ----------
    measured : clip, measured folder and what was said, by the name of each bundled set.
    publish : also publish two reviews, which takes the longest.
    tell, stop : as for the main job.
    """
    tell, stop = tell or (lambda _step, _share: None), stop or threading.Event()
    made: dict[str, str] = {}
    beside = workspace.path / "blobs" / "parts"
    beside.mkdir(parents=True, exist_ok=True)
    steps = len(OLDER) + len(measured) + len(NEW) + 1
    for k, older in enumerate(o for o in OLDER if o.name in measured):
        tell("filling the workspace", k / steps)
        clip, folder, said = measured[older.name]
        end_s = _end_of(folder, older.reps)
        part = beside / f"{older.name}-older.mp4"
        footage.write_proxy(clip, part, to_s=end_s, stop=stop)
        said = evolve(said, load_kg=older.load_kg, reps=older.reps, rpe=7.0, question="How does this look?")
        name = f"{older.name} {load_words(older.load_kg, said.load_unit or 'kg')}.mp4"
        made[f"{older.name} older"] = _put(workspace, part, name, said, older.lifter, days_ago=older.days_ago)
    _work(workspace, ("look", "measure"), stop)
    for k, (name, (clip, folder, said)) in enumerate(measured.items()):
        tell("filling the workspace", (len(OLDER) + k) / steps)
        set_id = _put(workspace, clip, clip.name, said, WHO.get(name, said.lifter or name), days_ago=0.5 + k)
        made[name] = set_id
        _reuse(workspace, set_id, folder)
        with workspace.write() as connection:
            for use in USES.get(name, ()):
                note(connection, set_id, use, given_by="lifter")
            picked = "edition" if name == "bench" else "review"
            connection.execute(sets.update().where(sets.c.id == set_id).values(picked=picked))
    _work(workspace, ("look", "measure"), stop)
    for k, new in enumerate(n for n in NEW if n.name in measured):
        tell("filling the workspace", (len(OLDER) + len(measured) + k) / steps)
        _arrive(workspace, measured[new.name][0], new, beside, stop)
    _broken(workspace, next(iter(measured.values()))[0], beside)
    _work(workspace, ("look",), stop)
    if publish:
        for older in OLDER:
            if older.publish and f"{older.name} older" in made:
                tell(f"publishing the review of {older.lifter}", 0.0)
                _publish(workspace, made[f"{older.name} older"], older, stop)
    with workspace.read() as connection:
        failed = connection.execute(sa.select(jobs.c.kind, jobs.c.error).where(jobs.c.state == "failed")).all()
    return [f.error for f in failed if f.kind != "look"]


def _put(workspace: Workspace, path: Path, name: str, said: Context, lifter: str, *, days_ago: float) -> str:
    """Take a clip in as received so long ago, with what was said confirmed."""
    taken = take_clip(workspace, path, name, source="demo", move=path.parent.name == "parts")
    received = now() - timedelta(days=days_ago)
    said = evolve(said, read_on=received.date(), lifter=lifter)
    load = load_words(said.load_kg or 0.0, said.load_unit or "kg")
    text = f"{lifter}: {said.lift} {load} x {said.reps}, RPE {said.rpe:g}\n{said.question or ''}".strip()
    with workspace.write() as connection:
        confirm(connection, taken.set_id, said, lifter=lifter)
        connection.execute(
            sets.update().where(sets.c.id == taken.set_id).values(received_at=received, pasted_text=text)
        )
    return taken.set_id


def _end_of(folder: Path, reps: int) -> float:
    found = read_measurement(folder).data.reps.reps[:reps]
    last = found[-1].end or found[-1].low_end or found[-1].top_end
    return (last.t_s if last is not None else 10.0) + 1.2


def _reuse(workspace: Workspace, set_id: str, folder: Path) -> None:
    """Take over what was measured a moment ago, so that it is not measured twice."""
    with workspace.read() as connection:
        clip_id = connection.execute(sa.select(sets.c.main_clip_id).where(sets.c.id == set_id)).scalar_one()
        inputs = measuring.inputs_of(connection, workspace, clip_id)
    if inputs is None:
        return
    target = workspace.measured(clip_id, inputs.key)
    beside = target.with_name(f"{measuring.MAKING}{inputs.key[:12]}")
    beside.mkdir(parents=True)
    for name in (outputs.NUMBERS, outputs.BODY, outputs.CONTEXT, outputs.REPORT, outputs.STILLS):
        if (folder / name).is_dir():
            shutil.copytree(folder / name, beside / name)
        elif (folder / name).is_file():
            shutil.copy2(folder / name, beside / name)
    beside.rename(target)


def _arrive(workspace: Workspace, clip: Path, new: New, beside: Path, stop: threading.Event) -> None:
    length_s = footage.probe(clip).duration_s
    part = beside / "arriving.mp4"
    footage.write_proxy(clip, part, from_s=new.part[0] * length_s, to_s=new.part[1] * length_s, stop=stop)
    taken = take_clip(workspace, part, new.file, source="demo", move=True)
    give_text(workspace, [taken.set_id], new.text)
    values: dict[str, Any] = {"received_at": now() - timedelta(hours=new.hours_ago)}
    if new.waiting:
        values |= {"waiting": "refilm", "waiting_note": new.waiting}
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == taken.set_id).values(**values))


def _broken(workspace: Workspace, clip: Path, beside: Path) -> None:
    """A clip whose transfer broke off: named, and kept as it came."""
    part = beside / "broken.mp4"
    with clip.open("rb") as file:
        part.write_bytes(file.read(200_000)[:160_000].replace(b"moov", b"lost"))
    taken = take_clip(workspace, part, BROKEN, source="demo", move=True)
    with workspace.write() as connection:
        connection.execute(
            sets.update().where(sets.c.id == taken.set_id).values(received_at=now() - timedelta(hours=2))
        )


def _work(workspace: Workspace, kinds: tuple[str, ...], stop: threading.Event) -> None:
    work_on(workspace, "demo", {k: KINDS[k] for k in kinds}, stop, until_idle=True)


def _looked_through(workspace: Workspace, set_id: str) -> list[dict[str, Any]]:
    """Give the edits of a coach who keeps the draft, and answers himself what no measurement answers."""
    cards = [c.part for group in opened(workspace, set_id).groups for c in group.waiting]
    edits: list[dict[str, Any]] = []
    for k, part in enumerate(cards):
        seen = {"part": part.id, "reps": list(part.reps), "at_s": list(part.at_s)}
        if part.needs_words:
            edits += [
                {"id": f"demo{k}{length}", "kind": "reword", "length": length, "text": OWN_WORDS, **seen}
                for length in ("lifter", "on_air")
            ]
        else:
            edits.append({"id": f"demo{k}", "kind": "keep", "saw": part.wording_key, **seen})
    return edits


def _publish(workspace: Workspace, set_id: str, older: Older, stop: threading.Event) -> None:
    """Accept the draft as it stands, publish it, and put all of it back to the day on which it would have been."""
    add_edits(workspace, set_id, _looked_through(workspace, set_id))
    with workspace.write() as connection:
        enqueue(connection, "publish", f"publish:{set_id}:lifter", {"set_id": set_id, "kind": "lifter"})
    _work(workspace, ("publish",), stop)
    back = timedelta(days=older.days_ago - 1)
    with workspace.write() as connection:
        at = now() - back
        connection.execute(publications.update().where(publications.c.set_id == set_id).values(published_at=at))
        connection.execute(changes.update().where(changes.c.set_id == set_id).values(opened_at=at))
        mine = sa.select(changes.c.id).where(changes.c.set_id == set_id)
        for row in connection.execute(sa.select(follow_ups).where(follow_ups.c.change_id.in_(mine))).all():
            if row.due_on is not None:
                due = row.due_on - back
                connection.execute(follow_ups.update().where(follow_ups.c.id == row.id).values(due_on=due))


def counted(workspace: Workspace) -> str:
    """Say in a line what is in a workspace."""
    with workspace.read() as connection:
        found = [
            connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for table in (sets, clips, measurements, publications)
        ]
    return f"{found[0]} sets, {found[1]} clips, {found[2]} measured, {found[3]} published"
