"""A workspace to look around in: invented lifters, the bundled sets, older ones of theirs, new ones that wait.

The bundled clips are drawn; everybody else's are parts of them, so that every film is measured, looked at and
played as any other. Nothing here is about a person that there is.
"""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import evolve

from midfoot import footage, outputs
from midfoot.desk import demo_reach, measuring
from midfoot.desk.consent import WORDINGS
from midfoot.desk.demo_sets import BROKEN, KEPT, NEW, PEOPLE, Kept, New
from midfoot.desk.intake import confirm, give_text, take_clip
from midfoot.desk.reviewing import NoReviewError, add_edits, opened
from midfoot.jobs import KINDS, enqueue
from midfoot.jobs.worker import work_on
from midfoot.records.context import Context
from midfoot.records.review import LENGTHS
from midfoot.store import StoreError, Workspace, read_measurement
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting
from midfoot.store.tables import (
    changes,
    clips,
    consents,
    follow_ups,
    jobs,
    lifters,
    measurements,
    publications,
    sets,
)
from midfoot.units import load_words

MARK = "demo"
"""Key of the setting that marks a workspace as made here: only such a one is made anew."""
LEAD_S = 1.2
"""Shown before and after the reps of a part."""
Tell = Callable[[str, float], None]


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
    beside = workspace.path / "blobs" / "parts"
    beside.mkdir(parents=True, exist_ok=True)
    _people(workspace)
    kept = [one for one in KEPT if one.name in measured]
    new = [one for one in NEW if one.name in measured]
    steps = len(kept) + len(new) + 1
    made: dict[tuple[str, float], str] = {}
    for k, one in enumerate(kept):
        tell("filling the workspace", k / steps)
        made[one.key, one.days_ago] = _take(workspace, one, measured[one.name], beside, stop)
    _work(workspace, ("look", "measure"), stop)
    for k, arriving in enumerate(new):
        tell("filling the workspace", (len(kept) + k) / steps)
        _arrive(workspace, measured[arriving.name][0], arriving, beside, stop)
    _broken(workspace, next(iter(measured.values()))[0], beside)
    _work(workspace, ("look",), stop)
    for one in kept:
        if publish and one.publish:
            tell(f"publishing the review of {one.lifter}", 0.0)
            with suppress(NoReviewError):  # why it could not be measured is said below
                _publish(workspace, made[one.key, one.days_ago], one, stop)
    demo_reach.add(workspace)
    with workspace.read() as connection:
        failed = connection.execute(sa.select(jobs.c.kind, jobs.c.error).where(jobs.c.error.is_not(None))).all()
    return [f.error for f in failed if f.error and f.kind != "look"]


def _people(workspace: Workspace) -> None:
    since = now() - timedelta(days=max(one.days_ago for one in KEPT) + 1)
    with workspace.write() as connection:
        for person in PEOPLE:
            made = lifters.insert().values(name=person.name, shown_name=person.name.split()[0], **person.kept)
            lifter_id = connection.execute(made.returning(lifters.c.id)).scalar_one()
            for use in person.uses:
                connection.execute(
                    consents.insert().values(
                        lifter_id=lifter_id, use=use, wording=WORDINGS[use], given_by="lifter", given_at=since
                    )
                )


def _take(
    workspace: Workspace,
    one: Kept,
    measured: tuple[Path, Path, Context],
    beside: Path,
    stop: threading.Event,
) -> str:
    """Take a set in as received and confirmed so long ago; a part of a bundled one as a film of its own."""
    clip, folder, said = measured
    if one.reps is None:
        set_id = _put(workspace, clip, clip.name, said, one)
        _reuse(workspace, set_id, folder)
        return set_id
    part = beside / f"{one.key}.mp4"
    from_s, to_s = _span_of(folder, *one.reps)
    footage.write_proxy(clip, part, from_s=from_s, to_s=to_s, stop=stop)
    count = one.reps[1] - one.reps[0] + 1
    said = evolve(said, load_kg=one.load_kg, reps=count, rpe=one.rpe, title=None, question=one.question or None,
                  working_on=one.working_on)  # fmt: skip
    return _put(workspace, part, f"{one.name} {load_words(one.load_kg, said.load_unit or 'kg')}.mp4", said, one)


def _put(workspace: Workspace, path: Path, name: str, said: Context, one: Kept) -> str:
    """Take a clip in with what was said confirmed, what the lifter allows, and what it was picked for."""
    taken = take_clip(workspace, path, name, source="demo", move=path.parent.name == "parts")
    received = now() - timedelta(days=one.days_ago)
    said = evolve(said, read_on=received.date(), lifter=one.lifter.split()[0])
    load = load_words(said.load_kg or 0.0, said.load_unit or "kg")
    text = f"{one.lifter}: {said.lift} {load} x {said.reps}, RPE {said.rpe:g}\n{said.question or ''}".strip()
    with workspace.write() as connection:
        confirm(connection, taken.set_id, said, lifter=one.lifter)
        connection.execute(
            sets.update()
            .where(sets.c.id == taken.set_id)
            .values(received_at=received, pasted_text=text, picked=one.picked)
        )
    return taken.set_id


def _span_of(folder: Path, first: int, last: int) -> tuple[float, float]:
    """From a little before a rep to a little after another, cut where the bar stands still in between.

    Where fewer were found the last ones are taken.
    """
    found = [r for r in read_measurement(folder).data.reps.reps if r.start and (r.end or r.low_end or r.top_end)]
    spans = [(r.start.t_s, (r.end or r.low_end or r.top_end).t_s) for r in found]  # type: ignore[union-attr]
    if not spans:
        return 0.0, 10.0
    last = min(last, len(spans))
    first = min(first, last)
    before = spans[first - 2][1] if first > 1 else 0.0
    after = spans[last][0] if last < len(spans) else spans[-1][1] + LEAD_S
    return max(before, spans[first - 1][0] - LEAD_S, 0.0), min(after, spans[last - 1][1] + LEAD_S)


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


def _looked_through(workspace: Workspace, set_id: str, own_words: tuple[str, ...]) -> list[dict[str, Any]]:
    """Give the edits of a coach who keeps the draft, and answers himself what no measurement answers.

    Where he has nothing of his own to say the card is dropped: nothing is ever said twice.
    """
    words = iter(own_words)
    edits: list[dict[str, Any]] = []
    for k, part in enumerate(c.part for group in opened(workspace, set_id).groups for c in group.waiting):
        seen = {"id": f"demo{k}", "part": part.id, "reps": list(part.reps), "at_s": list(part.at_s)}
        own = next(words, "") if part.needs_words else ""
        if own:
            edits += [
                {**seen, "id": f"demo{k}{length}", "kind": "reword", "length": length, "text": own}
                for length in LENGTHS
            ]
        elif part.needs_words:
            edits.append({**seen, "kind": "drop", "reason": "nothing of my own to say"})
        else:
            edits.append({**seen, "kind": "keep", "saw": part.wording_key})
    return edits


def _publish(workspace: Workspace, set_id: str, one: Kept, stop: threading.Event) -> None:
    """Accept the draft as it stands, publish it, and put all of it back to the day on which it would have been."""
    add_edits(workspace, set_id, _looked_through(workspace, set_id, one.own_words))
    with workspace.write() as connection:
        enqueue(connection, "publish", f"publish:{set_id}:lifter", {"set_id": set_id, "kind": "lifter"})
    _work(workspace, ("publish",), stop)
    back = timedelta(days=one.days_ago - 1)
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
