"""A measured set whose clip is made on the spot: two heads, and a file that gives much away."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from clips import write_clip
from desk_reviews import add_lifter, add_set, squat

from midfoot import covered
from midfoot.desk import reviewing
from midfoot.records.body import INDEX, SEEN
from midfoot.records.context import Context
from midfoot.records.heads import Heads, HeadTrack
from midfoot.records.measures import Measurement
from midfoot.records.review import Edit
from midfoot.store import Workspace
from midfoot.store.rows import append_edit, note_blob
from midfoot.store.tables import clips

BYSTANDER, LIFTER = (520, 110), (325, 92)
HEAD_PX = 30
FILE_NAME = "IMG_7731_runa_holt_gym.mp4"
TRACES = {
    "location": "+59.3293+018.0686/", "com.apple.quicktime.model": "PhoneQ 15", "title": "Runa Holt squat",
    "artist": "Runa Holt", "comment": "filmed at Nordhall",
}  # fmt: skip
PRIVATE = Context(
    lifter="Runa Holt", age_years=31, body_mass_kg=71.25, stature_m=1.6875, pain="left elbow burns at night",
    injury="torn hamstring in march", safeties="pins at mid height", spotter="Anders Vik stood behind", rpe=8.0,
    load_kg=100.0, question="Does the bar drift forward?", working_on=("bracing before the descent",),
    title="third week of the block", lift="squat", read_on=date(2031, 5, 1),
)  # fmt: skip
ADULT = evolve(PRIVATE, pain="", injury="")


def checked(side: int) -> np.ndarray:
    """A fine pattern that a cover must flatten."""
    return np.where((np.indices((side, side)) // 3).sum(axis=0) % 2 == 0, 245, 10).astype(np.uint8)


def write_film(path: Path) -> Path:
    """Eight seconds, 640 x 480, with a patterned head for the lifter and one for a bystander who stands still."""
    base = np.full((480, 640, 3), 128, np.uint8)
    for x, y in (BYSTANDER, LIFTER):
        side = 2 * HEAD_PX
        base[y - HEAD_PX : y + HEAD_PX, x - HEAD_PX : x + HEAD_PX] = checked(side)[..., None]
    times = np.arange(0, 8.0, 1 / 10)
    write_clip(path, times_s=times, size=(640, 480), pictures=[base] * len(times), metadata=TRACES)
    return path


def heads(seconds: float = 8.0) -> Heads:
    """Where both heads are, as the scout would have found them."""
    t_s = np.arange(0, seconds + 0.01, 0.2)

    def still(at: tuple[int, int]) -> HeadTrack:
        return HeadTrack("face", t_s, np.tile(at, (len(t_s), 1)), np.full(len(t_s), HEAD_PX * 1.5))

    return Heads(0.0, seconds, (still(BYSTANDER), still(LIFTER)))


def know_heads(patch: pytest.MonkeyPatch, seconds: float = 8.0) -> None:
    """Let the heads of the made film be known: the scout has its own tests."""
    patch.setattr(covered, "heads_of", lambda *_, **__: heads(seconds))


def measured() -> Measurement:
    """The made squat, with the lifter's face in view where the film shows it."""
    made = squat(forward_mm=47.0)
    body = made.data.body
    xy, state, sd = body.xy_px.copy(), body.state.copy(), body.sd_px.copy()
    xy[:, INDEX["nose"]], state[:, INDEX["nose"]], sd[:, INDEX["nose"]] = LIFTER, SEEN, 3.0
    return evolve(made, data=evolve(made.data, body=evolve(body, xy_px=xy, state=state, sd_px=sd)))


def ready(workspace: Workspace, folder: Path, context: Context = ADULT, *, minor: bool | None = False,
          **lifter: object) -> str:  # fmt: skip
    """A set whose review was looked at to the end; gives its id."""
    person = add_lifter(workspace, "Runa Holt", minor=minor, **lifter)
    set_id = add_set(workspace, measured(), context, lifter_id=person)
    film = write_film(folder / FILE_NAME)
    sha = workspace.blobs.put(film)
    with workspace.write() as connection:
        note_blob(connection, sha, film.stat().st_size)
        connection.execute(
            clips.update().where(clips.c.set_id == set_id).values(sha256=sha, received_name=FILE_NAME)
        )
    keep_all(workspace, set_id)
    return set_id


def keep_all(workspace: Workspace, set_id: str) -> None:
    """Keep every part, with words where none were drafted."""
    found = reviewing.reviewed(workspace, set_id).review
    with workspace.write() as connection:
        for k, part in enumerate(found.parts):
            if part.needs_words:
                append_edit(
                    connection, set_id,
                    Edit(id=f"word{k}", kind="reword", part=part.id, reps=part.reps, at_s=part.at_s,
                         text="It does, a little; more of it below."),
                )  # fmt: skip
            append_edit(connection, set_id, Edit(id=f"keep{k}", kind="keep", part=part.id, reps=part.reps,
                                                 at_s=part.at_s))  # fmt: skip
