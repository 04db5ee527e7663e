"""The clip of a set as what leaves is drawn from: its file, where its heads are, whether the lifter is covered."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from midfoot import covered
from midfoot.records.heads import Heads
from midfoot.review_pictures import reading_of
from midfoot.store import output_folder

if TYPE_CHECKING:
    from midfoot.desk.publish_gate import Case
    from midfoot.reviewing import Reviewed
    from midfoot.store import Workspace

HEADS = "heads.npz"


def film_of(workspace: Workspace, done: Reviewed, sha256: str) -> covered.Film:
    """Give the clip with that content as the set was measured from it."""
    return covered.Film(
        path=workspace.blobs.path(sha256), reading=reading_of(done.measurement), info=done.measurement.data.clip
    )


def heads_of(
    workspace: Workspace, set_id: str, film: covered.Film, *, tell: covered.Tell, stop: threading.Event | None
) -> Heads:
    """Find the heads in a set's clip, or read what was found before; raises as `covered.heads_of`."""
    return covered.heads_of(film, output_folder(workspace.review(set_id)) / HEADS, tell=tell, stop=stop)


def closed(case: Case) -> bool:
    """Tell whether the lifter is covered where everybody may look: by his wish, or for want of his word."""
    return case.cover_lifter or "face" not in case.uses
