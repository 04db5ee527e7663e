"""The demo's reach on made sets: three lifters with a set and a film each, its link, edition and open sets."""

from __future__ import annotations

from pathlib import Path

from attrs import evolve
from desk_reviews import add_lifter, add_set
from going_out import ADULT, keep_all, measured, write_film

from midfoot.desk import consent, demo_reach
from midfoot.store import Workspace
from midfoot.store.rows import note_blob
from midfoot.store.tables import clips, sets

WHO = (("Mattis Holm", "bench", "b"), ("Teo Aldana", "deadlift", "d"), ("Runa Tveit", "squat", "5"))


def add_reach(workspace: Workspace, folder: Path) -> dict[str, str]:
    """Put all of it in; gives the sets by lifter. Teo agreed to no edition and his review was not looked at."""
    film = write_film(folder / "film.mp4")
    sha = workspace.blobs.put(film)
    with workspace.write() as connection:
        note_blob(connection, sha, film.stat().st_size)
    made = {}
    for name, lift, mark in WHO:
        said = evolve(ADULT, lifter=name)
        set_id = add_set(workspace, measured(), said, lifter_id=add_lifter(workspace, name), name=mark)
        with workspace.write() as connection:
            connection.execute(clips.update().where(clips.c.set_id == set_id).values(sha256=sha))
            connection.execute(sets.update().where(sets.c.id == set_id).values(lift=lift, state="ready"))
            if lift == "bench":
                consent.note(connection, set_id, "edition")
        if lift != "deadlift":
            keep_all(workspace, set_id)
        made[name] = set_id
    add_lifter(workspace, "Ines Falk")
    demo_reach.add(workspace)
    return made
