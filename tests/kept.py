"""A small workspace with something in every table and folder: two invented lifters, three sets, one shared clip.

Zebedea Quillfeather's sets are in an edition beside Ruthven Oakapple's; both sent the same clip once.
"""

from __future__ import annotations

import atexit
import shutil
import sqlite3
import tempfile
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from attrs import evolve, frozen
from sets import made_measurement

from midfoot.history import numbers_of
from midfoot.outputs import write_numbers
from midfoot.records.context import Competition, Consent, Context
from midfoot.records.review import Edit
from midfoot.store import Workspace, context_to_json, tables
from midfoot.store.rows import append_edit, audit, note_blob, set_setting
from midfoot.store.workspace import FOLDERS

NAME, OTHER = "Zebedea Quillfeather", "Ruthven Oakapple"
DAY = datetime(2031, 5, 24, 18, 30, tzinfo=UTC)


@frozen
class Filled:
    """Ids and hashes of what was put in."""

    lifter: str
    other: str
    sets: tuple[str, ...]
    other_set: str
    clips: tuple[str, ...]
    own: tuple[str, ...]
    shared: str
    edition: str
    open_set: str


def fill(workspace: Workspace) -> Filled:
    """Fill an empty workspace; the first time by hand, then by copying what that gave."""
    if not _made:
        folder = Path(tempfile.mkdtemp(prefix="midfoot-kept-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        with Workspace.create(folder / "w") as template:
            _made.append((folder / "w", by_hand(template)))
    template_path, filled = _made[0]
    for name in FOLDERS:
        shutil.copytree(template_path / name, workspace.path / name, dirs_exist_ok=True)
    with (
        closing(sqlite3.connect(template_path / "midfoot.sqlite3")) as source,
        closing(sqlite3.connect(workspace.path / "midfoot.sqlite3")) as target,
    ):
        source.backup(target)
    return filled


_made: list[tuple[Path, Filled]] = []


def by_hand(workspace: Workspace, *, at: datetime = DAY) -> Filled:
    """Put every row and file in; times count from `at`."""
    put = workspace.blobs.put
    shared = put([b"one clip that both of them sent"])
    second = put([b"her second clip"])
    frame, proxy, sound = put([b"a frame"]), put([b"a proxy"]), put([b"her voice? no: the coach's"])
    his_frame = put([b"another frame"])
    with workspace.write() as c:
        for sha256 in (shared, second, frame, proxy, sound, his_frame):
            note_blob(c, sha256, workspace.blobs.size(sha256), "video/mp4")
        c.execute(tables.blobs.update().values(created_at=at))
        c.execute(
            tables.lifters.insert(),
            [
                {"id": "lifter00000000z1", "name": NAME, "shown_name": "Zeb", "minor": False, "stature_m": 1.71,
                 "sex": "female", "competition_on": date(2031, 7, 5), "competition_name": "Harbour Open",
                 "depth_marks": {"offset_mm": 22.0}, "notes": "prefers calls to text", "created_at": at},
                {"id": "lifter00000000r1", "name": OTHER, "shown_name": "Ruthven", "minor": None,
                 "stature_m": None, "sex": None, "competition_on": None,
                 "competition_name": "", "depth_marks": None, "notes": "",
                 "created_at": at},
            ],
        )  # fmt: skip
        z1, z2, r1 = "set0000000000z01", "set0000000000z02", "set0000000000r01"
        _set(c, z1, "lifter00000000z1", NAME, 100.0, at)
        _set(c, z2, "lifter00000000z1", NAME, 105.0, at + timedelta(days=21))
        _set(c, r1, "lifter00000000r1", OTHER, 140.0, at + timedelta(days=1))
        clips = ("clip000000000z01", "clip000000000z02", "clip000000000r01")
        for clip, of, sha256, still in ((clips[0], z1, shared, frame), (clips[1], z2, second, frame),
                                        (clips[2], r1, shared, his_frame)):  # fmt: skip
            c.execute(
                tables.clips.insert().values(
                    id=clip, set_id=of, sha256=sha256, received_name="IMG_0042.MP4" if of == r1 else "zebedea.mp4",
                    bytes=30, duration_s=8.0,
                    width_px=640, height_px=480, frame_sha256=still, proxy_sha256=proxy if of == z1 else None,
                    probe={"codec": "h264"}, added_at=at,
                )
            )  # fmt: skip
            c.execute(tables.sets.update().where(tables.sets.c.id == of).values(main_clip_id=clip))
    for clip, of, name, load, sha256 in ((clips[0], z1, NAME, 100.0, shared), (clips[1], z2, NAME, 105.0, second),
                                         (clips[2], r1, OTHER, 140.0, shared)):  # fmt: skip
        _measured(workspace, clip, of, name, load, sha256, at)
    with workspace.write() as c:
        append_edit(c, z1, Edit(id="e1", kind="note", text=f"{NAME} is nervous about Saturday"))
        append_edit(c, z1, Edit(id="e2", kind="keep", part="good-path"))
        append_edit(c, r1, Edit(id="e1", kind="note", text="ask about the belt"))
        c.execute(tables.repairs.insert().values(clip_id=clips[0], n=1, kind="bar_at",
                                                 body={"x_px": 320, "y_px": 140, "at_s": 2.0}, at=at))  # fmt: skip
        c.execute(tables.cases.insert().values(
            set_id=z1, part_id="change:squat_bar_forward", finding="squat_bar_forward", title="bar forward",
            threshold="forward_drift", unit="mm", size=24.0, sd=1.5, floor=15.0, confidence="sure", rep=2,
            at_s=4.0, view="side", decision="dropped", reason=f"{NAME} wants it so", noted_at=at, decided_at=at,
        ))  # fmt: skip
        c.execute(tables.changes.insert().values(
            id="change00000000z1", set_id=z1, lifter_id="lifter00000000z1", part_id="change-forward",
            text="Push the floor away, Zebedea", opened_at=at, try_at={"max_load_pct": 80.0, "max_rpe": 7.0},
            prediction={"measure": "path_departure_mm", "direction": "less", "size": 6.0, "sd": 2.0, "unit": "mm"},
        ))  # fmt: skip
        c.execute(tables.follow_ups.insert().values(change_id="change00000000z1", set_id=z2,
                                                    due_on=date(2031, 6, 14), verdict="held"))  # fmt: skip
        for use in ("review", "public_page", "edition", "open_set"):
            c.execute(tables.consents.insert().values(lifter_id="lifter00000000z1", use=use, given_at=at,
                                                      wording=f"{NAME} agrees to {use}"))  # fmt: skip
        c.execute(tables.consents.insert().values(set_id=r1, use="edition", given_at=at, wording="yes"))
        c.execute(tables.takes.insert().values(id="take000000000z01", set_id=z1, n=1, audio_sha256=sound,
                                               events=[{"t_s": 0.0, "kind": "play"}], duration_s=20.0,
                                               created_at=at))  # fmt: skip
        c.execute(tables.editions.insert().values(id="edition0000000e1", title="Week 22", created_at=at))
        for place, (of, kind) in enumerate(((None, "recap"), (r1, "review"), (z1, "review"), (z2, "open"))):
            c.execute(tables.edition_segments.insert().values(
                edition_id="edition0000000e1", position=place, set_id=of, kind=kind, target_s=90.0,
                script={"words": f"about {NAME}" if of in (z1, z2) else "hello"},
            ))  # fmt: skip
        c.execute(tables.open_sets.insert().values(id="open000000000z01", set_id=z2, edition_id="edition0000000e1",
                                                   opens_at=at, token="opentoken", state="open"))  # fmt: skip
        c.execute(tables.answers.insert().values(open_set_id="open000000000z01", token_hash="a" * 64, at=at,
                                                 body={"words": "Zebedea leans forward"}))  # fmt: skip
        c.execute(tables.links.insert().values(token_hash="b" * 64, scope="intake", lifter_id="lifter00000000z1",
                                               created_at=at))  # fmt: skip
        c.execute(tables.sessions.insert().values(token_hash="c" * 64, who="coach", created_at=at))
        set_setting(c, "units", {"load": "kg"})
        for kind, of, clip in (("measure", z1, clips[0]), ("measure", r1, clips[2])):
            c.execute(tables.jobs.insert().values(kind=kind, key=clip, state="done", created_at=at,
                                                  payload={"set": of, "clip": clip}))  # fmt: skip
        audit(c, "received", "set", z1, {"name": NAME})
        audit(c, "received", "set", r1)
        for of, kind, token in ((z1, "lifter", "ztokenl"), (z1, "public", "ztokenp"), (r1, "lifter", "rtokenl")):
            folder = f"published/{kind[0]}/{token}"
            c.execute(tables.publications.insert().values(set_id=of, kind=kind, token=token, folder=folder,
                                                          published_at=at))  # fmt: skip
            place = workspace.path / folder
            place.mkdir(parents=True)
            (place / "index.html").write_text(f"<p>{NAME if of == z1 else OTHER}</p>")
    for of, name in ((z1, NAME), (z2, NAME), (r1, OTHER)):
        workspace.review(of).mkdir(parents=True)
        (workspace.review(of) / "script.txt").write_text(f"Hello {name}")
    (workspace.library / "words.toml").write_text('greeting = "Hello"\n')
    own = (second, frame, proxy, sound)
    return Filled("lifter00000000z1", "lifter00000000r1", (z1, z2), r1, clips, own, shared, "edition0000000e1",
                  "open000000000z01")  # fmt: skip


def _set(c: Any, of: str, lifter: str, name: str, load: float, at: datetime) -> None:
    said = Context(
        lifter=name, lift="squat", load_kg=load, pain="left knee, a little", body_mass_kg=68.5,
        competition=Competition(on=date(2031, 7, 5), name="Harbour Open"),
        consents=(Consent("public", "yes, show it", at.date()),), read_on=at.date(),
    )  # fmt: skip
    c.execute(
        tables.sets.insert().values(
            id=of, lifter_id=lifter, lift="squat", load_kg=load, received_at=at, context=context_to_json(said),
            context_confirmed=True, pasted_text=f"Hi, {name} here, {load:g} kg", state="ready", picked="review",
        )
    )  # fmt: skip


def _measured(workspace: Workspace, clip: str, of: str, name: str, load: float, sha256: str, at: datetime) -> None:
    made = made_measurement()
    info = evolve(made.data.clip, sha256=sha256)
    asked = evolve(made.data.asked, load_kg=load)
    context = Context(lifter=name, lift="squat", load_kg=load, sha256="d" * 64)
    made = evolve(made, data=evolve(made.data, clip=info, asked=asked), context=context)
    folder = workspace.measured(clip, "f" * 64)
    folder.mkdir(parents=True)
    write_numbers(made, folder)
    with workspace.write() as c:
        c.execute(
            tables.measurements.insert().values(
                clip_id=clip,
                input_key="f" * 64,
                folder=workspace.relative(folder),
                step_versions={"bar": "3"},
                summary={"reps": 2},
                numbers=numbers_of(made),
                created_at=at,
            )
        )
