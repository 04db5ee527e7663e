"""The bundled sets as the desk receives and measures them, measured once and kept between runs of the tests.

`looked(name)` gives a bundled clip's thumbnail and proxy, `fresh(name)` its measurement by the sources as they
stand. Both are made by the program itself. What tests of pages and jobs use is kept between runs until a record,
the JSON or a step's version changes: they look at what is done with numbers, never at whether these are right.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import threading
from collections.abc import Iterable
from datetime import timedelta
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from midfoot import body, pipeline
from midfoot.cli.context import asked_from
from midfoot.desk import measuring
from midfoot.desk.context_file import read_context
from midfoot.jobs.look import looked as look_at
from midfoot.jobs.look_child import FRAME, PROXY, TIMES
from midfoot.jobs.settling import settle
from midfoot.outputs import write_numbers
from midfoot.records.measures import Measurement
from midfoot.store import Workspace, context_to_json
from midfoot.store.columns import now
from midfoot.store.rows import note_blob
from midfoot.store.tables import clips, lifters, sets

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / ".pytest_cache" / "measured"
NAMES = ("squat", "bench", "deadlift")


@cache
def sources_key() -> str:
    """Name the state of all sources that the form of a measurement depends on."""
    digest = hashlib.sha256(json.dumps(measuring.VERSIONS, sort_keys=True).encode())
    base = ROOT / "src" / "midfoot"
    for file in (*sorted((base / "records").glob("*.py")), base / "store" / "measurement_json.py",
                 base / "jobs" / "look_child.py", base / "footage" / "proxy.py"):  # fmt: skip
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def bundled(name: str) -> Path:
    """Give a bundled clip."""
    with resources.as_file(resources.files("midfoot").joinpath("demo")) as folder:
        return folder / f"{name}.mp4"


def _kept(name: str, make: Any) -> Path:
    """Give a folder that is kept between runs; `make(folder)` fills it when it is not there."""
    place = KEPT / sources_key() / name
    if not place.is_dir():
        for old in KEPT.glob("*") if KEPT.is_dir() else ():
            if old.name != sources_key():
                shutil.rmtree(old, ignore_errors=True)
        beside = place.with_name(f".{name}-{threading.get_native_id()}")
        shutil.rmtree(beside, ignore_errors=True)
        beside.mkdir(parents=True)
        make(beside)
        if not place.is_dir():
            beside.rename(place)
    return place


@cache
def fresh(name: str) -> Measurement:
    """Measure a bundled clip as the demo does; once for all tests of a run."""
    if any(row.needed and row.state != "good" for row in body.listing()):
        pytest.skip("the pose network's files are not at hand (midfoot models fetch)")
    said = read_context(bundled(name).with_suffix(".toml"))
    return pipeline.measure_clip(pipeline.Request(clip=bundled(name), asked=asked_from(said), context=said))


@cache
def looked(name: str) -> Path:
    """Give the folder with `frame.jpg`, `proxy.mp4`, `frames.json` and `found.json` of a bundled clip."""

    def make(folder: Path) -> None:
        found = look_at(bundled(name), folder, f"{name}.mp4", lambda *_: None, threading.Event())
        (folder / "found.json").write_text(json.dumps(found))

    return _kept(f"{name}-looked", make)


def put_received(
    workspace: Workspace, name: str, *, days_ago: float = 0.0, lifter: str | None = None, **more: Any
) -> tuple[str, str]:
    """Put a bundled set into a workspace as it stands once it was looked at; gives the set's and the clip's id."""
    clip, seen = bundled(name), looked(name)
    said = read_context(clip.with_suffix(".toml"))
    found = json.loads((seen / "found.json").read_text())
    sha = {part: workspace.blobs.put(seen / part) for part in (FRAME, PROXY, TIMES)}
    sha256 = workspace.blobs.put(clip)
    with workspace.write() as connection:
        for one, file in ((sha256, clip), *((sha[p], seen / p) for p in sha)):
            note_blob(connection, one, file.stat().st_size)
        who = lifter or said.lifter or name
        lifter_id = connection.execute(sa.select(lifters.c.id).where(lifters.c.name == who)).scalar()
        if lifter_id is None:
            made = connection.execute(lifters.insert().values(name=who, shown_name=who))
            lifter_id = made.inserted_primary_key[0]
        row = {
            "lifter_id": lifter_id, "lift": said.lift, "variation": said.variation or "", "load_kg": said.load_kg,
            "received_at": now() - timedelta(days=days_ago), "source": "demo", "context": context_to_json(said),
            "context_confirmed": True, **more,
        }  # fmt: skip
        set_id = connection.execute(sets.insert().values(**row)).inserted_primary_key[0]
        clip_id = connection.execute(
            clips.insert().values(
                set_id=set_id, sha256=sha256, received_name=f"{name}.mp4", bytes=clip.stat().st_size,
                duration_s=found["duration_s"], width_px=found["width_px"], height_px=found["height_px"],
                frame_sha256=sha[FRAME], proxy_sha256=sha[PROXY], times_sha256=sha[TIMES],
                probe={**found, "times_sha256": sha[TIMES]},
            )
        ).inserted_primary_key[0]  # fmt: skip
        connection.execute(sets.update().where(sets.c.id == set_id).values(main_clip_id=clip_id))
    return str(set_id), str(clip_id)


def put_measured(workspace: Workspace, name: str, **more: Any) -> tuple[str, str]:
    """Put a bundled set into a workspace, measured; gives the set's and the clip's id."""
    set_id, clip_id = put_received(workspace, name, **more)
    with workspace.read() as connection:
        inputs = measuring.inputs_of(connection, workspace, clip_id)
    assert inputs is not None

    kept = _kept(f"{name}-measured", lambda place: write_numbers(fresh(name), place))
    folder = workspace.measured(clip_id, inputs.key)
    if not folder.is_dir():
        shutil.copytree(kept, folder)
    summed = measuring.summed_up(workspace, inputs, folder)
    with workspace.write() as connection:
        measuring.keep(connection, workspace, inputs, folder, summed)
        settle(connection, set_id)
    return set_id, clip_id


def fill_demo(workspace: Workspace, names: Iterable[str] = NAMES) -> dict[str, tuple[str, str]]:
    """Put the bundled sets in, measured, some days apart; gives set and clip by name."""
    return {name: put_measured(workspace, name, days_ago=1.0 + 2 * k) for k, name in enumerate(names)}
